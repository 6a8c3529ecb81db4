"""Write a plan and a diary into a client folder, in the contract's form."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.diary.guard import guard
from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.files import folder as names
from challenge.files.atomic import write_atomic

if TYPE_CHECKING:
    from challenge.diary.model import Diary
    from challenge.diary.parse import Rows
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
    return table_text(list(map(guard, columns)), (map(guard, row) for row in rows))


def rows_texts(rows: Rows) -> dict[str, str]:
    """Return the three tables as `write_diary` writes them, from sorted rows and without pandas."""
    return {
        "foods": guarded_text(FOOD_COLUMNS, rows.foods),
        "symptoms": guarded_text(SYMPTOM_COLUMNS, rows.symptoms),
        "events": guarded_text(EVENT_COLUMNS, rows.events),
    }
