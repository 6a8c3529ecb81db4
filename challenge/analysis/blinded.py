"""Blinded challenges: what is compared, fixed before anybody knows the order, then tested by it.

The value of a period is the mean, over the days on which one of its sachets was eaten, of the
slot-matched value of the 24 h after the sachet. It depends on what the client ate and scored by
letter, never on what was in a sachet, so that it is the same before and after the opening.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import (
    DayScores,
    build_day_scores,
    slot_levels,
    window_values,
)
from challenge.analysis.evidence import (
    choose_primary,
    disturbed_days,
    followed_symptoms,
    mean_of_days,
)
from challenge.analysis.pairs import SETTLED_AFTER_DAYS, reference_days
from challenge.analysis.result import BlindedResult
from challenge.analysis.tests import randomised_tests
from challenge.diary.model import Diary
from challenge.diary.sachets import find_sachet
from challenge.errors import ChallengeError
from challenge.model.sessions import build_sessions
from challenge.protocol.blinding import Key, Trial
from challenge.protocol.plan import Plan
from challenge.protocol.settings import Settings

Floats = NDArray[np.float64]

METHOD = (
    "mean of the group's periods minus mean of the control's, against every order that could have "
    "been drawn"
)
_DIGITS = 9
_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class PeriodValues:
    """What is compared, by letter.

    Attributes
    ----------
    letters, symptoms
        Names of the axes of ``values``.
    values
        (periods, symptoms) value of each period [points], NaN where there is none.
    days
        Per period, the days on which a sachet was eaten and scored.
    left_out
        Per period, how many days of it could not be used: disturbed, or with too few scores.
    primary
        The symptom on which the comparison rests.
    """

    letters: tuple[str, ...]
    symptoms: tuple[str, ...]
    values: Floats
    days: tuple[tuple[dt.date, ...], ...]
    left_out: tuple[int, ...]
    primary: str


@dataclass(frozen=True, kw_only=True)
class OpenedTrial:
    """A trial whose order is known.

    Attributes
    ----------
    frozen
        The analysis as it was fixed (`frozen_document`), with ``frozen_at``.
    intact
        Whether that record is, byte for byte, the one that was there at the opening.
    """

    trial: Trial
    key: Key
    opened_on: dt.datetime
    frozen: Mapping[str, Any]
    intact: bool


def period_values(
    diary: Diary, plan: Plan, settings: Settings, letters: Sequence[str]
) -> PeriodValues:
    """Measure each period of a blinded challenge, opened or not.

    Raises
    ------
    ChallengeError
        If no sachet or no score is in the diary.
    """
    eaten = _eaten(diary, letters)
    dates = [time.date() for times in eaten.values() for time in times]
    if not dates or not len(plan):
        raise ChallengeError(
            "No sachet of the blinded challenge is in the diary, so there is nothing to compare."
        )
    # later entries must not change what was fixed, so nothing after the last sachet's day counts
    first, last = plan.days[0].date, max(dates) + _ONE_DAY
    sessions = build_sessions(diary.symptoms, first, last, followed_symptoms(diary, settings))
    excluded, _ = disturbed_days(diary, first, last, settings.kinds())
    sessions = sessions.without_days(excluded)
    if not len(sessions.hours):
        raise ChallengeError("No day of the blinded challenge has scores that can be used.")
    days = build_day_scores(sessions, Plan(tuple(day for day in plan if day.date <= last)))
    levels = slot_levels(days, [])
    rows, used, left_out = [], [], []
    for letter in letters:
        found = {
            time.date(): window_values(days, levels, time.hour + time.minute / 60)[number]
            for time in eaten[letter]
            if 0 <= (number := days.number(time.date())) < days.n_days and number not in excluded
        }
        good = {date: row for date, row in found.items() if np.isfinite(row).any()}
        block = np.array(list(good.values())).reshape(len(good), len(days.symptoms))
        rows.append(mean_of_days(block))
        used.append(tuple(sorted(good)))
        left_out.append(len({time.date() for time in eaten[letter]}) - len(good))
    return PeriodValues(
        letters=tuple(letters),
        symptoms=days.symptoms,
        values=np.array(rows),
        days=tuple(used),
        left_out=tuple(left_out),
        primary=_primary(diary, days, dates, excluded, settings),
    )


def _eaten(diary: Diary, letters: Sequence[str]) -> dict[str, list[dt.datetime]]:
    """Times at which sachets of each period were eaten."""
    eaten: dict[str, list[dt.datetime]] = {letter: [] for letter in letters}
    foods = diary.foods
    for time, food in zip(foods["time"].tolist(), foods["food"].tolist(), strict=True):
        sachet = find_sachet(food)
        if sachet is not None and sachet.letter in eaten:
            eaten[sachet.letter].append(time)
    return eaten


def _primary(
    diary: Diary,
    days: DayScores,
    sachet_dates: Sequence[dt.date],
    excluded: Mapping[int, str],
    settings: Settings,
) -> str:
    """The primary symptom by the usual rule, from days without any dose."""
    foods = diary.foods
    dosed = foods.loc[(foods["fodmap_group"] != "") & (foods["fodmap_g"] > 0), "time"].tolist()
    dose_days = {days.number(date) for date in (*sachet_dates, *(time.date() for time in dosed))}
    references = reference_days(days, dose_days, excluded)
    return days.symptoms[choose_primary(days, references, settings)]


def frozen_document(values: PeriodValues, trial: Trial, settings: Settings) -> dict[str, Any]:
    """Return what is fixed before the opening, as plain values."""
    return {
        "blinded_challenge": trial.number,
        "fodmap_group": trial.fodmap_group,
        "control": trial.control,
        "method": METHOD,
        "orders": trial.n_orders,
        "block": trial.block,
        "primary_symptom": values.primary,
        "margin": settings.analysis.margin,
        "confidence": settings.analysis.confidence,
        "symptoms": list(values.symptoms),
        "periods": [
            {
                "letter": letter,
                "days": [day.isoformat() for day in values.days[i]],
                "days_left_out": values.left_out[i],
                "values": [
                    float(f"{value:.{_DIGITS}g}") if np.isfinite(value) else None
                    for value in values.values[i]
                ],
            }
            for i, letter in enumerate(values.letters)
        ],
        "nothing_after": _day_after(values).isoformat(),
    }


def _day_after(values: PeriodValues) -> dt.date:
    return max((day for days in values.days for day in days), default=dt.date.min) + (
        (SETTLED_AFTER_DAYS - 1) * _ONE_DAY
    )


def differs(frozen: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[str, ...]:
    """Return which parts of a fixed analysis are no longer as they were."""
    return tuple(name for name, value in now.items() if frozen.get(name) != value)


def blinded_result(
    diary: Diary, plan: Plan, settings: Settings, opened: OpenedTrial
) -> BlindedResult:
    """Test an opened trial by its draw, and say whether the analysis is the one fixed before."""
    trial, key = opened.trial, opened.key
    values = period_values(diary, plan, settings, trial.letters)
    treated = np.array([letter in key.holding for letter in trial.letters])
    tests = randomised_tests(
        values.values, treated, trial.block, values.symptoms, settings.analysis.confidence
    )
    changed = differs(opened.frozen, frozen_document(values, trial, settings))
    primary = str(opened.frozen.get("primary_symptom", values.primary))
    return BlindedResult(
        fodmap_group=trial.fodmap_group,
        control=trial.control,
        letters=trial.letters,
        holding=key.holding,
        block=trial.block,
        n_orders=trial.n_orders,
        drawn_on=trial.drawn_on,
        fixed_at=dt.datetime.fromisoformat(str(opened.frozen["frozen_at"])),
        opened_at=opened.opened_on,
        ended_early=str(opened.frozen.get("ended_early", "")),
        as_fixed=opened.intact and not changed,
        test=next((test for test in tests if test.symptom == primary), tests[0]),
        tests=tests,
    )
