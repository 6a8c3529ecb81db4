"""The calendar of a plan as a table: one line per stretch of like days, doses singly."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from challenge.protocol.plan import Plan, PlanDay

_MARK: Final = "> "
_COLUMNS: Final = 80
_GRAMS: Final = 6


def table(plan: Plan, today: dt.date) -> Iterator[str]:
    """Give the lines of the table; what does not fit 80 columns goes on below.

    Parameters
    ----------
    plan
        At least one day.
    today
        The day to be marked.
    """
    first = plan.days[0].date
    last = plan.days[-1].date
    marked = f" ({_MARK.strip()} marks today)" if first <= today <= last else ""
    yield f"{len(plan)} days, {first:%a %d %b %Y} to {last:%a %d %b %Y}{marked}"
    rows = [(start, end, _what(start)) for start, end in _stretches(plan)]
    width = max(
        (
            len(what) + max(len(_grams(start)) - _GRAMS + 1, 0)
            for start, _, what in rows
            if start.phase == "challenge"
        ),
        default=4,
    )
    yield f"{'date':<10}{'day':>4}  {'step':<{width}}{'grams':>{_GRAMS}}  portion"
    for start, end, what in rows:
        mark = _MARK if start.date <= today <= end.date else "  "
        line = f"{start.date:%a %d %b}{(start.date - first).days + 1:>4}{mark}"
        if start.phase == "challenge":
            line += f"{what:<{width}}{_grams(start):>{_GRAMS}}  "
            food, household = _portion(start)
            if len(line) + len(food) + len(household) > _COLUMNS:
                yield line + food
                yield " " * len(line) + household.lstrip()
                continue
            line += food + household
        else:
            line += what + _length(start, end)
        yield line.rstrip()


def _stretches(plan: Plan) -> list[tuple[PlanDay, PlanDay]]:
    stretches: list[tuple[PlanDay, PlanDay]] = []
    for day in plan:
        if stretches and day.phase != "challenge":
            first, last = stretches[-1]
            if (last.phase, last.fodmap_group) == (day.phase, day.fodmap_group):
                stretches[-1] = (first, day)
                continue
        stretches.append((day, day))
    return stretches


def _what(day: PlanDay) -> str:
    if day.phase != "challenge":
        return day.phase + (f" after {day.fodmap_group}" if day.fodmap_group else "")
    if day.sealed:
        return "blinded"
    again = f", cycle {day.cycle}" if day.cycle and day.cycle > 1 else ""
    return f"{day.fodmap_group} {day.step}{again}"


def _length(first: PlanDay, last: PlanDay) -> str:
    count = (last.date - first.date).days + 1
    return f", {count} days, to {last.date:%a %d %b}" if count > 1 else ", 1 day"


def _grams(day: PlanDay) -> str:
    if day.sealed:
        return "sealed"
    return "" if day.fodmap_g is None else f"{day.fodmap_g:g} g"


def _portion(day: PlanDay) -> tuple[str, str]:
    """The food with its weight, and the household measure."""
    from challenge.foods import find_food

    if day.portion_g is None:
        return "", ""
    food = find_food(day.food)
    unit = food.unit if food is not None else "g"
    household = food.in_household_measure(day.portion_g) if food is not None else None
    return f"{day.portion_g:g} {unit} {day.food}", f" ({household})" if household else ""
