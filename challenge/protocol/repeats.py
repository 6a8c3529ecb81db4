"""What may be eaten again, and as which cycle: a challenge that left its question open."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from challenge.errors import ChallengeError
from challenge.problems import Problem
from challenge.protocol.doses import Source, choose_sources
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import CourseProgress, Progress, dose_eaten, progress
from challenge.protocol.record import Record
from challenge.protocol.schedule import cycles_of
from challenge.protocol.screening import screen
from challenge.terms import CONTROL, GROUPS_AND_CONTROL, FodmapGroup

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings, RepeatSettings, Settings

_STEPS: Final = re.compile(r"(\d{1,2})(?:-(\d{1,2}))?")


def add_repeats(
    wanted: Sequence[str], plan: Plan, record: Record, settings: Settings, today: dt.date
) -> tuple[RepeatSettings, ...]:
    """Return the repeats of the settings with those wanted behind them.

    Parameters
    ----------
    wanted
        What is to be eaten again: ``lactose``, ``lactose=2``, ``lactose=1-3`` or ``lactose=1,2``;
        without steps the whole challenge.
    plan
        The plan, its rest laid again as of today.
    record
        The diary so far.
    settings
        The client's settings.
    today
        First day that may change.

    Raises
    ------
    ChallengeError
        With everything that cannot be laid, and why.
    """
    from challenge.protocol.settings import RepeatSettings

    sources, left_out = choose_sources(settings, screen(settings.screening))
    standing = progress(plan, record, settings, today)
    repeats = list(settings.protocol.repeats)
    whys = []
    named: set[FodmapGroup] = set()
    for text in wanted:
        read = _read(text)
        if read is None:
            whys.append(
                f"{text!r} is no challenge to repeat: write a group, and its steps where not all "
                "are wanted, such as lactose, lactose=2 or lactose=1-3. The groups are "
                f"{', '.join(GROUPS_AND_CONTROL)}."
            )
            continue
        group, steps = read
        days = [day for day in plan if day.phase == "challenge" and day.fodmap_group == group]
        why = (
            _never_laid(group, sources, left_out, settings.protocol)
            or _not_now(group, days, record, today)
            or _not_these(group, steps, sources, days, record)
            or _above_a_stop(group, steps, standing)
        )
        if not why and group in named:
            why = f"{group} is named twice: look at one repeat before another is laid."
        named.add(group)
        if why:
            whys.append(why)
            continue
        cycles = [cycles_of(settings.protocol, group), *(day.cycle or 1 for day in days)]
        cycles += [repeat.cycle for repeat in repeats if repeat.fodmap_group == group]
        repeats.append(RepeatSettings(fodmap_group=group, cycle=max(cycles) + 1, steps=steps))
    if whys:
        raise ChallengeError(
            "No repeat was laid, and nothing was written.",
            [Problem(code="repeat-not-laid", severity="error", message=why) for why in whys],
        )
    return tuple(repeats)


def _read(text: str) -> tuple[FodmapGroup, tuple[int, ...]] | None:
    name, equals, rest = text.partition("=")
    group = next((g for g in GROUPS_AND_CONTROL if g == name.strip().lower()), None)
    parts = [_STEPS.fullmatch(part.strip()) for part in rest.split(",")] if equals else []
    steps: set[int] = set()
    for part in parts:
        if part is None:
            return None
        first = int(part[1])
        steps.update(range(first, int(part[2] or first) + 1))
    return None if group is None or (equals and not steps) else (group, tuple(sorted(steps)))


def _never_laid(
    group: FodmapGroup,
    sources: Mapping[FodmapGroup, Source],
    left_out: Sequence[Problem],
    protocol: ProtocolSettings,
) -> str:
    """Why the plan would have no day of a group, whatever was asked for; empty if it would."""
    if group in sources:
        return ""
    if group == CONTROL and not protocol.control:
        return "client.toml asks for no control challenge: --control lays one."
    if group != CONTROL and group not in protocol.groups:
        return f"{group} is not among the groups of client.toml."
    return next(
        (problem.message for problem in left_out if problem.message.startswith(group)),
        f"{group} is held up by the screening.",
    )


def _not_now(group: FodmapGroup, days: Sequence[PlanDay], record: Record, today: dt.date) -> str:
    if record.empty:
        return f"Nothing is in the diary yet, so there is nothing to repeat {group} for."
    if not days:
        return f"{group} has not been challenged, so there is nothing to repeat."
    waiting = [day for day in days if day.date >= today and not dose_eaten(day, record)]
    if waiting:
        step, date = waiting[0].step, waiting[0].date
        return f"Step {step} of {group} stands in the plan already, on {date}."
    return ""


def _not_these(
    group: FodmapGroup,
    steps: Sequence[int],
    sources: Mapping[FodmapGroup, Source],
    days: Sequence[PlanDay],
    record: Record,
) -> str:
    known = [step.step for step in sources[group].steps]
    if unknown := [step for step in steps if step not in known]:
        return f"{group} has no step {_listed(unknown)}; it has {_listed(known)}."
    eaten = {day.step or 1 for day in days if dose_eaten(day, record)}
    for step in steps:
        if step > 1 and step not in eaten and step - 1 not in eaten.union(steps):
            return (
                f"Step {step} of {group} comes only after step {step - 1}, and neither has been "
                "eaten."
            )
    return ""


def _above_a_stop(group: FodmapGroup, steps: Sequence[int], standing: Progress) -> str:
    """Why steps above one that ended a challenge are not laid alone before it went well."""
    courses = [course for (name, _), course in standing.courses.items() if name == group]
    well = max((max(c.eaten, default=0) for c in courses if c.stop is None), default=0)
    ends = [(_last_step(course), course.stop) for course in courses if course.stop is not None]
    ended, stop = min(
        ((step, stop) for step, stop in ends if step > well),
        key=lambda end: end[0],
        default=(0, None),
    )
    if stop is None:
        return ""
    above = [step for step in steps if step > ended]
    if not above or ended in steps:
        return ""
    return (
        f"The challenge of {group} ended after step {ended} ({stop.words}), and step "
        f"{above[0]} lies above it. Lay {group}={ended}, or {group}=1-{above[-1]}."
    )


def _last_step(course: CourseProgress) -> int:
    """Highest step eaten until the challenge ended."""
    end = course.stop.date if course.stop is not None else dt.date.max
    ill = (step for date, step, _ in course.left_out if date <= end)
    return max((*course.eaten, *ill), default=1)


def _listed(steps: Sequence[int]) -> str:
    return ", ".join(str(step) for step in steps)
