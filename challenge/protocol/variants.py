"""The same plan with more days in it: longer baseline, one more cycle, a control challenge.

Variants are made from the plan's own days, so they can be had of any plan, whatever rules it was
laid by. They are for comparing designs, not for following: closed dates move with the days.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from challenge.protocol.plan import Plan, PlanDay
from challenge.terms import CONTROL

_DAY = dt.timedelta(days=1)
_CONTROL_FOOD = "pure glucose"


def longer_baseline(plan: Plan, days: int) -> Plan:
    """Return the plan with so many more baseline days at its start."""
    first = plan.days[0].date
    return _dated([*[PlanDay(date=first, phase="baseline")] * days, *plan], first)


def one_more_cycle(plan: Plan) -> Plan:
    """Return the plan with every group challenged once more at its end."""
    more: list[PlanDay] = []
    for group in plan.groups():
        last = max(day.cycle or 1 for day in plan if day.fodmap_group == group and day.step)
        again = _fullest_course(plan, group)
        more += [replace(day, cycle=last + 1) if day.step else day for day in again]
    return _dated([*plan, *more], plan.days[0].date)


def with_control(plan: Plan) -> Plan:
    """Return the plan with a glucose challenge at its end for every cycle of the first group.

    It copies the days and grams of that group, so that the amount does not give it away.
    """
    pattern = plan.groups()[0]
    cycles = sorted({day.cycle or 1 for day in plan if day.fodmap_group == pattern and day.step})
    more = [_as_control(day, cycle) for cycle in cycles for day in _fullest_course(plan, pattern)]
    return _dated([*plan, *more], plan.days[0].date)


def _as_control(day: PlanDay, cycle: int) -> PlanDay:
    if day.step:
        return replace(
            day, fodmap_group=CONTROL, cycle=cycle, food=_CONTROL_FOOD, portion_g=day.fodmap_g
        )
    return replace(day, fodmap_group=CONTROL) if day.fodmap_group else day


def _fullest_course(plan: Plan, group: str) -> list[PlanDay]:
    """One challenge of a group with its washout: the one with the most doses."""
    courses: list[list[PlanDay]] = []
    running: tuple[str | None, int | None] | None = None
    for day in plan:
        if day.step and (day.fodmap_group, day.cycle) != running:
            running = (day.fodmap_group, day.cycle)
            courses.append([])
        if courses and running is not None and running[0] == group:
            courses[-1].append(day)
    fullest = max(courses, key=lambda days: sum(bool(day.step) for day in days))
    last = max(place for place, day in enumerate(fullest) if day.step)
    # rest behind the last dose is a holiday, not part of the design
    return [d for place, d in enumerate(fullest) if place < last or d.phase != "rest"]


def _dated(days: Iterable[PlanDay], first: dt.date) -> Plan:
    return Plan(tuple(replace(day, date=first + n * _DAY) for n, day in enumerate(days)))
