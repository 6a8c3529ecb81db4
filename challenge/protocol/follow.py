"""What a client did who followed `challenge today`: it lays the plan again, plan.csv does not.

A dose that was missed moves the rest by a day. Until the dietitian lays the plan again, the file
has another dose on that day, or none, and what the client ate as asked would count for nothing.
Told by the doses themselves: what `today` said weeks ago depends on entries and settings of then.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from math import inf, log
from typing import TYPE_CHECKING, Final

from challenge.diary.sachets import find_sachet
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import dose_eaten, progress
from challenge.protocol.record import Record
from challenge.protocol.replan import bridge

if TYPE_CHECKING:
    from challenge.protocol.settings import Settings

_SAME: Final = log(1.25)
"""An amount within a quarter of a step is that step (own inference, no source)."""
_MOST: Final = log(2.0)
"""Twice a dose is not that dose any more (own inference, no source)."""


def followed(plan: Plan, record: Record, settings: Settings, today: dt.date) -> Plan:
    """Return the plan with the doses that were eaten on other days or in another order.

    It is the first step missed before, if it is nearer to that than to the dose of the day itself;
    on a day without a dose of that group unless symptoms had ended the challenge.

    Parameters
    ----------
    plan
        The plan on file.
    record
        The diary so far.
    settings
        The client's settings; the stop rule and the days per step count.
    today
        Last day looked at.
    """
    if not len(plan):
        return plan
    file = plan
    for date in sorted(record.eaten):
        if not plan.days[0].date <= date <= today:
            continue
        planned = plan.on(date)
        for tested, amount in record.eaten[date].items():
            if amount <= 0:
                continue
            if planned is not None and planned.tested == tested:
                taken = _another_step(file, plan, planned, record, settings)
            elif planned is None or not dose_eaten(planned, record):
                taken = _made_up(file, plan, record, settings, tested, date)
            else:
                taken = None
            if taken is not None and taken != planned:
                plan = _with(plan, taken)
                break
    return plan


def _distance(day: PlanDay, record: Record) -> float:
    """How far what was eaten is from a dose, as the logarithm of the ratio."""
    amount = record.eaten.get(day.date, {}).get(day.tested or "", 0.0)
    return abs(log(amount / day.fodmap_g)) if day.fodmap_g and amount > 0 else inf


def _course(file: Plan, tested: str, cycle: int | None) -> list[PlanDay]:
    return [day for day in file if day.tested == tested and day.cycle == cycle]


def _taken(day: PlanDay, record: Record) -> bool:
    """Whether the dose of a day was eaten; a sachet tells which one it is."""
    names = record.sachets.get(day.date)
    if not day.sealed or not names:
        return dose_eaten(day, record)
    sachet = find_sachet(day.food)
    return sachet is not None and sachet.name in names


def _next_step(
    file: Plan,
    plan: Plan,
    record: Record,
    settings: Settings,
    tested: str,
    cycle: int | None,
    date: dt.date,
) -> PlanDay | None:
    """The first step of a challenge that was not eaten before a date."""
    course = _course(file, tested, cycle)
    steps = sorted({day.step or 1 for day in course})
    needed = min(sum(day.step == step for day in course) for step in steps)
    if not course[0].sealed:
        # a challenge that was missed and laid again stands in the file twice
        needed = min(needed, settings.protocol.days_per_step)
    done = [
        day.step for day in _course(plan, tested, cycle) if day.date < date and _taken(day, record)
    ]
    open_step = next((step for step in steps if done.count(step) < needed), None)
    days = [day for day in course if day.step == open_step]
    return max(
        (day for day in days if day.date < date),
        default=next(iter(days), None),
        key=lambda day: day.date,
    )


def _another_step(
    file: Plan, plan: Plan, planned: PlanDay, record: Record, settings: Settings
) -> PlanDay | None:
    """The step that was next, if it and not the one of that day was eaten."""
    tested = planned.tested or ""
    open_day = _next_step(file, plan, record, settings, tested, planned.cycle, planned.date)
    if open_day is None or (_taken(planned, record) and _distance(planned, record) <= _SAME):
        return None
    taken = replace(open_day, date=planned.date)
    if planned.sealed:
        return taken if _taken(taken, record) and not _taken(planned, record) else None
    return taken if _distance(taken, record) < _distance(planned, record) else None


def _made_up(
    file: Plan, plan: Plan, record: Record, settings: Settings, tested: str, date: dt.date
) -> PlanDay | None:
    """The step that was next, of a challenge that had begun or that a stop moved forward."""
    days = [day for day in file if day.tested == tested]
    if not days:
        return None
    courses = progress(plan, record.before(date), settings, date).courses
    any_stop = any(course.stop is not None for course in courses.values())
    for cycle in dict.fromkeys(day.cycle for day in days):
        course = courses.get((tested, cycle or 1))
        open_day = _next_step(file, plan, record, settings, tested, cycle, date)
        if open_day is None or (course is not None and course.stop is not None):
            continue
        taken = replace(open_day, date=date)
        if not _taken(taken, record):
            continue
        past = any(day.date < date for day in _course(file, tested, cycle))
        if not past and not any_stop and not _begun(plan, record, open_day, date):
            continue
        if taken.sealed or _distance(taken, record) <= (_MOST if open_day.date < date else _SAME):
            return taken
    return None


def _begun(plan: Plan, record: Record, day: PlanDay, date: dt.date) -> bool:
    """Whether a dose of the same challenge was eaten before a date."""
    return any(
        other.date < date and _taken(other, record)
        for other in _course(plan, day.tested or "", day.cycle)
    )


def _with(plan: Plan, day: PlanDay) -> Plan:
    before = [other for other in plan if other.date < day.date]
    after = [other for other in plan if other.date > day.date]
    return replace(
        plan,
        days=(*before, *bridge(before, day.date), day, *after),
        ladders={group: plan.steps(group) for group in plan.groups()},
    )
