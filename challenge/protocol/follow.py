"""What a client did who followed `challenge today`: it lays the plan again, plan.csv does not.

A dose that was missed moves the rest by a day. Until the dietitian lays the plan again, the file
has another dose on that day, or none, and what the client ate as asked would count for nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from math import inf, log
from typing import TYPE_CHECKING, Final

from challenge.errors import ChallengeError
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import dose_eaten
from challenge.protocol.record import Record
from challenge.protocol.replan import bridge, replan

if TYPE_CHECKING:
    from challenge.protocol.settings import Settings

_AS_PLANNED: Final = log(1.25)
"""An amount within a quarter of a dose is that dose (own inference, no source)."""


def followed(plan: Plan, record: Record, settings: Settings, today: dt.date) -> Plan:
    """Return the plan with the doses that were eaten on the days on which they were asked for.

    Parameters
    ----------
    plan
        The plan on file.
    record
        The diary so far.
    settings
        The client's settings.
    today
        Last day looked at.
    """
    if not len(plan):
        return plan
    challenges = {(day.tested, day.cycle) for day in plan if day.tested}
    for date in sorted(record.eaten):
        if not plan.days[0].date <= date <= today:
            continue
        planned = plan.on(date)
        if not any(record.eaten[date].values()) or _distance(planned, record) <= _AS_PLANNED:
            continue
        asked = _asked(plan, record, settings, date)
        # a challenge that the file does not have at all was nobody's to ask for
        if asked is None or (asked.tested, asked.cycle) not in challenges:
            continue
        if _distance(asked, record) <= _AS_PLANNED:
            plan = _with(plan, asked)
    return plan


def _distance(day: PlanDay | None, record: Record) -> float:
    """How far what was eaten is from a day's dose, as the logarithm of the ratio."""
    if day is None or day.tested is None or not dose_eaten(day, record):
        return inf
    if not day.fodmap_g:
        return 0.0
    return abs(log(record.eaten[day.date][day.tested] / day.fodmap_g))


def _asked(plan: Plan, record: Record, settings: Settings, date: dt.date) -> PlanDay | None:
    """Return what the plan, laid again on that morning, had for the day."""
    try:
        return replan(plan, record.before(date), settings, date).plan.on(date)
    except ChallengeError:
        return None


def _with(plan: Plan, day: PlanDay) -> Plan:
    before = [other for other in plan if other.date < day.date]
    after = [other for other in plan if other.date > day.date]
    return replace(
        plan,
        days=(*before, *bridge(before, day.date), day, *after),
        ladders={group: plan.steps(group) for group in plan.groups()},
    )
