"""Why a plan that was laid again has moved, in sentences for the dietitian."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from challenge.protocol.away import days_away, days_to_look
from challenge.protocol.blinding import trial_held
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import CourseProgress, Progress
from challenge.protocol.record import Record
from challenge.protocol.schedule import cycles_of
from challenge.terms import GROUPS_AND_CONTROL

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings, Settings

_DAY = dt.timedelta(days=1)


def why_moved(
    plan: Plan,
    before: Sequence[PlanDay],
    future: Sequence[PlanDay],
    record: Record,
    standing: Progress,
    settings: Settings,
) -> tuple[str, ...]:
    """Return the reasons, a sentence each.

    Parameters
    ----------
    plan
        The plan as it was.
    before, future
        The days of the new plan that stay as they were, and those laid again.
    record
        The diary so far.
    standing
        Where the client stands.
    settings
        The client's settings.
    """
    return (
        *_given_up(plan, before, future, standing, settings.protocol),
        *_been_away(future, record, standing, settings.protocol),
        *(_by_diary(standing, settings, future) if not record.empty else ()),
        *_sealed_held(plan, settings),
    )


def _given_up(
    plan: Plan,
    before: Sequence[PlanDay],
    future: Sequence[PlanDay],
    standing: Progress,
    protocol: ProtocolSettings,
) -> list[str]:
    """Name repeats that the old plan had and client.toml does not ask for."""
    asked = {(again.fodmap_group, again.cycle) for again in protocol.repeats}
    stopped = {key for key, course in standing.courses.items() if course.stop is not None}
    coming = [day for day in plan if not before or day.date > before[-1].date]
    gone = {
        (day.fodmap_group, day.cycle or 1)
        for day in coming
        if day.phase == "challenge" and day.fodmap_group
    } - {(day.fodmap_group, day.cycle or 1) for day in future if day.fodmap_group}
    return [
        f"Challenge {cycle} of {group} is not laid again: client.toml does not ask for it. "
        f"`challenge plan CLIENT --repeat {group}` does."
        for group, cycle in sorted(gone)
        if cycle > cycles_of(protocol, group) and (group, cycle) not in {*asked, *stopped}
    ]


def _been_away(
    future: Sequence[PlanDay],
    record: Record,
    standing: Progress,
    protocol: ProtocolSettings,
) -> list[str]:
    """Say why days without a dose come first."""
    if standing.washout is None or not any(day.tested for day in future):
        return []
    left = days_to_look(record, future[0].date, standing, protocol)
    if not left:
        return []
    away, _ = days_away(record, future[0].date, standing, protocol)
    days = "1 day" if left == 1 else f"{left} days"
    return [
        f"Nothing was entered for {away} days: {days} without a dose come first, to see how "
        "symptoms are now."
    ]


def _sealed_held(plan: Plan, settings: Settings) -> list[str]:
    why = trial_held(plan.trial, settings) if plan.trial is not None else ""
    return [f"The blinded challenge is held up: {why}"] if why else []


def _by_diary(standing: Progress, settings: Settings, future: Sequence[PlanDay]) -> list[str]:
    reasons = []
    for course in standing.courses.values():
        name = course.fodmap_group
        if course.stop is not None:
            reasons.append(f"{name} ended on {course.stop.date}: {course.stop.words}.")
            if course.stop_left_out is not None:
                reasons.append(
                    f"The analysis leaves {course.stop.date} out ({course.stop_left_out}): whether "
                    f"{name} did it, that day cannot tell.{_how_again(course, standing, future)}"
                )
            continue
        missed = [
            (date, step)
            for date, step in course.missed
            if course.owed(step, settings.protocol.days_per_step)
        ]
        if len(missed) == 1:
            date, step = missed[0]
            reasons.append(f"Step {step} of {name} was not eaten on {date}: it is laid again.")
        elif missed:
            first, last = missed[0][0], missed[-1][0]
            reasons.append(
                f"{len(missed)} doses of {name} were not eaten, {first} to {last}: they are laid "
                "again."
            )
        reasons += _told_nothing(course, settings.protocol)
    washout = standing.washout
    goes_on = any(day.phase == "washout" and day.date == standing.today for day in future)
    if (
        goes_on
        and washout is not None
        and washout.days >= settings.protocol.washout_days
        and not washout.over
    ):
        why = {
            "no": "symptoms are not back at baseline",
            "unknown": "there are no scores to judge it by",
        }[washout.settled if washout.settled != "yes" else "no"]
        reasons.append(f"Washout after {washout.fodmap_group} goes on: {why}.")
    for span in standing.held:
        if span.end >= standing.today:
            reasons.append(f"Nothing starts until {span.end + _DAY}: {span.reason}.")
    return reasons


def _how_again(course: CourseProgress, standing: Progress, future: Sequence[PlanDay]) -> str:
    """Say how a challenge is laid again that is neither sealed nor in the plan already."""
    name = course.fodmap_group
    later = [
        *(other.cycle for other in standing.courses.values() if other.fodmap_group == name),
        *(day.cycle or 1 for day in future if day.tested == name),
    ]
    if name not in GROUPS_AND_CONTROL or max(later) > course.cycle:
        return ""
    return f" `challenge plan CLIENT --repeat {name}` lays it again."


def _told_nothing(course: CourseProgress, protocol: ProtocolSettings) -> list[str]:
    """Name the doses that are laid again because the analysis leaves their days out."""
    return [
        f"Step {step} of {course.fodmap_group} was eaten on {date}, a day that the analysis leaves "
        f"out ({why}): it tells nothing and is laid again."
        for date, step, why in course.left_out
        if course.owed(step, protocol.days_per_step)
    ]
