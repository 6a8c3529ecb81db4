"""Rows in the contract's form to the three tables of a diary, sorted; and back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from challenge.diary.guard import guard
from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.diary.numbers import number_text
from challenge.diary.rows import EventRow, FoodRow, SymptomRow

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from challenge.diary.scores import Scores


def foods_table(rows: Sequence[FoodRow]) -> pd.DataFrame:
    """Return the table of foods, by time; ``filled_in`` False throughout."""
    time, food, portion, group, grams, note, entered = _columns(sorted(rows), 7)
    return pd.DataFrame(
        {
            "time": _times(time),
            "food": _texts(food),
            "portion_g": _numbers(portion),
            "fodmap_group": _texts(group),
            "fodmap_g": _numbers(grams),
            "note": _texts(note),
            "entered_at": _times(entered),
            "filled_in": np.zeros(len(time), dtype=bool),
        }
    )


def symptoms_table(rows: Sequence[SymptomRow], plain: Scores | None = None) -> pd.DataFrame:
    """Return the table of scores, by time and symptom.

    Parameters
    ----------
    rows
        Scores as texts.
    plain
        Further scores, none of which is of the same time and symptom as a row.
    """
    others = sorted(rows)
    table = _scores_table(*_columns(others, 5))
    if not plain:
        return table
    from challenge.diary.scores import order_with

    both = pd.concat([_plain_table(plain), table] if others else [_plain_table(plain)])
    return both.iloc[order_with(plain, others)].reset_index(drop=True)


def _plain_table(plain: Scores) -> pd.DataFrame:
    # commas stand between cells only; one long list is quicker than a million short ones
    cells = b",".join(plain.lines).split(b",")
    score, note, entered = cells[2::5], cells[3::5], cells[4::5]
    stamps = np.array(entered, dtype=bytes).astype(str).astype("datetime64[s]")
    return pd.DataFrame(
        {
            "time": plain.seconds.astype("datetime64[s]").astype("datetime64[ns]"),
            "symptom": _texts(np.array(plain.names, dtype=object)[plain.codes]),
            "score": np.array(list(map(int, score)), dtype=np.float64),
            "note": _texts(list(map(bytes.decode, note))),
            "entered_at": stamps.astype("datetime64[ns]"),
        }
    )


def _scores_table(
    time: Sequence[str],
    symptom: Sequence[str],
    score: Sequence[str],
    note: Sequence[str],
    entered: Sequence[str],
) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "time": _times(time),
            "symptom": _texts(symptom),
            "score": _numbers(score),
            "note": _texts(note),
            "entered_at": _times(entered),
        }
    )


def events_table(rows: Sequence[EventRow]) -> pd.DataFrame:
    """Return the table of disturbances, by first day."""
    start, end, event, note = _columns(sorted(rows), 4)
    return pd.DataFrame(
        {"start": _times(start), "end": _times(end), "event": _texts(event), "note": _texts(note)}
    )


def _columns(rows: Sequence[tuple[str, ...]], width: int) -> list[Sequence[str]]:
    return list(zip(*rows, strict=True)) if rows else [()] * width


def _times(texts: Sequence[str]) -> NDArray[Any]:
    # an empty text reads as "not a time"
    return np.array(texts, dtype="datetime64[s]").astype("datetime64[ns]")


def _texts(texts: Any) -> Any:
    return pd.Series(texts, dtype="str")


def _numbers(texts: Sequence[str]) -> NDArray[np.float64]:
    return np.array([float(text) if text else np.nan for text in texts], dtype=np.float64)


def food_rows(table: pd.DataFrame) -> list[tuple[str, ...]]:
    """Return the rows of a table of foods as texts; what the food table filled in stays empty."""
    written = table
    if "filled_in" in table and bool(table["filled_in"].any()):
        written = table.copy()
        written.loc[table["filled_in"], "fodmap_group"] = ""
        written.loc[table["filled_in"], "fodmap_g"] = np.nan
    return _rows(written, FOOD_COLUMNS)


def symptom_rows(table: pd.DataFrame) -> list[tuple[str, ...]]:
    """Return the rows of a table of scores as texts."""
    return _rows(table, SYMPTOM_COLUMNS)


def event_rows(table: pd.DataFrame) -> list[tuple[str, ...]]:
    """Return the rows of a table of disturbances as texts."""
    return _rows(table, EVENT_COLUMNS)


def _rows(table: pd.DataFrame, names: Sequence[str]) -> list[tuple[str, ...]]:
    columns = [
        _written(table[name], name) if name in table else [""] * len(table) for name in names
    ]
    return list(zip(*columns, strict=True))


def _written(column: pd.Series, name: str) -> list[str]:
    if column.dtype.kind == "M":
        days = name in ("start", "end")
        stamps = np.datetime_as_string(column.to_numpy().astype("datetime64[s]"))
        return ["" if t == "NaT" else _short(t, days) for t in stamps.tolist()]
    if column.dtype.kind in "fiu":
        return ["" if value != value else number_text(value) for value in column.tolist()]
    return [guard(value) if isinstance(value, str) else "" for value in column.tolist()]


def _short(stamp: str, day: bool) -> str:
    if day:
        return stamp[:10]
    return stamp[:16] if stamp.endswith(":00") else stamp
