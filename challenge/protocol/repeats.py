"""What may be eaten again, and as which cycle: a challenge that left its question open."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from challenge.errors import ChallengeError
from challenge.problems import Problem
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import dose_eaten
from challenge.protocol.record import Record
from challenge.protocol.schedule import cycles_of
from challenge.terms import GROUPS_AND_CONTROL, FodmapGroup

if TYPE_CHECKING:
    from challenge.protocol.settings import RepeatSettings, Settings

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
        The plan as it is.
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
        why = _why_not(group, steps, days, record, today)
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


def _why_not(
    group: FodmapGroup,
    steps: Sequence[int],
    days: Sequence[PlanDay],
    record: Record,
    today: dt.date,
) -> str:
    """Why a group cannot be repeated now; empty if it can."""
    if not days:
        return f"{group} has not been challenged, so there is nothing to repeat."
    waiting = [day for day in days if day.date >= today and not dose_eaten(day, record)]
    if waiting:
        step, date = waiting[0].step, waiting[0].date
        return f"Step {step} of {group} stands in the plan already, on {date}."
    known = sorted({day.step or 1 for day in days})
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


def _listed(steps: Sequence[int]) -> str:
    return ", ".join(str(step) for step in steps)
