"""The rules laid on dates: baseline, then challenge and washout of one group after the other."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from challenge.errors import ChallengeError
from challenge.problems import Problem, errors_in
from challenge.protocol.doses import Source, choose_sources
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.screening import screen
from challenge.terms import GROUPS_AND_CONTROL, FodmapGroup, Phase

if TYPE_CHECKING:
    from challenge.protocol.settings import ClosedDates, ProtocolSettings, Settings

_DAY = dt.timedelta(days=1)
_ANY_DATE = dt.date.min


@dataclass(frozen=True, kw_only=True, slots=True)
class Baseline:
    """Days on the background diet before anything starts."""

    days: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Washout:
    """Days without a dose after a challenge of a group, or of ``sachet A`` while that is sealed."""

    fodmap_group: str
    days: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Course:
    """One challenge of one group: consecutive days, which no closed date may interrupt.

    ``days`` are days of the plan whose dates are still to be set. While its group is sealed,
    ``fodmap_group`` is ``sachet A``.
    """

    fodmap_group: str
    cycle: int
    days: tuple[PlanDay, ...]


Piece = Baseline | Washout | Course


def build_plan(settings: Settings, start: dt.date, sealed: Sequence[Course] = ()) -> Plan:
    """Lay a client's protocol on dates.

    Parameters
    ----------
    settings
        The client's settings; screening, diet and protocol count.
    start
        First day of the baseline.
    sealed
        Periods of a blinded challenge, which come after all others.

    Returns
    -------
    Plan
        Every day from ``start`` to the last washout day. A group or food that screening holds up
        is not in it.

    Raises
    ------
    ChallengeError
        If screening blocks everything or the doctor is to be asked first, if a dose cannot be
        eaten as set, or if nothing is left to test.
    """
    sources = cleared_sources(settings)
    pieces: list[Piece] = [Baseline(days=settings.protocol.baseline_days)]
    pieces += washed_out((*courses(settings.protocol, sources), *sealed), settings.protocol)
    return Plan(tuple(lay(pieces, start, settings.protocol.closed)))


def washout_lengths(plan: Plan) -> list[int]:
    """Return the days of each washout, rest days left aside."""
    return [
        sum(1 for _ in run)
        for phase, run in groupby(day.phase for day in plan if day.phase != "rest")
        if phase == "washout"
    ]


def washed_out(those: Iterable[Course], protocol: ProtocolSettings) -> list[Piece]:
    """Return challenges, each with its washout behind it."""
    pieces: list[Piece] = []
    for course in those:
        pieces.append(course)
        pieces.append(Washout(fodmap_group=course.fodmap_group, days=protocol.washout_days))
    return pieces


def cleared_sources(settings: Settings) -> dict[FodmapGroup, Source]:
    """Return what each group is tested with, or say why no plan can be laid.

    Raises
    ------
    ChallengeError
        As for `build_plan`.
    """
    clearance = screen(settings.screening)
    if clearance.result() != "go":
        raise ChallengeError(
            "No challenge can be planned: the screening holds it up.", clearance.problems()
        )
    sources, problems = choose_sources(settings, clearance)
    if errors_in(problems):
        raise ChallengeError("The doses in client.toml cannot be planned.", problems)
    if not sources:
        raise ChallengeError("No group is left that this client can test.", problems)
    return sources


def courses(protocol: ProtocolSettings, sources: dict[FodmapGroup, Source]) -> tuple[Course, ...]:
    """Return every challenge of the protocol in its order, not yet on dates."""
    rng = random.Random(protocol.seed)
    repeats = {group: cycles_of(protocol, group) for group in sources}
    blocks: list[list[tuple[FodmapGroup, int]]] = []
    for cycle in range(1, max(repeats.values()) + 1):
        block = [(group, cycle) for group in sources if repeats[group] >= cycle]
        if protocol.order == "random":
            rng.shuffle(block)
        blocks.append(block)
    order = [pair for block in blocks for pair in block]
    if protocol.repeat == "together":
        place = {group: index for index, (group, _) in enumerate(blocks[0])}
        order.sort(key=lambda pair: (place[pair[0]], pair[1]))
    found = [_course(protocol, sources[group], cycle) for group, cycle in order]
    for again in protocol.repeats:
        group, cycle = again.fodmap_group, again.cycle
        if group in sources and (group, cycle) not in order:
            found.append(_course(protocol, sources[group], cycle, again.steps))
    return tuple(found)


def cycles_of(protocol: ProtocolSettings, group: FodmapGroup) -> int:
    """Return how often the protocol has a group's whole challenge."""
    dose = protocol.doses.get(group)
    return dose.cycles if dose is not None and dose.cycles else protocol.cycles


def _course(
    protocol: ProtocolSettings, source: Source, cycle: int, only: Sequence[int] = ()
) -> Course:
    days: list[PlanDay] = []
    for step in source.steps:
        if only and step.step not in only:
            continue
        if days:
            days += between_steps(protocol, source.fodmap_group)
        dose = PlanDay(
            date=_ANY_DATE,
            phase="challenge",
            cycle=cycle,
            fodmap_group=source.fodmap_group,
            step=step.step,
            food=source.food,
            portion_g=step.portion_g,
            fodmap_g=step.fodmap_g,
        )
        days += [dose] * protocol.days_per_step
    return Course(fodmap_group=source.fodmap_group, cycle=cycle, days=tuple(days))


def sealed_course(
    period: str, steps: Sequence[PlanDay], days_per_step: int, protocol: ProtocolSettings
) -> Course:
    """Return one period of a blinded challenge, from one day of each step, lowest first."""
    days: list[PlanDay] = []
    for step in steps:
        if days:
            days += between_steps(protocol, period)
        days += [step] * days_per_step
    return Course(fodmap_group=period, cycle=1, days=tuple(days))


def between_steps(protocol: ProtocolSettings, tested: str) -> list[PlanDay]:
    """Return the days between two steps: rest, or washout where they are long enough for one."""
    if protocol.days_between_steps >= protocol.washout_days:
        day = PlanDay(date=_ANY_DATE, phase="washout", fodmap_group=_group(tested))
    else:
        day = PlanDay(date=_ANY_DATE, phase="rest")
    return [day] * protocol.days_between_steps


def lay(
    pieces: Iterable[Piece],
    first: dt.date,
    closed: Sequence[ClosedDates],
    after: str | None = None,
) -> list[PlanDay]:
    """Lay pieces one after the other from a first day on.

    Closed dates become rest days and count neither as baseline nor as washout; a challenge that
    would run into them waits until they are over, and the wait is more baseline or washout.

    Parameters
    ----------
    pieces
        What to lay, in order.
    first
        Date of the first day.
    closed
        Dates on which no challenge may take place.
    after
        Group or sealed period of the latest dose before ``first``; a wait is washout after it,
        else baseline.
    """
    days: list[PlanDay] = []
    waiting = _waiting(after)

    def date() -> dt.date:
        return first + len(days) * _DAY

    for piece in pieces:
        if isinstance(piece, Course):
            while _closed(date(), len(piece.days), closed):
                days.append(_day(waiting, date(), closed))
            for template in piece.days:
                days.append(replace(template, date=date()))
            waiting = _waiting(piece.fodmap_group)
            continue
        if isinstance(piece, Washout):
            waiting = _waiting(piece.fodmap_group)
        left = piece.days
        while left > 0:
            days.append(_day(waiting, date(), closed))
            left -= days[-1].phase != "rest"
    return days


def _waiting(after: str | None) -> PlanDay:
    phase: Phase = "baseline" if after is None else "washout"
    return PlanDay(date=_ANY_DATE, phase=phase, fodmap_group=_group(after))


def _group(tested: str | None) -> FodmapGroup | None:
    """The group that is tested; None while it is sealed."""
    return next((group for group in GROUPS_AND_CONTROL if group == tested), None)


def _closed(first: dt.date, length: int, closed: Sequence[ClosedDates]) -> bool:
    last = first + (length - 1) * _DAY
    return any(span.start <= last and span.end >= first for span in closed)


def _day(template: PlanDay, date: dt.date, closed: Sequence[ClosedDates]) -> PlanDay:
    if _closed(date, 1, closed):
        return PlanDay(date=date, phase="rest")
    return replace(template, date=date)


def left_out(settings: Settings) -> list[Problem]:
    """Return which wanted groups and foods are not planned, and why."""
    return choose_sources(settings, screen(settings.screening))[1]
