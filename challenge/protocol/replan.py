"""Lay the rest of a plan again from what the diary says; the past stays as it was."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from challenge.foods import find_food
from challenge.protocol.away import days_to_look
from challenge.protocol.blinding import sealed_periods
from challenge.protocol.moved import why_moved
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import (
    LEAST_BASELINE_DAYS,
    CourseProgress,
    Progress,
    progress,
)
from challenge.protocol.record import Record
from challenge.protocol.schedule import (
    Baseline,
    Course,
    Piece,
    Washout,
    between_steps,
    cleared_sources,
    courses,
    lay,
    washed_out,
    washout_lengths,
)
from challenge.protocol.screening import screen
from challenge.terms import FodmapGroup

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings, Settings

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class Replan:
    """A plan laid again.

    Attributes
    ----------
    plan
        Past days as they were, the others anew.
    progress
        Where the client stood.
    changed
        The days from today on differ from those of the old plan.
    reasons
        Why, in sentences; empty if nothing moved it.
    rules
        The rules it was laid by.
    """

    plan: Plan
    progress: Progress
    changed: bool
    reasons: tuple[str, ...]
    rules: ProtocolSettings


def replan(plan: Plan, record: Record, settings: Settings, today: dt.date) -> Replan:
    """Lay the days from today on again.

    A day whose dose was eaten is past, today's included. Without any diary nothing is known of
    the past, and it is taken to have gone as planned.

    Parameters
    ----------
    plan
        The plan as it is.
    record
        The diary so far.
    settings
        The client's settings, as they are now.
    today
        First day that may change.

    Raises
    ------
    ChallengeError
        If the screening or the doses allow no plan any more.
    """
    settings = _as_laid(plan, settings)
    scored = not record.empty
    known = record if scored else _as_if_followed(plan, today)
    standing = progress(plan, known, settings, today)
    first = today + _DAY if standing.dose_eaten_today else today
    if len(plan):
        first = max(first, plan.days[0].date)
    past = tuple(day for day in plan if day.date < first)
    before = (*past, *bridge(past, first))
    standing = _asked_later(standing, record, first, settings)
    sealed = sealed_periods(plan, settings)
    pieces = _pieces(before, record, standing, settings, first, sealed, _as_planned(plan, settings))
    after = standing.washout.fodmap_group if standing.washout else None
    future = lay(pieces, first, (*settings.protocol.closed, *standing.held), after)
    new = Plan((*before, *future) if future else past, plan.trial)
    return Replan(
        plan=new,
        progress=standing,
        changed=[d for d in plan if d.date >= today] != [d for d in new if d.date >= today],
        reasons=why_moved(plan, before, future, record, standing, settings),
        rules=settings.protocol,
    )


def _asked_later(
    standing: Progress, record: Record, first: dt.date, settings: Settings
) -> Progress:
    """Do not call a washout too long for the time in which nothing was planned."""
    washout = standing.washout
    if washout is None or not days_to_look(record, first, standing, settings.protocol):
        return standing
    return replace(standing, washout=replace(washout, ask=False))


def _as_laid(plan: Plan, settings: Settings) -> Settings:
    """Keep the longer washouts of a plan laid by hand, unless client.toml says how long they are.

    One washout alone may be long because symptoms had not settled.
    """
    protocol = settings.protocol
    lengths = washout_lengths(plan)
    laid = min(lengths) if len(lengths) > 1 else 0
    if "washout_days" in protocol.model_fields_set or laid <= protocol.washout_days:
        return settings
    longer = {"washout_days": laid, "washout_max_days": max(laid, protocol.washout_max_days)}
    return settings.model_copy(update={"protocol": protocol.model_copy(update=longer)})


def _written(
    plan: Plan, settings: Settings
) -> dict[tuple[FodmapGroup | None, int | None], PlanDay]:
    """Foods and doses of the plan that stay, by group and step.

    A plan may have been written by hand. What client.toml says of a group's dose goes before it,
    and so does the screening: a food that it holds up, or cannot judge, is chosen anew.
    """
    clearance = screen(settings.screening)
    stays: dict[tuple[FodmapGroup | None, int | None], PlanDay] = {}
    for day in plan:
        if day.phase != "challenge" or day.fodmap_group in settings.protocol.doses:
            continue
        food = find_food(day.food)
        unknown = food is None and clearance.concerns_foods()
        if not unknown and not clearance.because(day.fodmap_group, food):
            stays[day.fodmap_group, day.step] = day
    return stays


def _as_planned(plan: Plan, settings: Settings) -> list[Course]:
    """Every challenge of the protocol, with foods, doses and order of the plan where it has them.

    The client has bought the next food of the plan; what the plan does not know comes last. Only
    an order that client.toml gives goes before that of the plan.
    """
    protocol = settings.protocol
    written = _written(plan, settings)
    found = [
        replace(course, days=tuple(_as_written(day, written) for day in course.days))
        for course in courses(protocol, cleared_sources(settings))
    ]
    if protocol.model_fields_set & {"groups", "order"}:
        return found
    place: dict[tuple[str, int], int] = {}
    for day in plan:
        if day.phase == "challenge" and day.fodmap_group:
            place.setdefault((day.fodmap_group, day.cycle or 1), len(place))
    return sorted(
        found, key=lambda course: place.get((course.fodmap_group, course.cycle), len(place))
    )


def _as_written(
    day: PlanDay, written: Mapping[tuple[FodmapGroup | None, int | None], PlanDay]
) -> PlanDay:
    old = written.get((day.fodmap_group, day.step))
    if day.phase != "challenge" or old is None:
        return day
    return replace(day, food=old.food, portion_g=old.portion_g, fodmap_g=old.fodmap_g)


def bridge(past: Sequence[PlanDay], first: dt.date) -> list[PlanDay]:
    """Rest days between the old plan's end and ``first``, for a client who comes back late."""
    date = past[-1].date + _DAY if past else first
    return [PlanDay(date=date + n * _DAY, phase="rest") for n in range((first - date).days)]


def _as_if_followed(plan: Plan, today: dt.date) -> Record:
    """The doses of a client of whom nothing was written down, taken to have gone as planned."""
    eaten: dict[dt.date, dict[str, float]] = {
        day.date: {day.tested: 1.0 if day.sealed else day.fodmap_g or 0.0}
        for day in plan
        if day.tested is not None and day.date < today
    }
    return Record(scores={}, eaten=eaten)


def _pieces(
    before: Sequence[PlanDay],
    record: Record,
    standing: Progress,
    settings: Settings,
    first: dt.date,
    sealed: Sequence[Course],
    others: Sequence[Course],
) -> list[Piece]:
    """What is left after what was done."""
    protocol, scored = settings.protocol, not record.empty
    running: list[Course] = []
    waiting: list[Course] = []
    begun = any(standing.courses.get((course.fodmap_group, 1)) for course in sealed)
    # a blinded challenge comes last, but nothing is put into the middle of it
    for course in (*sealed, *others) if begun else (*others, *sealed):
        done = standing.courses.get((course.fodmap_group, course.cycle))
        if done is None or done.last_dose is None:
            waiting.append(course)
        elif done.stop is None:
            left = _left(course, done, protocol, first)
            if left.days:
                running.append(left)
    pieces: list[Piece] = []
    washout = standing.washout
    if washout is None:
        pieces.append(Baseline(days=_baseline_left(before, standing, protocol, scored)))
    # a challenge under way goes on before anything else; one that ended is washed out first
    elif running and running[0].fodmap_group == washout.fodmap_group:
        look = days_to_look(record, first, standing, protocol)
        pieces.append(Washout(fodmap_group=washout.fodmap_group, days=look))
    else:
        left_days = max(protocol.washout_days - washout.days, 0)
        # after the last challenge nothing waits for symptoms to settle: the plan ends
        if running or waiting:
            least = 1 if scored and not washout.over else 0
            left_days = max(left_days, least, days_to_look(record, first, standing, protocol))
        pieces.append(Washout(fodmap_group=washout.fodmap_group, days=left_days))
    return pieces + washed_out((*running, *waiting), protocol)


def _left(
    course: Course, done: CourseProgress, protocol: ProtocolSettings, first: dt.date
) -> Course:
    """The days of a challenge that are still to be eaten, with the days between its steps."""
    gap = between_steps(protocol, course.fodmap_group)
    waited = (first - done.last_dose).days - 1 if done.last_dose else 0
    days: list[PlanDay] = []
    for step in dict.fromkeys(day.step for day in course.days if day.step):
        planned = sum(day.step == step for day in course.days)
        left = done.owed(step, planned)
        if not left:
            continue
        if days:
            days += gap
        elif left == planned and step > 1:
            days += gap[waited:]
        days += [next(day for day in course.days if day.step == step)] * left
    return Course(fodmap_group=course.fodmap_group, cycle=course.cycle, days=tuple(days))


def _baseline_left(
    past: Sequence[PlanDay], standing: Progress, protocol: ProtocolSettings, scored: bool
) -> int:
    planned = protocol.baseline_days - sum(day.phase == "baseline" for day in past)
    least = min(LEAST_BASELINE_DAYS, protocol.baseline_days) if scored else 0
    return max(planned, least - standing.baseline_days, 0)
