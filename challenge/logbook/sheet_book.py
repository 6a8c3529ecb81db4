"""The diary as a workbook, before anything is drawn: which sheets, columns and lines.

What the client fills in is read back by `challenge.diary`, so every column is named as that reads
it. Columns and sheets with a name in brackets are for reading only.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from challenge.diary.day import Part
from challenge.diary.headers import understand_header
from challenge.errors import ChallengeError
from challenge.logbook.sheet import Sheet, SheetDay, symptom_in_words
from challenge.terms import STOOL_FORM
from challenge.wording import Words

Holds = Literal[
    "day",
    "date",
    "part",
    "time",
    "rated",
    "score",
    "stool",
    "portion",
    "food",
    "event",
    "note",
    "plan",
]
"""What a column takes: its format, its limits and whether it is locked depend on it. ``rated`` is
the time of a score, which belongs to the day beside it and so is never past midnight."""

FOOD_LINES: Final = 6
STOOL_LINES: Final = 3
SPARE_LINES: Final = 40
"""Lines a day, and lines for any date at the end of a sheet (common practice, no source)."""

_NEED_TIME: Final[Mapping[str, Holds]] = {"foods": "food", "stools": "stool"}

_WINDOWS: Final[Mapping[Part, tuple[int, int, int]]] = {
    "morning": (8 * 60, 7 * 60, 10 * 60 + 30),
    "midday": (13 * 60, 11 * 60 + 30, 16 * 60),
    "evening": (20 * 60, 17 * 60, 22 * 60),
}
"""Suggested minute of the day of a lone rating; first and last of several."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column: its title and what it takes."""

    title: str
    holds: Holds


Shown = dt.date | dt.time | str


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A line to fill in.

    Attributes
    ----------
    shown
        What stands in it already, by what a column takes.
    opens
        It is the first of its day.
    """

    shown: Mapping[Holds, Shown]
    opens: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Page:
    """One sheet to fill in.

    Attributes
    ----------
    name, hint
        Name of the sheet; what stands above its header.
    columns, lines
        What it holds.
    needs_time
        What needs a time beside it; None where every line has one already, or needs none.
    """

    name: str
    hint: str
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    needs_time: Holds | None = None


def build_pages(
    sheet: Sheet, words: Words, mapping: Mapping[str, str], declared: Sequence[str]
) -> tuple[Page, ...]:
    """Return the sheets to fill in: scores, foods, stools, disturbances.

    Parameters
    ----------
    sheet
        What the diary says.
    words
        The language.
    mapping, declared
        Column names and symptoms of the client's own, as the settings hold them: they decide how a
        title is read back.

    Raises
    ------
    ChallengeError
        If the client's own column names give the titles of a sheet another meaning.
    """
    pages = []
    for kind, names in _names(sheet).items():
        for titles in (_titles(sheet, words), {}):
            columns = tuple(
                Column(title=titles.get(name, name), holds=holds) for name, holds in names.items()
            )
            if _read_back(columns, names, mapping, declared):
                break
        else:
            raise ChallengeError(
                f"The sheet of {kind} would not be read back as it is meant: [diary.columns] in "
                "client.toml gives one of its column names another meaning. Take that entry out, "
                "or make the paper pages alone with --format pdf."
            )
        pages.append(
            Page(
                name=words(f"sheet.book.{kind}"),
                hint=words(f"sheet.book.{kind}_hint"),
                columns=columns,
                lines=(*_LINES[kind](sheet, words), *_SPARE),
                needs_time=_NEED_TIME.get(kind),
            )
        )
    return tuple(pages)


def _names(sheet: Sheet) -> dict[str, dict[str, Holds]]:
    """Return each sheet's columns by the names of the reader."""
    scores: dict[str, Holds] = {"date": "day", "(plan)": "plan", "(part)": "part", "clock": "rated"}
    scores |= dict.fromkeys(sheet.symptoms, "score")
    return {
        "scores": {**scores, "note": "note"},
        "foods": {
            "date": "day",
            "(plan)": "plan",
            "clock": "time",
            "food": "food",
            "portion_g": "portion",
            "note": "note",
        },
        "stools": {"date": "day", "clock": "time", STOOL_FORM: "stool", "note": "note"},
        "unusual": {"start": "date", "end": "date", "event": "event", "note": "note"},
    }


def _titles(sheet: Sheet, words: Words) -> dict[str, str]:
    """Return the columns' titles in the language, by the names of the reader."""
    book = {
        "date": "date", "(part)": "part", "clock": "time", "note": "note", "(plan)": "plan",
        "food": "food", "portion_g": "portion", STOOL_FORM: "stool_form", "start": "start",
        "end": "end", "event": "event",
    }  # fmt: skip
    titles = {name: words(f"sheet.book.{key}") for name, key in book.items()}
    return titles | {name: symptom_in_words(name, words) for name in sheet.symptoms}


def _read_back(
    columns: Sequence[Column],
    names: Mapping[str, Holds],
    mapping: Mapping[str, str],
    declared: Sequence[str],
) -> bool:
    """Tell whether the reader takes every column for what it is meant to be."""
    header = understand_header(
        [column.title for column in columns], "", 1, mapping=mapping, declared=declared
    )
    found = {index: name for name, index in {**header.columns, **header.symptoms}.items()}
    meant = {place: name for place, name in enumerate(names) if not name.startswith("(")}
    return found == meant and not header.problems


_SPARE: Final = tuple(Line(shown={}, opens=n == 0) for n in range(SPARE_LINES))

# -- lines ---------------------------------------------------------------------------------------


def _score_lines(sheet: Sheet, words: Words) -> list[Line]:
    return [
        line
        for day in sheet.days
        for line in _day_lines(
            day,
            [
                {"part": words(f"sheet.parts.{part}"), "rated": time}
                for part, time in zip(day.parts, suggested_times(day.parts), strict=True)
            ],
        )
    ]


def _food_lines(sheet: Sheet, words: Words) -> list[Line]:
    return [line for day in sheet.days for line in _day_lines(day, [{}] * FOOD_LINES)]


def _stool_lines(sheet: Sheet, words: Words) -> list[Line]:
    return [line for day in sheet.days for line in _day_lines(day, [{}] * STOOL_LINES)]


def _unusual_lines(sheet: Sheet, words: Words) -> list[Line]:
    return []


_LINES: Final = {
    "scores": _score_lines,
    "foods": _food_lines,
    "stools": _stool_lines,
    "unusual": _unusual_lines,
}


def _day_lines(day: SheetDay, lines: Sequence[Mapping[Holds, Shown]]) -> list[Line]:
    """Put date and plan into a day's lines: the plan's parts one below the other, not merged.

    Merged cells would leave the reader to guess for which lines they hold.
    """
    plan = [text for text in (day.phase, day.eat, day.only) if text]
    if len(lines) < len(plan):
        plan = [". ".join(plan)]
    plan += [""] * (len(lines) - len(plan))
    return [
        Line(shown={"day": day.date, "plan": text, **line}, opens=place == 0)
        for place, (text, line) in enumerate(zip(plan, lines, strict=True))
    ]


def suggested_times(parts: Sequence[Part]) -> tuple[dt.time, ...]:
    """Return a time for each rating of a day: distinct, rising, within its part of the day."""
    times = []
    for place, part in enumerate(parts):
        usual, first, last = _WINDOWS[part]
        count, before = parts.count(part), parts[:place].count(part)
        minute = usual if count == 1 else first + (last - first) * before // (count - 1)
        minute -= minute % 5
        times.append(dt.time(minute // 60, minute % 60))
    return tuple(times)
