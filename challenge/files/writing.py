"""Write a plan and a diary into a client folder, in the contract's form."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

from challenge.diary.guard import guard
from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.files import folder as names
from challenge.files.atomic import write_atomic

if TYPE_CHECKING:
    from challenge.diary.model import Diary
    from challenge.diary.rows import Rows
    from challenge.protocol.plan import Plan


def write_plan(folder: str | os.PathLike[str], plan: Plan) -> Path:
    """Write ``plan.csv`` into a folder, which is made if need be, and return its path."""
    from challenge.files.plan_file import plan_text

    return write_atomic(names.make_folder(Path(folder)) / names.PLAN, plan_text(plan))


def write_diary(folder: str | os.PathLike[str], diary: Diary) -> tuple[Path, ...]:
    """Write the tables of a diary into a folder and return their paths.

    Grams that the food table filled in are left empty, for reading fills them in again.
    """
    from challenge.diary.tables import event_rows, food_rows, symptom_rows

    target = names.make_folder(Path(folder))
    return (
        write_atomic(target / names.FOODS, table_text(FOOD_COLUMNS, food_rows(diary.foods))),
        write_atomic(
            target / names.SYMPTOMS, table_text(SYMPTOM_COLUMNS, symptom_rows(diary.symptoms))
        ),
        write_atomic(target / names.EVENTS, table_text(EVENT_COLUMNS, event_rows(diary.events))),
    )


def table_text(columns: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
    """Return a table as CSV text; cells are texts that need no further guard."""
    out = io.StringIO(newline="")
    # CRLF, because the csv module then quotes cells that hold a lone CR or LF
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def guarded_text(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return texts as CSV in which no cell runs as a formula."""
    return table_text(list(map(guard, columns)), _guarded(rows))


def rows_bytes(rows: Rows) -> dict[str, bytes]:
    """Return the three tables as `write_diary` writes them, from sorted rows and without pandas.

    A table without rows is empty, without even a header.
    """
    tables: dict[str, tuple[Sequence[str], Sequence[Sequence[str]]]] = {
        "foods": (FOOD_COLUMNS, rows.foods),
        "symptoms": (SYMPTOM_COLUMNS, rows.symptoms),
        "events": (EVENT_COLUMNS, rows.events),
    }
    found = {
        kind: guarded_text(columns, own).encode("utf-8") if own else b""
        for kind, (columns, own) in tables.items()
    }
    if rows.plain:
        from challenge.diary.scores import lines_with

        head = ",".join(SYMPTOM_COLUMNS).encode()
        lines = lines_with(rows.plain, rows.symptoms, _lines(rows.symptoms))
        found["symptoms"] = b"\r\n".join((head, *lines, b""))
    return found


def _guarded(rows: Iterable[Sequence[str]]) -> Iterator[tuple[str, ...]]:
    """Guard every cell; equal texts of a column once, for most cells of a large table repeat."""
    columns = list(zip(*rows, strict=True))
    guarded = ({text: guard(text) for text in set(column)} for column in columns)
    return zip(*(map(g.__getitem__, c) for g, c in zip(guarded, columns, strict=True)), strict=True)


def _lines(rows: Sequence[Sequence[str]]) -> list[bytes]:
    """Return each row as it is written, without line end."""
    written: list[str] = []
    writer = csv.writer(SimpleNamespace(write=written.append), lineterminator="\r\n")
    writer.writerows(_guarded(rows))
    return [line.removesuffix("\r\n").encode("utf-8") for line in written]
