"""Checks of the days that are compared: washout, baseline, and enough scores.

Limits without a source are common practice and say so.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from itertools import groupby
from statistics import fmean, stdev
from typing import Final

from challenge.diary.day import PARTS_OF_DAY
from challenge.diary.places import Place
from challenge.problems import Problem, Severity
from challenge.protocol.adherence_case import Case, problem_on
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import LEAST_BASELINE_DAYS, CourseKey, Progress, progress
from challenge.protocol.record import Record
from challenge.protocol.settling import Above

UNSTABLE_MARGINS: Final = 2.0
"""Scatter or drift of a baseline [multiples of the margin] (common practice, no source)."""

_LEAST_FOR_DRIFT: Final = 4
# a part of the day scored on fewer of the days is none of this client's; the same in the analysis
_USED_PART: Final = 0.2


def washouts_ended_early(case: Case) -> list[Problem]:
    """Challenges begun before the washout was long enough, or symptoms were back at baseline."""
    begun: dict[CourseKey, dt.date] = {}
    for day in case.challenges():
        if day.tested and (day.date, day.tested) in case.eaten:
            begun.setdefault((day.tested, day.cycle or 1), day.date)
    rules = case.settings.protocol
    found = []
    for (group, _), start in begun.items():
        # the plan up to the eve, so that the first dose itself is not taken for the latest
        before = Plan(days=tuple(day for day in case.plan if day.date < start))
        standing = progress(before, case.record, case.settings, start)
        washout = standing.washout
        if washout is None or washout.over:
            continue
        last = max(c.last_dose for c in standing.courses.values() if c.last_dose is not None)
        apart = (start - last).days - 1 - washout.days
        head = f"The {group} challenge began after {_days(washout.days)} of washout"
        if apart > 0:
            head += f" ({apart} more fell on illness, antibiotics and the like or closed dates)"
        above = {name: one for name, one in washout.above.items() if not one.settled}
        lingering = {name: one for name, one in above.items() if _was_up(case, standing, name)}
        severity: Severity = "warning"
        remedy = "Symptoms of the challenge before may be counted to this one; consider a repeat."
        if lingering:
            code, message = "washout-not-settled", f"{head}, with {_worst(lingering, 'still ')}."
        elif washout.days < rules.washout_days:
            code, message = (
                "washout-too-short",
                f"{head}; the settings ask for {rules.washout_days}.",
            )
        elif above:
            code, severity = "up-before-challenge", "note"
            message = (
                f"{head}, with {_worst(above)}; it was not up in the "
                f"{washout.fodmap_group} challenge, so it is nothing left over from that."
            )
            remedy = "Look for another cause; if the result is unclear, consider a repeat."
        else:
            code, message = "washout-not-scored", f"{head} whose last days have no scores."
        found.append(
            problem_on(
                code,
                start,
                message,
                remedy,
                file="foods.csv",
                severity=severity,
                column="time",
                place=case.first_dose(start, group),
            )
        )
    return found


def _worst(above: Mapping[str, Above], still: str = "") -> str:
    name = max(above, key=lambda name: above[name].rise)
    return (
        f"{name} {still}{round(above[name].rise, 2):g} points above baseline "
        f"(limit {round(above[name].limit, 2):g})"
    )


def _was_up(case: Case, standing: Progress, symptom: str) -> bool:
    """Tell whether a symptom was up in the latest challenge: only then can it have stayed up.

    From its first dose to the day after its last, by more than ``settled_within``.
    """
    latest = max(
        (course for course in standing.courses.values() if course.last_dose is not None),
        key=lambda course: course.last_dose or dt.date.min,
    )
    assert latest.last_dose is not None
    dates = [
        day.date
        for day in case.challenges()
        if (day.tested, day.cycle) == (latest.fodmap_group, latest.cycle)
        and day.date <= latest.last_dose
        and (day.date, day.tested) in case.eaten
    ]
    dates.append(latest.last_dose + dt.timedelta(days=1))
    means = [m for m in (case.record.day_mean(date, symptom) for date in dates) if m is not None]
    rise = fmean(means) - standing.baseline[symptom] if means else 0.0
    return rise > case.settings.protocol.settled_within


def baseline_short_or_unstable(case: Case) -> list[Problem]:
    """A baseline with too few scored days, or whose level drifts or scatters widely."""
    begun = min((day.date for day in case.challenges()), default=None)
    if begun is None:
        return []
    dates = [day.date for day in case.plan if day.phase == "baseline" and day.date < begun]
    scored = [date for date in dates if case.record.scores.get(date)]
    at = dates[0] if dates else begun
    if len(scored) < LEAST_BASELINE_DAYS:
        return [
            problem_on(
                "baseline-too-short",
                at,
                f"Before the first challenge, on {begun}, {_days(len(scored))} of baseline had "
                f"scores; at least {LEAST_BASELINE_DAYS} are needed.",
                "Lay the plan again with more baseline days before the next challenge.",
                file="symptoms.csv",
            )
        ]
    limit = UNSTABLE_MARGINS * case.settings.analysis.margin
    found = []
    for symptom in sorted({name for date in scored for name in case.record.scores[date]}):
        means = [m for d in scored if (m := case.record.day_mean(d, symptom)) is not None]
        words = _instability(means, limit)
        if words:
            found.append(
                problem_on(
                    "baseline-unstable",
                    at,
                    f"{symptom.capitalize()} {words} over {len(means)} baseline days.",
                    "Look for a cause; a longer baseline makes the comparison surer.",
                    file="symptoms.csv",
                )
            )
    return found


def _instability(means: list[float], limit: float) -> str:
    half = len(means) // 2
    if len(means) >= _LEAST_FOR_DRIFT:
        drift = fmean(means[-half:]) - fmean(means[:half])
        if abs(drift) >= limit:
            return f"{'rose' if drift > 0 else 'fell'} by {abs(drift):.1f} points"
    if len(means) >= LEAST_BASELINE_DAYS and stdev(means) >= limit:
        return f"varied widely from day to day (standard deviation {stdev(means):.1f} points)"
    return ""


def days_with_too_few_scores(case: Case) -> list[Problem]:
    """Days of the protocol without scores, or with fewer than half of the usual parts of day."""
    parts = {day.date: _parts_scored(case.record, day.date) for day in case.over()}
    scored = [names for names in parts.values() if names]
    counts = [sum(part in names for names in scored) for part in PARTS_OF_DAY]
    used = sum(n >= _USED_PART * len(scored) and n > 0 for n in counts)
    usual = min(case.settings.diary.ratings_per_day, max(used, 1))
    found = []
    for (kind, phase), run in groupby(
        case.over(), key=lambda day: (_kind(case, day, len(parts[day.date]), usual), day.phase)
    ):
        days = [day.date for day in run]
        if kind:
            place = {
                "food-on-unscored-day": case.places.meal(days[0]),
                "too-few-scores": case.places.day(days[0]),
            }.get(kind)
            found.append(_scores_missing(kind, phase, days, usual, place))
    return found


def _parts_scored(record: Record, date: dt.date) -> set[str]:
    return {part for parts in record.scores.get(date, {}).values() for part in parts}


def _kind(case: Case, day: PlanDay, given: int, usual: int) -> str:
    if given == 0:
        return "food-on-unscored-day" if day.date in case.meals else "no-scores"
    return "too-few-scores" if 2 * given < usual else ""


def _scores_missing(
    kind: str, phase: str, days: list[dt.date], usual: int, place: Place | None
) -> Problem:
    on = (
        f"on this {phase} day"
        if len(days) == 1
        else f"on {len(days)} {phase} days in a row, up to {days[-1]}"
    )
    message = {
        "food-on-unscored-day": f"Food was written down {on}, but no score.",
        "no-scores": f"Nothing was scored {on}.",
        "too-few-scores": f"Fewer than half of the {usual} usual scores were given {on}.",
    }[kind]
    return problem_on(
        kind,
        days[0],
        message,
        "Add scores that stand elsewhere; such days cannot be compared. Never guess them later.",
        file="symptoms.csv",
        column=None if place else "score",
        place=place,
    )


def _days(count: int) -> str:
    return "one day" if count == 1 else f"{count} days"
