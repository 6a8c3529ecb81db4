"""Invented clients as ordinary client folders, and the truth apart from them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.protocol.plan import PLAN_COLUMNS

if TYPE_CHECKING:
    import pandas as pd

    from challenge.simulation.clients import SimulatedClient

TRUTH_FILE = "truth.csv"


def write_client(directory: Path, client: SimulatedClient, margin: float) -> Path:
    """Write one invented client's folder below a directory and return it."""
    folder = directory / client.code
    folder.mkdir(parents=True)
    diary = client.diary
    write_table(folder / "foods.csv", FOOD_COLUMNS, _rows(diary.foods, FOOD_COLUMNS))
    write_table(folder / "symptoms.csv", SYMPTOM_COLUMNS, _rows(diary.symptoms, SYMPTOM_COLUMNS))
    write_table(folder / "events.csv", EVENT_COLUMNS, _rows(diary.events, EVENT_COLUMNS, unit="D"))
    days = ([_plain(getattr(day, name)) for name in PLAN_COLUMNS] for day in client.plan)
    write_table(folder / "plan.csv", PLAN_COLUMNS, days)
    settings = (
        "# invented by `challenge simulate`; nobody real\n"
        f'client = "{client.code}"\n\n[analysis]\nmargin = {margin}\n'
    )
    (folder / "client.toml").write_text(settings, encoding="utf-8")
    return folder


def write_table(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a CSV file as the contract has it: UTF-8, header, plain line ends."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def write_truth(path: Path, rows: Iterable[Mapping[str, object]]) -> None:
    """Write the truth of all clients: step tolerated and rises per client and group."""
    rows = list(rows)
    columns = list(dict.fromkeys(name for row in rows for name in row))
    write_table(path, columns, ([_plain(row.get(name)) for name in columns] for row in rows))


def _rows(
    table: pd.DataFrame, columns: Sequence[str], unit: Literal["m", "D"] = "m"
) -> Iterable[list[Any]]:
    texts = []
    for name in columns:
        values = table[name].to_numpy()
        if values.dtype.kind == "M":
            texts.append(np.datetime_as_string(values, unit=unit).tolist())
        elif values.dtype.kind == "f":
            texts.append([_number(value) for value in values.tolist()])
        else:
            texts.append(values.tolist())
    return (list(row) for row in zip(*texts, strict=True))


def _number(value: float) -> str:
    if value != value:
        return ""
    return f"{value:.10g}"


def _plain(value: object) -> object:
    if value is None:
        return ""
    return _number(value) if isinstance(value, float) else value
