"""The diary as tables of typed cells, in the forms that clients keep: wide, long, foods."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

from .truth import EATEN, SCORED, SYMPTOMS, Eaten, Moment, Scored, Setting

Cell = str | float | Moment | None
Table = list[list[Cell]]


def wide(setting: Setting, rows: tuple[Scored, ...] = SCORED) -> Table:
    """One row per time, one column per symptom."""
    names = setting.names
    header: list[Cell] = [names["time"], *(names[s] for s in SYMPTOMS), names["note"]]
    return [header, *([t, *values, _note(setting, note)] for t, values, note in rows)]


def long(setting: Setting, rows: tuple[Scored, ...] = SCORED) -> Table:
    """One row per score."""
    names = setting.names
    table: Table = [[names["time"], names["symptom"], names["score"], names["note"]]]
    for t, values, note in rows:
        first = True
        for symptom, value in zip(SYMPTOMS, values, strict=True):
            if value is not None:
                table.append([t, names[symptom], value, _note(setting, note) if first else ""])
                first = False
    return table


def foods(setting: Setting, rows: tuple[Eaten, ...] = EATEN) -> Table:
    """One row per food eaten."""
    names = setting.names
    columns = ("time", "food", "portion_g", "fodmap_group", "fodmap_g", "note")
    table: Table = [[names[column] for column in columns]]
    for t, food, grams, group, carbohydrate, note in rows:
        name = setting.groups.get(group, "")
        table.append([t, setting.foods[food], grams, name, carbohydrate, _note(setting, note)])
    return table


def _note(setting: Setting, number: int | None) -> str:
    return "" if number is None else setting.notes[number]


def apart(
    table: Table, setting: Setting, day: Callable[[Moment], Cell], clock: Callable[[Moment], Cell]
) -> Table:
    """The same with date and time of day in columns of their own."""
    head = [setting.names["date"], setting.names["clock"], *table[0][1:]]
    return [
        head,
        *([day(r[0]), clock(r[0]), *r[1:]] for r in table[1:] if isinstance(r[0], Moment)),
    ]


def text(
    table: Table,
    setting: Setting,
    *,
    separator: str | None = None,
    end: str = "\r\n",
    stamp: Callable[[Moment], str] | None = None,
    quote_all: bool = False,
) -> str:
    """A table as delimited text, written as a spreadsheet with these settings shows it."""
    out = io.StringIO(newline="")
    writer = csv.writer(
        out,
        delimiter=separator or setting.separator,
        lineterminator=end,
        quoting=csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL,
    )
    for row in table:
        writer.writerow([_shown(cell, setting, stamp or setting.stamp) for cell in row])
    return out.getvalue()


def _shown(cell: Cell, setting: Setting, stamp: Callable[[Moment], str]) -> str:
    if isinstance(cell, Moment):
        return stamp(cell)
    if isinstance(cell, (int, float)):
        return setting.number(cell)
    return cell or ""
