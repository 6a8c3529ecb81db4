"""Invented clients as ordinary client folders, and the truth apart from them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.files.folder import SETTINGS
from challenge.files.writing import write_diary, write_plan

if TYPE_CHECKING:
    from challenge.simulation.clients import SimulatedClient

TRUTH_FILE = "truth.csv"


def write_client(directory: Path, client: SimulatedClient, margin: float) -> Path:
    """Write one invented client's folder below a directory and return it."""
    folder = directory / client.code
    write_plan(folder, client.plan)
    write_diary(folder, client.diary)
    settings = (
        "# invented by `challenge simulate`; nobody real\n"
        f'client = "{client.code}"\n\n[analysis]\nmargin = {margin}\n'
    )
    (folder / SETTINGS).write_text(settings, encoding="utf-8")
    return folder


def write_truth(path: Path, rows: Iterable[Mapping[str, object]]) -> None:
    """Write the truth of all clients: step tolerated and rises per client and group."""
    rows = list(rows)
    columns = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([_plain(row.get(name)) for name in columns] for row in rows)


def _number(value: float) -> str:
    if value != value:
        return ""
    return f"{value:.10g}"


def _plain(value: object) -> object:
    if value is None:
        return ""
    return _number(value) if isinstance(value, float) else value
