"""Entries that were given as options: everything wrong in them is said at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from challenge.logbook.answers import UnclearError, read_amount, read_score
from challenge.logbook.entries import (
    Entries,
    eaten_entry,
    event_entry,
    score_entries,
    stool_entry,
)

if TYPE_CHECKING:
    from challenge.protocol.plan import PlanDay


@dataclass(frozen=True, kw_only=True, slots=True)
class Options:
    """What was given, as texts where it has to be read.

    Attributes
    ----------
    scores
        Such as ``pain=3``.
    foods
        Such as ``toast=40`` or ``toast``.
    stools
        Bristol types.
    events, until
        What was unusual, and its last day.
    """

    scores: Sequence[str] = ()
    foods: Sequence[str] = ()
    stools: Sequence[int] = ()
    events: Sequence[str] = ()
    until: dt.date | None = None


def entries_from(
    options: Options,
    time: dt.datetime,
    date: dt.date,
    symptoms: Sequence[str],
    plan: Sequence[PlanDay],
) -> tuple[Entries, list[str]]:
    """Return the entries of options, and everything that is wrong with them.

    Parameters
    ----------
    options
        What was given.
    time, date
        When it was, and the diary's day.
    symptoms
        0-10 symptoms scored.
    plan
        All days of the plan.
    """
    entries, wrong = Entries(), []
    scores: dict[str, int | None] = {}
    for text in options.scores:
        try:
            symptom, score = _score(text, symptoms, scores)
            scores[symptom] = score
        except UnclearError as error:
            wrong.append(f"--score {text}: {error}")
    entries.symptoms += score_entries(time, scores)
    for text in options.foods:
        try:
            name, amount = _food(text)
            entries.foods.append(eaten_entry(time, name, amount, plan))
        except UnclearError as error:
            wrong.append(f"--food {text}: {error}")
    for form in options.stools:
        if 1 <= form <= 7:
            entries.symptoms.append(stool_entry(time, form))
        else:
            wrong.append(f"--stool {form}: a type from 1 to 7.")
    if options.until is not None and (options.until < date or not options.events):
        wrong.append(
            f"--until {options.until}: it goes with --event and is not before its first day."
        )
    entries.events += [event_entry(name.strip(), date, options.until) for name in options.events]
    return entries, wrong


def _score(text: str, symptoms: Sequence[str], given: dict[str, int | None]) -> tuple[str, int]:
    name, sign, value = text.partition("=")
    symptom = name.strip().lower().replace(" ", "_")
    score = read_score(value)
    if symptom not in symptoms or not sign or score is None:
        raise UnclearError(f"write it like pain=3; symptoms are {', '.join(symptoms)}.")
    if symptom in given:
        raise UnclearError(f"{symptom} is given twice.")
    return symptom, score


def _food(text: str) -> tuple[str, float | None]:
    name, _, amount = text.partition("=")
    if not name.strip():
        raise UnclearError("the name is missing.")
    return name.strip(), read_amount(amount)
