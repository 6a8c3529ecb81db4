"""The operating characteristics as tables: over all, by group, design and noise; calibration."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from challenge.practice.operating import NUMBERS, Estimate, Operating, operating
from challenge.practice.truth import Calls
from challenge.terms import GROUPS_AND_CONTROL

_TERMINAL: Final = 80
_THIRDS: Final = ("steadiest third", "middle third", "most restless third")


@dataclass(frozen=True, kw_only=True, slots=True)
class Trust:
    """How far suggestions can be trusted, over all and by what may matter.

    Attributes
    ----------
    everything
        All calls together.
    parts
        What they are divided by -> part -> its characteristics. Designs are there only when there
        are several; noise is the spread from day to day that the diaries themselves show, in
        thirds of the clients.
    not_analysed
        Client-groups of the truth without a result.
    """

    everything: Operating
    parts: Mapping[str, Mapping[str, Operating]]
    not_analysed: int = 0


def trust_in(calls: Calls) -> Trust:
    """Work out the operating characteristics of calls on invented clients."""
    present = set(calls.group.tolist())
    parts: dict[str, dict[str, Operating]] = {
        "group": {
            str(group): operating(calls.of_group(group))
            for group in GROUPS_AND_CONTROL
            if group in present
        }
    }
    designs = sorted(set(calls.design.tolist()))
    if len(designs) > 1:
        parts["design"] = {name: operating(calls.where(calls.design == name)) for name in designs}
    noise = _by_noise(calls)
    if noise:
        parts["day-to-day spread"] = noise
    return Trust(everything=operating(calls), parts=parts, not_analysed=calls.not_analysed)


def _by_noise(calls: Calls) -> dict[str, Operating]:
    known = calls.where(~np.isnan(calls.spread))
    clients, first = np.unique(known.client, return_index=True)
    if len(clients) < len(_THIRDS):
        return {}
    edges = np.quantile(known.spread[first], [1 / 3, 2 / 3])
    third = np.searchsorted(edges, known.spread)
    return {
        name: operating(known.where(third == place))
        for place, name in enumerate(_THIRDS)
        if (third == place).any()
    }


def as_json(trust: Trust) -> dict[str, Any]:
    """Return everything as plain values."""
    return {
        "not_analysed": trust.not_analysed,
        "all": trust.everything.row(),
        "by": {
            what: {name: part.row() for name, part in parts.items()}
            for what, parts in trust.parts.items()
        },
        "calibration": [
            {
                "n": point.n,
                "stated": point.stated,
                "happened": point.happened,
                "low": point.low,
                "high": point.high,
            }
            for point in trust.everything.calibration.bins
        ],
    }


def tables(trust: Trust) -> list[tuple[list[str], list[list[str]]]]:
    """Return a head and rows of text for every division, the first with all calls beside it."""
    found: list[tuple[list[str], list[list[str]]]] = []
    for what, parts in trust.parts.items():
        columns = dict(parts) if found else {"all": trust.everything, **parts}
        rows = [
            [number.replace("_", " "), *(cell(getattr(part, number)) for part in columns.values())]
            for number in NUMBERS
        ]
        rows.append(["client-groups", *(str(part.n_groups) for part in columns.values())])
        found.append(([f"by {what}", *columns], rows))
    return found


def as_lines(trust: Trust) -> list[str]:
    """Return the tables for a terminal; errors are Monte-Carlo standard errors."""
    lines = [
        "Suggestions against the truth",
        "(value ± Monte-Carlo standard error; the groups of a client count as one)",
    ]
    for head, rows in tables(trust):
        for block in _blocks(head, rows):
            lines += ["", *block]
    lines += ["", "Calibration: when the most probable step is given a probability of about ..."]
    lines += [
        f"  {point.stated:.2f} it is right in {point.happened:.2f} "
        f"(95 % interval {point.low:.2f} to {point.high:.2f}; {point.n} calls)"
        for point in trust.everything.calibration.bins
    ]
    if trust.not_analysed:
        lines.append(f"{trust.not_analysed} client-groups of the truth file have no result.")
    return lines


def _blocks(head: list[str], rows: list[list[str]]) -> Iterator[list[str]]:
    """Give a table in as many pieces below each other as a terminal needs; none is cut."""
    first = max(len(row[0]) for row in (head, *rows))
    width = max(14, *(len(name) + 2 for name in head[1:]))
    most = max(1, (_TERMINAL - first) // width)
    for start in range(1, len(head), most):
        yield [
            f"{name:<{first}}" + "".join(f"{c:>{width}}" for c in cells[start - 1 :][:most])
            for name, *cells in (head, *rows)
        ]


def cell(estimate: Estimate) -> str:
    """Return value and error as a table shows them."""
    if estimate.value is None:
        return "-"
    if estimate.error is None:
        return f"{estimate.value:.3f}"
    return f"{estimate.value:.3f} ±{estimate.error:.3f}"
