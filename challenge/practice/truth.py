"""The truth about invented clients, read back and laid beside what was suggested."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from challenge.errors import ChallengeError
from challenge.practice.records import Record

Key = tuple[str, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """The truth of one client and group: step tolerated, and rise of each step [points]."""

    step: int
    rises: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Calls:
    """What was suggested beside what is true: one element per client and group.

    Attributes
    ----------
    client
        Number of the client, to tell which groups belong together.
    group
        Name of the group.
    truth
        Step truly tolerated.
    suggested
        Step suggested; -1 for unclear.
    probability
        Rows of the probability of each step from 0; NaN beyond the steps of that group.
    rise, low, high
        Rows of the estimated rise per step from 1 with its interval; NaN where there is none.
    true_rise
        Rows of the true rise.
    top
        Number of steps of each challenge.
    design
        Cycles, and whether there was a control.
    spread
        Spread of that client's diary from day to day [points]; NaN where it is not known.
    not_analysed
        How many client-groups of the truth have no result.
    """

    client: NDArray[np.int64]
    group: NDArray[np.str_]
    truth: NDArray[np.int64]
    suggested: NDArray[np.int64]
    probability: NDArray[np.float64]
    rise: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    true_rise: NDArray[np.float64]
    top: NDArray[np.int64]
    design: NDArray[np.str_]
    spread: NDArray[np.float64]
    not_analysed: int = 0

    def __len__(self) -> int:
        return len(self.truth)

    def of_group(self, group: str) -> Calls:
        """Return the calls of one group alone."""
        return self.where(self.group == group)

    def where(self, chosen: NDArray[np.bool_]) -> Calls:
        """Return a part of the calls."""
        return Calls(
            client=self.client[chosen],
            group=self.group[chosen],
            truth=self.truth[chosen],
            suggested=self.suggested[chosen],
            probability=self.probability[chosen],
            rise=self.rise[chosen],
            low=self.low[chosen],
            high=self.high[chosen],
            true_rise=self.true_rise[chosen],
            top=self.top[chosen],
            design=self.design[chosen],
            spread=self.spread[chosen],
        )


def read_truth(path: Path) -> dict[Key, Told]:
    """Read ``truth.csv``.

    Raises
    ------
    ChallengeError
        If the file cannot be read or lacks a column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            columns = reader.fieldnames or []
            missing = {"client", "fodmap_group", "tolerated_step"} - set(columns)
            if missing:
                raise ChallengeError(
                    f"{path} has no column {', '.join(sorted(missing))}; `challenge simulate` "
                    "writes such a file."
                )
            rises = [name for name in columns if name.startswith("rise_")]
            return {(row["client"], row["fodmap_group"]): _told(row, rises) for row in reader}
    except (OSError, UnicodeDecodeError) as error:
        raise ChallengeError(f"{path} cannot be read as a truth file.") from error
    except ValueError as error:
        raise ChallengeError(f"{path}: a step or rise is no number ({error}).") from error


def _told(row: Mapping[str, str | None], rises: Sequence[str]) -> Told:
    return Told(
        step=int(row["tolerated_step"] or ""),
        rises=tuple(float(row[name] or "") for name in rises if row[name]),
    )


def truth_of(rows: Iterable[Mapping[str, object]]) -> dict[Key, Told]:
    """Return the truth from the rows of clients simulated in memory."""
    return {
        (str(row["client"]), str(row["fodmap_group"])): Told(
            step=int(str(row["tolerated_step"])),
            rises=tuple(float(str(v)) for k, v in row.items() if k.startswith("rise_")),
        )
        for row in rows
    }


def lay_beside(records: Iterable[Record], truth: Mapping[Key, Told]) -> Calls:
    """Match audit records with the truth.

    Raises
    ------
    ChallengeError
        If no client and group of the records is in the truth.
    """
    names: list[str] = []
    designs: list[str] = []
    spreads: list[float] = []
    clients: list[int] = []
    numbers: dict[str, int] = {}
    single: list[tuple[int, int]] = []
    chances: list[Sequence[float]] = []
    rises: list[tuple[list[float], list[float], list[float], Sequence[float]]] = []
    for record in records:
        design, spread = design_of(record), _float(record.get("day_spread"))
        for group in record["groups"]:
            told = truth.get((record["client"], group["fodmap_group"]))
            if told is None:
                continue
            clients.append(numbers.setdefault(record["client"], len(numbers)))
            names.append(group["fodmap_group"])
            designs.append(design)
            spreads.append(spread)
            step = group["suggested_step"]
            single.append((told.step, -1 if step is None else step))
            chances.append(group["probability"])
            columns = [
                [_float(entry[name]) for entry in group["steps"]]
                for name in ("rise", "low", "high")
            ]
            rises.append((columns[0], columns[1], columns[2], told.rises))
    if not names:
        raise ChallengeError(
            "No client of the audit is in the truth file; do they belong together?"
        )
    pairs = np.array(single, dtype=np.int64)
    return Calls(
        client=np.array(clients, dtype=np.int64),
        group=np.array(names),
        truth=pairs[:, 0],
        suggested=pairs[:, 1],
        probability=_block(chances),
        rise=_block([entry[0] for entry in rises]),
        low=_block([entry[1] for entry in rises]),
        high=_block([entry[2] for entry in rises]),
        true_rise=_block([entry[3] for entry in rises]),
        top=np.array([len(entry[0]) for entry in rises], dtype=np.int64),
        design=np.array(designs),
        spread=np.array(spreads),
        not_analysed=len(truth) - len(names),
    )


def design_of(record: Record) -> str:
    """Return the design of a client's plan in words: cycles, and the control if there is one."""
    cycles = record.get("cycles") or 1
    control = any(group.get("control") for group in record["groups"])
    return f"{cycles} cycle{'' if cycles == 1 else 's'}{', control' if control else ''}"


def _float(value: float | None) -> float:
    return float("nan") if value is None else float(value)


def _block(rows: Sequence[Sequence[float]]) -> NDArray[np.float64]:
    width = max(len(row) for row in rows)
    block = np.full((len(rows), width), np.nan)
    for place, row in enumerate(rows):
        block[place, : len(row)] = row
    return block
