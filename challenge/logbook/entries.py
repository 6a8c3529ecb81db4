"""Entries that a client types, in the columns of the diary's files, and what to say of them."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from challenge.diary.day import diary_day
from challenge.terms import STOOL_FORM

if TYPE_CHECKING:
    from challenge.protocol.plan import PlanDay

Entry = dict[str, Any]


@dataclass(frozen=True, kw_only=True, slots=True)
class Dose:
    """The challenge food of a day.

    Attributes
    ----------
    food, portion_g, unit
        What and how much [g or mL]; None where it is eaten whole, like a sachet.
    fodmap_group, fodmap_g
        What is in the whole portion; None while that is sealed.
    words
        The portion as the client knows it.
    """

    food: str
    portion_g: float | None
    unit: str
    fodmap_group: str | None
    fodmap_g: float | None
    words: str


@dataclass(kw_only=True, slots=True)
class Entries:
    """What is to be stored together.

    Attributes
    ----------
    foods, symptoms, events
        Entries by column name.
    changed
        What is on record and is to be taken out (time None) or moved: kind of table, row, time.
    correct
        Some of them replace what is on record.
    """

    foods: list[Entry] = field(default_factory=list)
    symptoms: list[Entry] = field(default_factory=list)
    events: list[Entry] = field(default_factory=list)
    changed: list[tuple[str, tuple[str, ...], dt.datetime | None]] = field(default_factory=list)
    correct: bool = False

    def __bool__(self) -> bool:
        return bool(self.new or self.changed)

    @property
    def new(self) -> bool:
        """There is something to be added, or to replace what is on record."""
        return bool(self.foods or self.symptoms or self.events)

    def add_note(self, text: str, date: dt.date) -> None:
        """Put a note beside the first entry; with none, it stands by itself as an event."""
        for entries in (self.symptoms, self.foods, self.events):
            if entries:
                before = entries[0].get("note") or ""
                entries[0]["note"] = f"{before} {text}".strip()
                return
        self.events.append(event_entry("other", date, note=text))

    def written_at(self, now: dt.datetime) -> None:
        """Say of every entry when it was written down."""
        for entry in (*self.foods, *self.symptoms):
            entry["entered_at"] = now

    def notes(self) -> list[str]:
        """Return every text in the client's own words."""
        texts = [str(entry.get("note") or "") for entry in (*self.foods, *self.symptoms)]
        texts += [f"{e['event']}: {e.get('note') or ''}".rstrip(": ") for e in self.events]
        return [text for text in texts if text]

    def changes(self) -> list[str]:
        """Return what is taken out or moved, one line for each entry."""
        told = []
        for kind, row, time in self.changed:
            what = row[1] if kind == "foods" else f"{row[1].replace('_', ' ')} {row[2]}"
            where = "taken out" if time is None else f"moved to {time:%H:%M}"
            told.append(f"{row[0][11:16]} {what}: {where}")
        return told

    def sentences(self) -> list[str]:
        """Return what they say, one line for each food, rating, stool and event, by time."""
        lines: list[tuple[dt.datetime, str]] = []
        ratings: dict[dt.datetime, list[Entry]] = {}
        for entry in self.symptoms:
            if entry["symptom"] == STOOL_FORM:
                lines.append((entry["time"], f"stool, type {entry['score']}{_note(entry)}"))
            else:
                ratings.setdefault(entry["time"], []).append(entry)
        for time, given in ratings.items():
            scores = scores_words({e["symptom"]: e["score"] for e in given})
            lines.append((time, scores + "".join(map(_note, given))))
        lines += [(entry["time"], food_words(entry) + _note(entry)) for entry in self.foods]
        told = [f"{time:%H:%M} {words}" for time, words in sorted(lines)]
        return told + [f"{_days(entry)} {entry['event']}{_note(entry)}" for entry in self.events]


def score_entries(time: dt.datetime, scores: Mapping[str, int | None]) -> list[Entry]:
    """Return a rating, without the symptoms of which nothing was said."""
    return [
        {"time": time, "symptom": symptom, "score": score, "note": ""}
        for symptom, score in scores.items()
        if score is not None
    ]


def stool_entry(time: dt.datetime, form: int) -> Entry:
    """Return one stool."""
    return {"time": time, "symptom": STOOL_FORM, "score": form, "note": ""}


def food_entry(time: dt.datetime, food: str, portion_g: float | None) -> Entry:
    """Return a food that is not the challenge food of the day."""
    return {
        "time": time, "food": food, "portion_g": portion_g,
        "fodmap_group": None, "fodmap_g": None, "note": "",
    }  # fmt: skip


def eaten_entry(
    time: dt.datetime, food: str, portion_g: float | None, days: Iterable[PlanDay]
) -> Entry:
    """Return a food, with its group and grams if it is one of the plan's challenge foods.

    What was eaten counts, whether it was due or not. Portions are rounded step by step, so the
    step of the day itself tells the grams better than another.

    Parameters
    ----------
    time, food, portion_g
        When, what, how much [g or mL].
    days
        The plan.
    """
    date, name = diary_day(time), food.casefold()
    planned = [d for d in days if d.phase == "challenge" and d.food.casefold() == name]
    planned.sort(key=lambda day: day.date != date)
    for day in planned:
        if day.fodmap_group and day.fodmap_g and day.portion_g and portion_g:
            entry = food_entry(time, day.food, portion_g)
            entry["fodmap_group"] = day.fodmap_group
            entry["fodmap_g"] = rounded_grams(day.fodmap_g / day.portion_g * portion_g)
            return entry
    return food_entry(time, food, portion_g)


def dose_entry(time: dt.datetime, dose: Dose, portion_g: float | None) -> Entry:
    """Return the challenge food of the day, with the grams of what was really eaten."""
    entry = food_entry(time, dose.food, portion_g)
    entry["fodmap_group"] = dose.fodmap_group
    if dose.fodmap_g is not None and dose.portion_g and portion_g is not None:
        entry["fodmap_g"] = rounded_grams(dose.fodmap_g / dose.portion_g * portion_g)
    return entry


def rounded_grams(grams: float) -> float:
    """Round to the milligram, halves up, as the page does."""
    return math.floor(grams * 1000 + 0.5) / 1000


def event_entry(event: str, start: dt.date, end: dt.date | None = None, note: str = "") -> Entry:
    """Return something unusual, of one day or more."""
    return {"start": start, "end": end or start, "event": event, "note": note}


def scores_words(scores: Mapping[str, Any]) -> str:
    """Return ``pain 3, bloating 2``."""
    return ", ".join(f"{symptom.replace('_', ' ')} {score}" for symptom, score in scores.items())


def food_words(entry: Mapping[str, Any]) -> str:
    """Return food and amount; the table of foods knows what is measured in millilitres."""
    portion = entry.get("portion_g")
    if portion in (None, ""):
        return str(entry["food"])
    from challenge.foods import find_food

    known = find_food(str(entry["food"]))
    return f"{entry['food']}, {float(str(portion)):g} {known.unit if known else 'g'}"


def _note(entry: Mapping[str, Any]) -> str:
    return f' "{entry["note"]}"' if entry.get("note") else ""


def _days(entry: Mapping[str, Any]) -> str:
    start, end = entry["start"], entry["end"]
    return f"{start:%d %B}" if start == end else f"{start:%d %B} to {end:%d %B}"
