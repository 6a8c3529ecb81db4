"""Everything that the groups of one client share: days, references, exclusions, fitted model."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores, build_day_scores, day_values, slot_levels
from challenge.analysis.doses import planned_doses, steps_grams
from challenge.analysis.pairs import SETTLED_AFTER_DAYS, reference_days
from challenge.analysis.result import DayValue, Dose
from challenge.diary.disturbances import Kind, disturbances
from challenge.diary.model import Diary
from challenge.diary.sachets import find_sachet
from challenge.errors import ChallengeError
from challenge.model.doses import GroupDoses, build_doses
from challenge.model.fit import DiaryFit, fit_diary
from challenge.model.priors import Priors, load_priors
from challenge.model.sessions import Sessions, build_sessions
from challenge.protocol.plan import Plan
from challenge.protocol.settings import Settings
from challenge.terms import SCORE_MAX, STOOL_FORM, FodmapGroup

Floats = NDArray[np.float64]

SEALED = "blinded sachet"
"""Why a day of a blinded challenge is left out as long as its order is sealed."""

_ROOM_TO_RISE = 3.0


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What all groups of one client share.

    Attributes
    ----------
    days
        Scores by day, slot and symptom.
    levels
        (slots, symptoms) usual score of each slot [points].
    values, usual
        (days, symptoms) day values; (symptoms,) their mean on reference days [points].
    references
        Day numbers that can serve as reference.
    excluded, marks
        Days left out and days only marked, each with the words why.
    primary
        Index of the primary symptom.
    grams
        Group -> step -> grams, from step 1 on without a gap.
    doses, eaten
        Planned doses with what was eaten, and all doses as the model sees them.
    """

    settings: Settings
    plan: Plan
    days: DayScores
    levels: Floats
    values: Floats
    usual: Floats
    references: list[int]
    excluded: Mapping[int, str]
    marks: Mapping[int, tuple[str, ...]]
    primary: int
    grams: dict[FodmapGroup, dict[int, float]]
    doses: Mapping[FodmapGroup, tuple[Dose, ...]]
    eaten: Mapping[FodmapGroup, GroupDoses]
    sessions: Sessions
    fit: DiaryFit
    priors: Priors


def gather(diary: Diary, plan: Plan, settings: Settings) -> Evidence:
    """Prepare a diary for analysis.

    Raises
    ------
    ChallengeError
        If nothing can be analysed.
    """
    if not plan.groups():
        if any(day.sealed for day in plan):
            raise ChallengeError(
                "Every challenge of this plan is blinded, and its order is sealed. Fix the "
                "analysis with `challenge freeze`, then open it with `challenge unblind`."
            )
        raise ChallengeError(
            "The plan has no challenge day, so there is nothing to analyse. "
            "Lay a plan with `challenge plan`."
        )
    first, last = plan.days[0].date, plan.days[-1].date
    sessions = build_sessions(diary.symptoms, first, last, followed_symptoms(diary, settings))
    if not len(sessions.hours):
        raise ChallengeError(
            f"The diary has no symptom score between {first} and {last}, the days of the plan."
        )
    excluded, marks = disturbed_days(diary, first, last, settings.kinds())
    excluded = _sealed_days(diary, plan) | excluded
    sessions = sessions.without_days(excluded)
    if not len(sessions.hours):
        raise ChallengeError("Every day with scores is left out because of a disturbance.")
    grams = steps_grams(plan)
    eaten = build_doses(diary.foods, sessions.origin, grams)
    days = build_day_scores(sessions, plan)
    dose_days = {int(day) for doses in eaten.values() for day in doses.days()}
    references = reference_days(days, dose_days, excluded)
    levels = slot_levels(days, references)
    values = day_values(days, levels)
    priors = load_priors()
    usual = mean_of_days(values[references]) if references else mean_of_days(values)
    return Evidence(
        settings=settings,
        plan=plan,
        days=days,
        levels=levels,
        values=values,
        usual=usual,
        references=references,
        excluded=excluded,
        marks=marks,
        primary=choose_primary(days, references, settings),
        grams=grams,
        doses=planned_doses(diary, plan),
        eaten=eaten,
        sessions=sessions,
        fit=fit_diary(sessions, eaten, priors),
        priors=priors,
    )


def followed_symptoms(diary: Diary, settings: Settings) -> list[str]:
    """Symptoms followed, or else those that the diary has."""
    written = set(diary.symptoms["symptom"].unique()) - {STOOL_FORM}
    followed = [name for name in settings.diary.symptoms if name in written]
    return followed or sorted(written)


def choose_primary(days: DayScores, references: Sequence[int], settings: Settings) -> int:
    """Index of the primary symptom: as set, else the worst in the baseline that can get worse.

    Chosen without a look at challenge days, so that the choice cannot favour a result, and by the
    baseline alone where it can be used, so that days to come do not change it.
    """
    named = settings.analysis.primary_symptom
    if named in days.symptoms:
        return days.symptoms.index(named)
    baseline = [day for day in references if days.phase(day) == "baseline"]
    chosen = baseline or list(references)
    values = day_values(days, slot_levels(days, chosen))
    usual = mean_of_days(values[chosen] if chosen else values)
    level = np.where(np.isfinite(usual), usual, np.inf)
    with_room = np.where(level <= SCORE_MAX - _ROOM_TO_RISE, level, -1.0)
    return int(np.argmax(with_room) if with_room.max() >= 0 else np.argmin(level))


def mean_of_days(values: Floats) -> Floats:
    """(symptoms,) mean over days of (days, symptoms) values; NaN without any."""
    count = np.isfinite(values).sum(axis=0)
    mean: Floats = np.where(count > 0, np.nansum(values, axis=0) / np.maximum(count, 1), np.nan)
    return mean


def disturbed_days(
    diary: Diary, first: dt.date, last: dt.date, kinds: Sequence[Kind]
) -> tuple[dict[int, str], dict[int, tuple[str, ...]]]:
    """Days left out and days marked, by number, from the events logged."""
    found = disturbances(diary.events, first, last, kinds)
    return (
        {(date - first).days: reason for date, reason in found.left_out.items()},
        {(date - first).days: marks for date, marks in found.marked.items()},
    )


def _sealed_days(diary: Diary, plan: Plan) -> dict[int, str]:
    """Days of sealed sachets and the day after each: what acts on them is not known yet."""
    first = plan.days[0].date
    foods = diary.foods
    names = [food for food in foods["food"].unique() if find_sachet(food) is not None]
    dates = {day.date for day in plan if day.sealed}
    if names:
        rows = foods["food"].isin(names) & (foods["fodmap_group"] == "")
        dates |= {time.date() for time in foods.loc[rows, "time"].tolist()}
    numbers = {(date - first).days + n for date in dates for n in range(SETTLED_AFTER_DAYS)}
    return {n: SEALED for n in sorted(numbers) if 0 <= n < (plan.days[-1].date - first).days + 1}


def day_records(evidence: Evidence) -> tuple[DayValue, ...]:
    """Return every day as the analysis saw it."""
    records = []
    for day in range(evidence.days.n_days):
        planned = evidence.days.plan[day]
        challenge = planned is not None and planned.phase == "challenge"
        values = {
            symptom: float(value)
            for symptom, value in zip(evidence.days.symptoms, evidence.values[day], strict=True)
            if np.isfinite(value)
        }
        marks = evidence.marks.get(day, ())
        if day in evidence.excluded:
            marks = (*marks, evidence.excluded[day])
        records.append(
            DayValue(
                date=evidence.days.date(day),
                phase=planned.phase if planned else None,
                fodmap_group=planned.fodmap_group if planned else None,
                step=planned.step if planned and challenge else None,
                cycle=planned.cycle if planned and challenge else None,
                n_scores=int(np.isfinite(evidence.days.scores[day]).sum()),
                values=values,
                marks=marks,
            )
        )
    return tuple(records)
