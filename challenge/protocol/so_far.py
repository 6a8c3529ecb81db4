"""The part of a plan that can be judged by now: what has not come yet was not missed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import replace

from challenge.protocol.plan import Plan, PlanDay


def plan_so_far(
    plan: Plan, today: dt.date, eaten: Collection[tuple[dt.date, str]], entered: dt.date | None
) -> Plan:
    """Return the days that are over, and all days of the challenges that have begun.

    A challenge has begun when a day of it is over or a dose of it was eaten; its later steps stay,
    for they are what it is about.

    Parameters
    ----------
    plan
        All of it.
    today
        The day asked about; it is not over.
    eaten
        Days and groups (or periods, while sealed) of the doses in the diary.
    entered
        Day of the last entry, which counts as over; None without one.
    """
    last = max(today - dt.timedelta(days=1), entered or dt.date.min)
    begun = {
        _course(day)
        for day in plan
        if day.phase == "challenge" and (day.date < today or (day.date, day.tested) in eaten)
    }
    return replace(
        plan,
        days=tuple(
            day
            for day in plan
            if (_course(day) in begun if day.phase == "challenge" else day.date <= last)
        ),
    )


def _course(day: PlanDay) -> tuple[str | None, int | None]:
    return day.tested, day.cycle
