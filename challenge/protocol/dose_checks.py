"""Checks of what was eaten: doses left out, of another amount, late, after a stop, other groups.

Limits without a source are common practice and say so.
"""

from __future__ import annotations

import datetime as dt
from math import isnan
from statistics import median
from typing import Final

from challenge.diary.places import Place
from challenge.diary.sachets import find_sachet
from challenge.problems import Problem, Severity
from challenge.protocol.adherence_case import Case, problem_on
from challenge.protocol.plan import PlanDay
from challenge.protocol.progress import days_left_out, dose_eaten, illness_days, reason_of

AMOUNT_WITHIN: Final = 0.2
"""A dose may be this share off the plan (common practice, no source)."""

LATE_AFTER_HOURS: Final = 3.0
"""Later than this client's usual time of the dose [h] (common practice, no source)."""

_LEAST_FOR_USUAL_TIME: Final = 3
_ALSO: Final = "It may blur the comparison; the days are used as they were eaten."


def doses_not_eaten(case: Case) -> list[Problem]:
    """Doses of the plan that are not in the diary; after a stop that is only noted."""
    found = []
    for day in case.challenges():
        date, group = day.date, day.tested or ""
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
                    place=case.first_dose(date, others[0]),
                )
            )
            continue
        stop = case.stop_of(day)
        if stop is not None and stop.date <= date:
            found.append(
                _of_food(
                    "dose-left-out-after-stop",
                    date,
                    f"{_dose(day, capital=True)} is not in the diary; the challenge "
                    f"ended on {stop.date}: {stop.words}.",
                    "Nothing to do if it was left out for that reason.",
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
        place = case.first_dose(day.date, day.fodmap_group)
        found.append(_of_food(code, day.date, message, remedy, column="fodmap_g", place=place))
    return found


def other_sachets(case: Case) -> list[Problem]:
    """Sachets of the day's period, but of another step, or more than one."""
    found = []
    for day in case.challenges():
        if not day.sealed or not (eaten := case.eaten.get((day.date, day.tested or ""))):
            continue
        names = [s.name for portion in eaten if (s := find_sachet(portion.food)) is not None]
        if names != [day.food]:
            found.append(
                _of_food(
                    "other-sachet",
                    day.date,
                    f"The plan has {day.food}; the diary has {' and '.join(names)}.",
                    "Correct the diary if it is wrong; otherwise lay the plan again.",
                    column="food",
                    place=case.first_dose(day.date, day.tested),
                )
            )
    return found


def doses_eaten_late(case: Case) -> list[Problem]:
    """Doses eaten hours after this client's usual time: the day's scores then miss their effect."""
    doses = {
        day.date: case.eaten[day.date, day.tested][0]
        for day in case.challenges()
        if day.tested and (day.date, day.tested) in case.eaten
    }
    times = {date: portion.time for date, portion in doses.items()}
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
            place=case.places.food(times[date], doses[date].food),
        )
        for date, hour in hours.items()
        if hour - usual > LATE_AFTER_HOURS
    ]


def doses_after_a_stop(case: Case) -> list[Problem]:
    """Doses eaten after the day on which the stop rule, or the client's wish, ended the challenge.

    A dose of the day itself may have been eaten before the symptoms came.
    """
    found = []
    for day in case.challenges():
        stop = case.stop_of(day)
        if stop is None or stop.date >= day.date or (day.date, day.tested) not in case.eaten:
            continue
        found.append(
            _of_food(
                "dose-after-stop",
                day.date,
                f"{_dose(day, capital=True)} was eaten although the challenge should have ended "
                f"on {stop.date}: {stop.words}.",
                "Talk it over with the client: after a stop, no further dose of that challenge.",
                column="time",
                place=case.first_dose(day.date, day.tested),
            )
        )
    return found


def doses_while_held_up(case: Case) -> list[Problem]:
    """Doses eaten on days that the analysis leaves out, or while illness held challenges up."""
    kinds = case.settings.kinds()
    left_out = days_left_out(case.record, kinds)
    held = illness_days(case.record, case.today, kinds)
    found = []
    for day in case.challenges():
        if not dose_eaten(day, case.record):
            continue
        dose = f"{_dose(day, capital=True)} was eaten"
        if why := reason_of(day.date, left_out):
            code = "dose-on-day-left-out"
            message = f"{dose} on a day that the analysis leaves out: {why}."
            remedy = f"It tells nothing{_laid_again(case, day)}."
        elif why := reason_of(day.date, held):
            code = "dose-while-held-up"
            message = f"{dose} while challenges were held up: {why}."
            remedy = (
                f"It counts. Symptoms that come from {why} may be counted to the dose; consider a "
                "repeat."
            )
        else:
            continue
        place = case.first_dose(day.date, day.tested)
        found.append(_of_food(code, day.date, message, remedy, column="time", place=place))
    return found


def _laid_again(case: Case, day: PlanDay) -> str:
    """Say whether the plan asks again for a dose whose day is left out."""
    course, step = case.course_of(day), day.step or 1
    if course is not None and course.stop is not None:
        return f", and the step is not laid again: the challenge ended on {course.stop.date}"
    if course is not None and step < course.answered_below:
        return f", and the step is not laid again: step {course.answered_below} was eaten"
    if course is not None and not course.owed(step, case.settings.protocol.days_per_step):
        return "; the step was eaten on another day that counts"
    return "; `challenge plan` lays the step again"


def other_groups(case: Case) -> list[Problem]:
    """Groups eaten on days that are not theirs: second group, baseline, beyond the plan."""
    planned = {day.date: day for day in case.plan}
    found = []
    for (date, group), portions in case.eaten.items():
        day = planned.get(date)
        what = f"{group} ({' and '.join(dict.fromkeys(p.food for p in portions))})"
        if day is not None and day.phase == "challenge":
            if day.tested is None or group == day.tested:
                continue
            if (date, day.tested) not in case.eaten:
                continue  # said as the wrong group
            code = "second-group"
            message = f"Beside {day.tested}, {what} was eaten on a challenge day."
        elif day is not None and day.phase == "baseline":
            code = "group-on-baseline-day"
            message = f"On a baseline day, {what} was eaten."
        else:
            code = "dose-beyond-plan"
            kind = f"a {day.phase} day" if day is not None else "a day outside the plan"
            message = f"On {kind}, {what} was eaten."
        remedy = f"Check group and date. {_ALSO}"
        place = case.first_dose(date, group)
        found.append(_of_food(code, date, message, remedy, column="fodmap_group", place=place))
    return found


def _groups_on(case: Case, date: dt.date) -> list[str]:
    return [group for (day, group) in case.eaten if day == date]


def _g(grams: float) -> str:
    return f"{round(grams, 2):g} g"


def _dose(day: PlanDay, *, capital: bool = False) -> str:
    grams = f" ({_g(day.fodmap_g)})" if day.fodmap_g else ""
    if day.sealed:
        return f"{'S' if capital else 's'}{day.food[1:]}"
    return f"{'S' if capital else 's'}tep {day.step} of {day.fodmap_group}{grams}"


def _of_food(
    code: str,
    date: dt.date,
    message: str,
    remedy: str,
    *,
    severity: Severity = "warning",
    column: str | None = None,
    place: Place | None = None,
) -> Problem:
    return problem_on(
        code,
        date,
        message,
        remedy,
        file="foods.csv",
        severity=severity,
        column=column,
        place=place,
    )
