"""What is written down of one day already: what is missing, what can be corrected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from challenge.diary.day import PARTS_OF_DAY, Part, diary_day, part_of_day
from challenge.logbook.entries import food_words, scores_words
from challenge.terms import STOOL_FORM

Row = tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One thing that was written down: its kind, its time, its rows, and the words for it."""

    kind: str
    time: dt.datetime
    rows: tuple[Row, ...]
    words: str

    @property
    def listed(self) -> str:
        """Time and words."""
        return f"{self.time:%H:%M} {self.words}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Written:
    """One day's foods, ratings and stools, by time.

    Attributes
    ----------
    lines
        What was written down.
    taken
        Times with symptom, or with food, at which there is an entry.
    last_entered
        Latest time of writing; None where none is on record.
    """

    lines: tuple[Line, ...] = ()
    taken: frozenset[tuple[dt.datetime, str]] = field(default_factory=frozenset)
    last_entered: dt.datetime | None = None

    @property
    def ratings(self) -> tuple[Line, ...]:
        """The ratings."""
        return tuple(line for line in self.lines if line.kind == "rating")

    def missing_parts(self) -> tuple[Part, ...]:
        """Return the parts of the day without a rating."""
        done = {part_of_day(line.time) for line in self.ratings}
        return tuple(part for part in PARTS_OF_DAY if part not in done)


def written_on(
    foods: Iterable[Row], symptoms: Iterable[Row], date: dt.date, order: Sequence[str] = ()
) -> Written:
    """Return what rows of a diary hold of one day.

    Parameters
    ----------
    foods, symptoms
        Entries in the contract's form and columns.
    date
        The day; what was written before four in the morning belongs to the day before.
    order
        Symptoms in the order in which they are to be said.
    """
    lines: list[Line] = []
    ratings: dict[dt.datetime, list[Row]] = {}
    taken: set[tuple[dt.datetime, str]] = set()
    entered: list[str] = []
    for row in symptoms:
        time = dt.datetime.fromisoformat(row[0])
        if diary_day(time) != date:
            continue
        taken.add((time, row[1]))
        entered.append(row[4])
        if row[1] == STOOL_FORM:
            lines.append(Line(kind="stool", time=time, rows=(row,), words=f"stool, type {row[2]}"))
        else:
            ratings.setdefault(time, []).append(row)
    place = {symptom: i for i, symptom in enumerate(order)}
    for time, given in ratings.items():
        given.sort(key=lambda row: place.get(row[1], len(place)))
        words = scores_words({row[1]: row[2] for row in given})
        lines.append(Line(kind="rating", time=time, rows=tuple(given), words=words))
    for food in foods:
        time = dt.datetime.fromisoformat(food[0])
        if diary_day(time) == date:
            taken.add((time, food[1]))
            entered.append(food[6])
            words = food_words({"food": food[1], "portion_g": food[2]})
            lines.append(Line(kind="food", time=time, rows=(food,), words=words))
    stamps = [dt.datetime.fromisoformat(text) for text in entered if text]
    return Written(
        lines=tuple(sorted(lines, key=lambda line: (line.time, line.kind, line.words))),
        taken=frozenset(taken),
        last_entered=max(stamps, default=None),
    )


def missing_words(written: Written, wanted: int, date: dt.date) -> str:
    """Say how many ratings a day has and wants."""
    done = len(written.ratings)
    text = f"Ratings on {date:%A}: {done} of {wanted}."
    missing = written.missing_parts()
    if done < wanted and missing and wanted >= len(PARTS_OF_DAY):
        text += f" Not yet: {', '.join(missing)}."
    return text
