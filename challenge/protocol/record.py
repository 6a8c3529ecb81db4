"""The diary as the protocol needs it: scores by day and part of the day, doses, words, events."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import isnan
from statistics import fmean
from typing import TYPE_CHECKING, Any, Final

from challenge.diary.day import diary_day, part_of_day
from challenge.diary.notes import parts_of
from challenge.diary.sachets import find_sachet
from challenge.terms import STOOL_FORM

if TYPE_CHECKING:
    import pandas as pd

    from challenge.diary.model import Diary

Scores = Mapping[str, Mapping[str, float]]
"""Symptom -> part of the day -> mean score [points]."""


@dataclass(frozen=True, kw_only=True)
class Words:
    """Something the client wrote in words: on which day, what, and in which file."""

    date: dt.date
    text: str
    file: str


@dataclass(frozen=True, kw_only=True)
class Event:
    """A disturbance: first and last day, what, and the note beside it."""

    start: dt.date
    end: dt.date
    event: str
    note: str


@dataclass(frozen=True, kw_only=True)
class Record:
    """A client's diary in plain values.

    Attributes
    ----------
    scores
        Day -> symptom -> part of the day -> mean score. A score before 04:00 belongs to the
        evening of the day before.
    eaten
        Day -> group -> grams of that carbohydrate eaten on purpose; of sachets whose content is
        sealed, day -> ``sachet A`` -> how many.
    sachets
        Day -> names of the sachets eaten, sealed or opened since.
    words
        Notes of foods and symptoms, each by itself: what one denies, another may say.
    events
        Rows of ``events.csv``.
    """

    scores: Mapping[dt.date, Scores]
    eaten: Mapping[dt.date, Mapping[str, float]]
    sachets: Mapping[dt.date, frozenset[str]] = field(default_factory=dict)
    words: Sequence[Words] = ()
    events: Sequence[Event] = ()

    @property
    def empty(self) -> bool:
        """Nothing was written yet."""
        return not (self.scores or self.eaten or self.words or self.events)

    def before(self, date: dt.date) -> Record:
        """Return what was written of the days before one."""
        return Record(
            scores={day: scores for day, scores in self.scores.items() if day < date},
            eaten={day: eaten for day, eaten in self.eaten.items() if day < date},
            sachets={day: names for day, names in self.sachets.items() if day < date},
            words=[words for words in self.words if words.date < date],
            events=[event for event in self.events if event.start < date],
        )

    def day_mean(self, date: dt.date, symptom: str) -> float | None:
        """Return the mean of a symptom over the parts of a day [points], None without a score."""
        given = self.scores.get(date, {}).get(symptom)
        return fmean(given.values()) if given else None


EMPTY: Final = Record(scores={}, eaten={})


def record_of(diary: Diary) -> Record:
    """Return a diary in plain values."""
    words: list[Words] = []
    scores = _scores(diary, words)
    eaten = _eaten(diary, words)
    rows = _rows(diary.events, "start", "end", "event", "note")
    events = [
        Event(start=start.date(), end=end.date(), event=event, note=note)
        for start, end, event, note in rows
    ]
    return Record(
        scores=scores,
        eaten=eaten,
        sachets=_sachets(diary),
        words=tuple(words),
        events=tuple(events),
    )


def _scores(diary: Diary, words: list[Words]) -> dict[dt.date, Scores]:
    cells: dict[dt.date, dict[str, dict[str, list[float]]]] = defaultdict(
        lambda: defaultdict(lambda: defaultdict(list))
    )
    for time, symptom, score, note in _rows(diary.symptoms, "time", "symptom", "score", "note"):
        date, part = diary_day(time), part_of_day(time)
        words += (Words(date=date, text=one, file="symptoms.csv") for one in parts_of(note))
        if symptom != STOOL_FORM and not isnan(score):
            cells[date][symptom][part].append(score)
    return {
        date: {
            symptom: {part: fmean(values) for part, values in parts.items()}
            for symptom, parts in symptoms.items()
        }
        for date, symptoms in cells.items()
    }


def _eaten(diary: Diary, words: list[Words]) -> dict[dt.date, dict[str, float]]:
    eaten: dict[dt.date, dict[str, float]] = {}
    rows = _rows(diary.foods, "time", "food", "fodmap_group", "fodmap_g", "note")
    for time, food, group, grams, note in rows:
        date = time.date()
        words += (Words(date=date, text=one, file="foods.csv") for one in parts_of(note))
        if group and not isnan(grams):
            day = eaten.setdefault(date, {})
            day[group] = day.get(group, 0.0) + grams
        elif not group and (sachet := find_sachet(food)) is not None:
            day = eaten.setdefault(date, {})
            day[sachet.period] = day.get(sachet.period, 0.0) + 1.0
    return eaten


def _sachets(diary: Diary) -> dict[dt.date, frozenset[str]]:
    names = {food: find_sachet(food) for food in diary.foods["food"].unique().tolist()}
    if not any(names.values()):
        return {}
    eaten: dict[dt.date, frozenset[str]] = {}
    for time, food in _rows(diary.foods, "time", "food"):
        sachet = names[food]
        if sachet is not None:
            eaten[time.date()] = eaten.get(time.date(), frozenset()) | {sachet.name}
    return eaten


def _rows(table: pd.DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Rows as plain Python values: far quicker than iterating over the table."""
    return zip(*(_plain(table[column]) for column in columns), strict=True)


def _plain(column: pd.Series[Any]) -> list[Any]:
    if column.dtype.kind == "M":
        # reckoning with the times of the standard library takes a tenth of pandas' own
        plain: list[Any] = column.to_numpy().astype("datetime64[us]").tolist()
        return plain
    return column.tolist()
