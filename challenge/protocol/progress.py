"""Where a client stands: doses eaten and missed, challenges stopped, washout over or not."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from challenge.diary.disturbances import KINDS, Kind, kind_of, speaks_of
from challenge.protocol.alarms import Alarm, alarms
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.record import Record
from challenge.protocol.settings import ClosedDates
from challenge.protocol.settling import Above, symptoms_above
from challenge.protocol.stopping import Stop, baseline_days, stop_on, wish_on

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings, Settings

LEAST_BASELINE_DAYS: Final = 3
"""Scored baseline days without which nothing starts (own inference from diary trials)."""

_EATEN_SHARE: Final = 0.5  # less than half of a planned dose is a missed dose (common practice)
_FRESH_DAYS: Final = 2  # one of the last two days must be scored (own inference, no source)

CourseKey = tuple[str, int]
"""What is tested (a group, or ``sachet A`` while that is sealed), and which repeat of it."""
Settled = Literal["yes", "no", "unknown"]


@dataclass(frozen=True, kw_only=True, slots=True)
class CourseProgress:
    """One challenge of one group, as far as it got.

    Attributes
    ----------
    fodmap_group, cycle
        Which one; ``sachet A`` in place of the group while that is sealed.
    eaten
        Step -> days on which it was eaten.
    missed
        Planned days in the past on which it was not eaten, with their step.
    last_dose
        Day of the last dose; None if none was eaten.
    stop
        Why it ended early, or None.
    """

    fodmap_group: str
    cycle: int
    eaten: Mapping[int, int]
    missed: tuple[tuple[dt.date, int], ...]
    last_dose: dt.date | None
    stop: Stop | None

    @property
    def ended(self) -> dt.date | None:
        """Last day that belongs to it: the last dose, or the stop if that came later."""
        days = [day for day in (self.last_dose, self.stop.date if self.stop else None) if day]
        return max(days, default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Washout:
    """Where the washout after the latest dose stands.

    Attributes
    ----------
    fodmap_group
        The group it follows, or ``sachet A`` while that is sealed.
    days
        Full days without a dose, up to yesterday.
    settled
        Whether symptoms are back at baseline; ``unknown`` without scores.
    above
        Symptom -> points above baseline, over the days that settle it, and the limit.
    over
        Long enough and settled.
    ask
        The maximum has passed and symptoms have not settled: the dietitian is asked.
    """

    fodmap_group: str
    days: int
    settled: Settled
    above: Mapping[str, Above]
    over: bool
    ask: bool


@dataclass(frozen=True, kw_only=True)
class Progress:
    """Where a client stands on a day.

    Attributes
    ----------
    today
        The day.
    baseline
        Mean of each symptom over the scored baseline days [points].
    baseline_days
        Baseline days that were scored.
    courses
        Every challenge begun or missed so far.
    washout
        The washout after the latest dose; None before the first.
    held
        Days on which no challenge may take place because of illness or antibiotics.
    alarms
        What belongs before a doctor.
    dose_eaten_today
        The dose planned for today is in the diary.
    """

    today: dt.date
    baseline: Mapping[str, float]
    baseline_days: int
    courses: Mapping[CourseKey, CourseProgress]
    washout: Washout | None
    held: tuple[ClosedDates, ...]
    alarms: tuple[Alarm, ...]
    dose_eaten_today: bool


def progress(plan: Plan, record: Record, settings: Settings, today: dt.date) -> Progress:
    """Return where a client stands.

    Parameters
    ----------
    plan
        The plan as it is.
    record
        The diary so far; entries after today are not looked at.
    settings
        Washout, stop rule and screening of the client.
    today
        The day asked about.
    """
    usual = baseline_days(plan, record)
    baseline = {symptom: sum(means) / len(means) for symptom, means in usual.items()}
    held = illness_days(record, today, settings.kinds())
    courses = _courses(plan, record, settings.protocol, baseline, held, today)
    scored = {day.date for day in plan if day.phase == "baseline"} & record.scores.keys()
    planned = plan.on(today)
    return Progress(
        today=today,
        baseline=baseline,
        baseline_days=sum(date < today for date in scored),
        courses=courses,
        washout=_washout(courses, record, settings.protocol, usual, held, today),
        held=held,
        alarms=alarms(record, today, settings.screening.doctor_asked),
        dose_eaten_today=planned is not None and dose_eaten(planned, record),
    )


def dose_eaten(day: PlanDay, record: Record) -> bool:
    """Tell whether at least half of a day's planned dose is in the diary."""
    if day.tested is None:
        return False
    grams = record.eaten.get(day.date, {}).get(day.tested, 0.0)
    return grams > 0 and grams >= _EATEN_SHARE * (day.fodmap_g or 0.0)


def illness_days(
    record: Record, today: dt.date, kinds: Sequence[Kind] = KINDS
) -> tuple[ClosedDates, ...]:
    """Return the days on which illness, antibiotics and their like hold challenges up."""
    held = []
    for event in record.events:
        if event.start > today:
            continue
        text = f"{event.event} {event.note}"
        holding = [
            (kind.hold_days, kind.name)
            for kind in (*(kind for kind in kinds if speaks_of(text, kind)),
                         kind_of(event.event, kinds))
            if kind.hold_days is not None
        ]  # fmt: skip
        if holding:
            after, reason = max(holding)
            end = event.end + dt.timedelta(days=after)
            held.append(ClosedDates(start=event.start, end=end, reason=reason))
    return tuple(held)


def _held(date: dt.date, held: tuple[ClosedDates, ...]) -> bool:
    return any(span.start <= date <= span.end for span in held)


def _courses(
    plan: Plan,
    record: Record,
    protocol: ProtocolSettings,
    baseline: Mapping[str, float],
    held: tuple[ClosedDates, ...],
    today: dt.date,
) -> dict[CourseKey, CourseProgress]:
    planned: dict[CourseKey, list[PlanDay]] = {}
    for day in plan:
        if day.tested and day.cycle and day.date <= today:
            planned.setdefault((day.tested, day.cycle), []).append(day)
    return {
        key: _course(key, days, record, protocol, baseline, held, today)
        for key, days in planned.items()
    }


def _course(
    key: CourseKey,
    days: list[PlanDay],
    record: Record,
    protocol: ProtocolSettings,
    baseline: Mapping[str, float],
    held: tuple[ClosedDates, ...],
    today: dt.date,
) -> CourseProgress:
    eaten: Counter[int] = Counter()
    missed = []
    doses = []
    for day in days:
        step = day.step or 1
        if dose_eaten(day, record):
            doses.append(day.date)
            # a dose eaten while ill tells nothing and is eaten again
            if not _held(day.date, held):
                eaten[step] += 1
        elif day.date < today:
            missed.append((day.date, step))
    return CourseProgress(
        fodmap_group=key[0],
        cycle=key[1],
        eaten=dict(eaten),
        missed=tuple(missed),
        last_dose=max(doses, default=None),
        stop=_stop([day.date for day in days], doses, record, protocol, baseline, today),
    )


def _stop(
    planned: list[dt.date],
    doses: list[dt.date],
    record: Record,
    protocol: ProtocolSettings,
    baseline: Mapping[str, float],
    today: dt.date,
) -> Stop | None:
    """The first stop on a day with a dose, the day after it, or the days before the next step.

    A client who wishes to stop may do so on a planned day without eating, too.
    """
    watched = {
        dose + dt.timedelta(days=n)
        for dose in doses
        for n in range(protocol.days_between_steps + 2)
    }
    begun = [date for date in planned if doses and date > doses[0]]
    for date in sorted(watched.union(begun)):
        if date > today:
            break
        if date in watched:
            stop = stop_on(record, date, baseline, protocol.stop)
        else:
            stop = wish_on(record, date)
        if stop is not None:
            return stop
    return None


def _washout(
    courses: Mapping[CourseKey, CourseProgress],
    record: Record,
    protocol: ProtocolSettings,
    baseline: Mapping[str, list[float]],
    held: tuple[ClosedDates, ...],
    today: dt.date,
) -> Washout | None:
    dosed = [course for course in courses.values() if course.last_dose is not None]
    if not dosed:
        return None
    latest = max(dosed, key=lambda course: course.last_dose or dt.date.min)
    last = latest.last_dose or dt.date.min
    quiet = [last + dt.timedelta(days=n) for n in range(1, (today - last).days)]
    quiet = [date for date in quiet if not _held(date, (*held, *protocol.closed))]
    recent = [today - dt.timedelta(days=n) for n in range(1, protocol.settled_days + 1)]
    recent = [date for date in recent if date > last]
    # how it was three days ago does not tell how it is now
    fresh = any(record.scores.get(date) for date in recent[:_FRESH_DAYS])
    above = symptoms_above(record, recent, baseline, protocol) if fresh else {}
    settled: Settled = "unknown"
    if above and len(quiet) > 0:
        settled = "yes" if all(one.settled for one in above.values()) else "no"
    long_enough = len(quiet) >= protocol.washout_days
    return Washout(
        fodmap_group=latest.fodmap_group,
        days=len(quiet),
        settled=settled,
        above=above,
        over=long_enough and settled == "yes",
        ask=len(quiet) >= protocol.washout_max_days and settled != "yes",
    )
