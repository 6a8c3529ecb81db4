"""Checks of a diary against its plan: what was eaten, when, and whether the days can be compared.

Limits without a source are common practice and say so. Days from today on are not judged.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from math import isnan
from statistics import fmean, median, stdev
from typing import TYPE_CHECKING, Final, NamedTuple

from challenge.problems import Problem, Severity
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import LEAST_BASELINE_DAYS, CourseKey, dose_eaten, progress
from challenge.protocol.record import Record, record_of
from challenge.protocol.stopping import Stop

if TYPE_CHECKING:
    from challenge.diary.model import Diary
    from challenge.protocol.settings import Settings

AMOUNT_WITHIN: Final = 0.2
"""A dose may be this share off the plan (common practice, no source)."""

LATE_AFTER_HOURS: Final = 3.0
"""Later than this client's usual time of the dose [h] (common practice, no source)."""

UNSTABLE_MARGINS: Final = 2.0
"""Scatter or drift of a baseline [multiples of the margin] (common practice, no source)."""

_LEAST_FOR_USUAL_TIME: Final = 3
_LEAST_FOR_DRIFT: Final = 4
# a part of the day scored on fewer of the days is none of this client's; the same in the analysis
_USED_PART: Final = 0.2
_ALSO: Final = "It may blur the comparison; the days are used as they were eaten."


class Portion(NamedTuple):
    """One food with a carbohydrate group: when, what, grams of the carbohydrate (NaN unknown)."""

    time: dt.datetime
    food: str
    grams: float


@dataclass(frozen=True, kw_only=True)
class Case:
    """A diary beside its plan, as the checks see it.

    Attributes
    ----------
    plan
        The days up to today.
    eaten
        (day, group) -> portions of it, in order of time.
    meals
        Days with any food.
    stops
        Challenge -> why it ended early.
    today
        The day of the check; it is not over yet.
    """

    plan: Plan
    record: Record
    settings: Settings
    eaten: Mapping[tuple[dt.date, str], list[Portion]]
    meals: frozenset[dt.date]
    stops: Mapping[CourseKey, Stop]
    today: dt.date

    def challenges(self) -> list[PlanDay]:
        """Return the challenge days up to today."""
        return [day for day in self.plan if day.phase == "challenge" and day.fodmap_group]

    def over(self) -> list[PlanDay]:
        """Return the days of the protocol that are over; rest days are none."""
        return [day for day in self.plan if day.date < self.today and day.phase != "rest"]


def check_adherence(diary: Diary, plan: Plan, settings: Settings, today: dt.date) -> list[Problem]:
    """Return everything in which a diary departs from its plan, by date.

    Parameters
    ----------
    diary, plan, settings
        As read from a client folder.
    today
        The day of the check. Later days are not judged, today only by what was eaten.
    """
    case = make_case(diary, plan, settings, today)
    found = [problem for check in CHECKS for problem in check(case)]
    return sorted(found, key=lambda problem: problem.date or "")


def make_case(diary: Diary, plan: Plan, settings: Settings, today: dt.date) -> Case:
    """Lay a diary beside its plan."""
    record = record_of(diary)
    foods = diary.foods
    eaten: dict[tuple[dt.date, str], list[Portion]] = {}
    meals = set()
    for time, food, group, grams in zip(
        foods["time"].tolist(),
        foods["food"].tolist(),
        foods["fodmap_group"].tolist(),
        foods["fodmap_g"].tolist(),
        strict=True,
    ):
        date = time.date()
        meals.add(date)
        if group and grams != 0 and date <= today:
            eaten.setdefault((date, group), []).append(Portion(time, food, grams))
    courses = progress(plan, record, settings, today).courses
    return Case(
        plan=Plan(days=tuple(day for day in plan if day.date <= today)),
        record=record,
        settings=settings,
        eaten=eaten,
        meals=frozenset(meals),
        stops={key: course.stop for key, course in courses.items() if course.stop is not None},
        today=today,
    )


# -- doses ---------------------------------------------------------------------------------------


def doses_not_eaten(case: Case) -> list[Problem]:
    """Doses of the plan that are not in the diary; after a stop that is as it should be."""
    found = []
    for day in case.challenges():
        date, group = day.date, day.fodmap_group
        if date >= case.today or (date, group) in case.eaten:
            continue
        if others := _groups_on(case, date):
            found.append(
                _of_food(
                    "wrong-group",
                    date,
                    f"The plan has {_dose(day)}; the diary has {' and '.join(others)} instead.",
                    "Check the group in the diary. If it is right, plan this dose again.",
                    column="fodmap_group",
                )
            )
            continue
        stop = case.stops.get((group, day.cycle)) if group and day.cycle else None
        if stop is not None and stop.date < date:
            found.append(
                _of_food(
                    "dose-left-out-after-stop",
                    date,
                    f"{_dose(day, capital=True)} was not eaten, as it should be: the challenge "
                    f"ended on {stop.date} ({stop.words}).",
                    "Nothing to do; the stop is part of the result.",
                    severity="note",
                )
            )
        else:
            found.append(
                _of_food(
                    "dose-not-eaten",
                    date,
                    f"{_dose(day, capital=True)} is not in the diary.",
                    "Add it if it was eaten and forgotten; otherwise lay the plan again.",
                )
            )
    return found


def doses_of_another_amount(case: Case) -> list[Problem]:
    """Doses whose grams differ from the plan, are unknown, or exceed the highest step."""
    found = []
    for day in case.challenges():
        portions = case.eaten.get((day.date, day.fodmap_group or ""))
        if not portions or not day.fodmap_g or day.fodmap_group is None:
            continue
        grams = sum(portion.grams for portion in portions)
        names = " and ".join(dict.fromkeys(portion.food for portion in portions))
        if isnan(grams):
            code = "dose-amount-unknown"
            message = f"The grams of {day.fodmap_group} in {names} are not known."
            remedy = "Give portion_g and fodmap_g; without them the dose cannot be judged."
        elif abs(grams - day.fodmap_g) <= AMOUNT_WITHIN * day.fodmap_g:
            continue
        else:
            top = max(case.plan.steps(day.fodmap_group).values())
            over = grams > top * (1 + AMOUNT_WITHIN)
            code = "dose-above-highest-step" if over else "dose-of-another-amount"
            message = f"{_g(grams)} of {day.fodmap_group} was eaten ({names}); " + (
                f"the highest step so far is {_g(top)}, that day's {_g(day.fodmap_g)}."
                if over
                else f"step {day.step} is {_g(day.fodmap_g)}."
            )
            if not dose_eaten(day, case.record):
                message += " Less than half counts as missed when the plan is laid again."
            remedy = "Correct the grams if they are wrong. The analysis uses what was eaten."
        found.append(_of_food(code, day.date, message, remedy, column="fodmap_g"))
    return found


def doses_eaten_late(case: Case) -> list[Problem]:
    """Doses eaten hours after this client's usual time: the day's scores then miss their effect."""
    times = {
        day.date: case.eaten[day.date, day.fodmap_group][0].time
        for day in case.challenges()
        if day.fodmap_group and (day.date, day.fodmap_group) in case.eaten
    }
    if len(times) < _LEAST_FOR_USUAL_TIME:
        return []
    hours = {date: time.hour + time.minute / 60 for date, time in times.items()}
    usual = median(hours.values())
    clock = f"{int(usual):02d}:{round(usual % 1 * 60) % 60:02d}"
    return [
        _of_food(
            "dose-eaten-late",
            date,
            f"The dose was eaten at {times[date]:%H:%M}, {hour - usual:.1f} hours after this "
            f"client's usual time of {clock}.",
            "Check the time. Scores given before the dose say nothing about it.",
            column="time",
        )
        for date, hour in hours.items()
        if hour - usual > LATE_AFTER_HOURS
    ]


def other_groups(case: Case) -> list[Problem]:
    """Groups eaten on days that are not theirs: second group, baseline, beyond the plan."""
    planned = {day.date: day for day in case.plan}
    found = []
    for (date, group), portions in case.eaten.items():
        day = planned.get(date)
        what = f"{group} ({' and '.join(dict.fromkeys(p.food for p in portions))})"
        if day is not None and day.phase == "challenge":
            if day.fodmap_group is None or group == day.fodmap_group:
                continue
            if (date, day.fodmap_group) not in case.eaten:
                continue  # said as the wrong group
            code = "second-group"
            message = f"Beside {day.fodmap_group}, {what} was eaten on a challenge day."
        elif day is not None and day.phase == "baseline":
            code = "group-on-baseline-day"
            message = f"On a baseline day, {what} was eaten."
        else:
            code = "dose-beyond-plan"
            kind = f"a {day.phase} day" if day is not None else "a day outside the plan"
            message = f"On {kind}, {what} was eaten."
        remedy = f"Check group and date. {_ALSO}"
        found.append(_of_food(code, date, message, remedy, column="fodmap_group"))
    return found


# -- washout and baseline ------------------------------------------------------------------------


def washouts_ended_early(case: Case) -> list[Problem]:
    """Challenges begun before the washout was long enough, or symptoms were back at baseline."""
    begun: dict[CourseKey, dt.date] = {}
    for day in case.challenges():
        if day.fodmap_group and (day.date, day.fodmap_group) in case.eaten:
            begun.setdefault((day.fodmap_group, day.cycle or 1), day.date)
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
            head += f" ({apart} more fell on illness, antibiotics or closed dates)"
        above = {name: rise for name, rise in washout.above.items() if rise > rules.settled_within}
        if washout.settled == "no" and above:
            code = "washout-not-settled"
            worst = max(above, key=lambda name: above[name])
            message = (
                f"{head}, with {worst} still {round(above[worst], 2):g} points above baseline "
                f"(limit {rules.settled_within:g})."
            )
        elif washout.days < rules.washout_days:
            code, message = (
                "washout-too-short",
                f"{head}; the settings ask for {rules.washout_days}.",
            )
        else:
            code, message = "washout-not-scored", f"{head} whose last days have no scores."
        found.append(
            _problem(
                code,
                start,
                message,
                "Symptoms of the challenge before may be counted to this one; consider a repeat.",
                file="plan.csv" if code == "washout-too-short" else "symptoms.csv",
            )
        )
    return found


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
            _problem(
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
                _problem(
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


# -- scores --------------------------------------------------------------------------------------


def days_with_too_few_scores(case: Case) -> list[Problem]:
    """Days of the protocol without scores, or with fewer than half of the usual parts of day."""
    parts = {day.date: _parts_scored(case.record, day.date) for day in case.over()}
    scored = [names for names in parts.values() if names]
    counts = [sum(part in names for names in scored) for part in ("morning", "midday", "evening")]
    used = sum(n >= _USED_PART * len(scored) and n > 0 for n in counts)
    usual = min(case.settings.diary.ratings_per_day, max(used, 1))
    found = []
    for (kind, phase), run in groupby(
        case.over(), key=lambda day: (_kind(case, day, len(parts[day.date]), usual), day.phase)
    ):
        days = [day.date for day in run]
        if kind:
            found.append(_scores_missing(kind, phase, days, usual))
    return found


def _parts_scored(record: Record, date: dt.date) -> set[str]:
    return {part for parts in record.scores.get(date, {}).values() for part in parts}


def _kind(case: Case, day: PlanDay, given: int, usual: int) -> str:
    if given == 0:
        return "food-on-unscored-day" if day.date in case.meals else "no-scores"
    return "too-few-scores" if 2 * given < usual else ""


def _scores_missing(kind: str, phase: str, days: list[dt.date], usual: int) -> Problem:
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
    return _problem(
        kind,
        days[0],
        message,
        "Add scores that stand elsewhere; such days cannot be compared. Never guess them later.",
        file="symptoms.csv",
        column="score",
    )


# -- helpers -------------------------------------------------------------------------------------


def _groups_on(case: Case, date: dt.date) -> list[str]:
    return [group for (day, group) in case.eaten if day == date]


def _days(count: int) -> str:
    return "one day" if count == 1 else f"{count} days"


def _g(grams: float) -> str:
    return f"{round(grams, 2):g} g"


def _dose(day: PlanDay, *, capital: bool = False) -> str:
    grams = f" ({_g(day.fodmap_g)})" if day.fodmap_g else ""
    return f"{'S' if capital else 's'}tep {day.step} of {day.fodmap_group}{grams}"


def _of_food(
    code: str,
    date: dt.date,
    message: str,
    remedy: str,
    *,
    severity: Severity = "warning",
    column: str | None = None,
) -> Problem:
    return _problem(code, date, message, remedy, file="foods.csv", severity=severity, column=column)


def _problem(
    code: str,
    date: dt.date,
    message: str,
    remedy: str,
    *,
    file: str,
    severity: Severity = "warning",
    column: str | None = None,
) -> Problem:
    return Problem(
        code=code,
        severity=severity,
        message=message,
        remedy=remedy,
        file=file,
        column=column,
        date=date.isoformat(),
    )


CHECKS: Final[tuple[Callable[[Case], Iterable[Problem]], ...]] = (
    doses_not_eaten,
    doses_of_another_amount,
    doses_eaten_late,
    other_groups,
    washouts_ended_early,
    baseline_short_or_unstable,
    days_with_too_few_scores,
)
"""Every check of a diary against its plan."""
