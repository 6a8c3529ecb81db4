"""Where a client stands: doses eaten and missed, challenges stopped, washout over or not."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from challenge.diary.disturbances import KINDS, Kind, days_touched, kind_of, speaks_of
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

EATEN_SHARE: Final = 0.5
"""Less than half of a planned dose is a missed dose (common practice, no source)."""

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
        Step -> days on which it was eaten and that count.
    missed
        Planned days in the past on which it was not eaten, with their step.
    left_out
        Days on which it was eaten and that the analysis leaves out, with their step and the reason.
    last_dose
        Day of the last dose; None if none was eaten.
    stop
        Why it ended early, or None.
    stop_left_out
        Why the analysis leaves out the day on which symptoms ended it; None where it does not.
    answered_below
        Steps below this one are not asked for any more: it was eaten, and counts. 0 while sachets
        are sealed, whose days are all needed.
    """

    fodmap_group: str
    cycle: int
    eaten: Mapping[int, int]
    missed: tuple[tuple[dt.date, int], ...]
    left_out: tuple[tuple[dt.date, int, str], ...]
    last_dose: dt.date | None
    stop: Stop | None
    stop_left_out: str | None
    answered_below: int

    def owed(self, step: int, planned: int) -> int:
        """Return on how many of its planned days a step is still to be eaten."""
        if step < self.answered_below:
            return 0
        return max(planned - self.eaten.get(step, 0), 0)

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
        Days on which no challenge may take place because of illness, antibiotics and their like.
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
    left_out = days_left_out(record, settings.kinds())
    courses = _courses(plan, record, settings.protocol, baseline, left_out, today)
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
    return grams > 0 and grams >= EATEN_SHARE * (day.fodmap_g or 0.0)


def illness_days(
    record: Record, today: dt.date, kinds: Sequence[Kind] = KINDS
) -> tuple[ClosedDates, ...]:
    """Return the days on which illness, antibiotics and their like hold challenges up.

    The days that the analysis leaves out are among them: a dose eaten then would tell nothing.
    """
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
    more = [
        span
        for span in days_left_out(record, kinds)
        if span.start <= today
        and not any(other.start <= span.start and span.end <= other.end for other in held)
    ]
    return (*held, *more)


def days_left_out(record: Record, kinds: Sequence[Kind] = KINDS) -> tuple[ClosedDates, ...]:
    """Return the days that the analysis leaves out, by the rule of `disturbances`."""
    spans = []
    for event in sorted(record.events, key=lambda event: (event.start, event.end, event.event)):
        kind = kind_of(event.event, kinds)
        if kind.leaves_out:
            start, end = days_touched(event.start, event.end, kind)
            spans.append(ClosedDates(start=start, end=end, reason=kind.name))
    return tuple(spans)


def reason_of(date: dt.date, spans: Sequence[ClosedDates]) -> str | None:
    """Return why a day is held up or left out; None when it is not among the days given."""
    return next((span.reason for span in spans if span.start <= date <= span.end), None)


def _courses(
    plan: Plan,
    record: Record,
    protocol: ProtocolSettings,
    baseline: Mapping[str, float],
    left_out: Sequence[ClosedDates],
    today: dt.date,
) -> dict[CourseKey, CourseProgress]:
    planned: dict[CourseKey, list[PlanDay]] = {}
    for day in plan:
        if day.tested and day.cycle and day.date <= today:
            planned.setdefault((day.tested, day.cycle), []).append(day)
    return {
        key: _course(key, days, record, protocol, baseline, left_out, today)
        for key, days in planned.items()
    }


def _course(
    key: CourseKey,
    days: list[PlanDay],
    record: Record,
    protocol: ProtocolSettings,
    baseline: Mapping[str, float],
    left_out: Sequence[ClosedDates],
    today: dt.date,
) -> CourseProgress:
    eaten: Counter[int] = Counter()
    missed = []
    doses = []
    untold = []
    for day in days:
        step = day.step or 1
        if dose_eaten(day, record):
            doses.append(day.date)
            # a dose eaten on a day that the analysis leaves out tells nothing and is eaten again
            why = reason_of(day.date, left_out)
            if why is None:
                eaten[step] += 1
            else:
                untold.append((day.date, step, why))
        elif day.date < today:
            missed.append((day.date, step))
    stop = _stop([day.date for day in days], doses, record, protocol, baseline, today)
    return CourseProgress(
        fodmap_group=key[0],
        cycle=key[1],
        eaten=dict(eaten),
        missed=tuple(missed),
        left_out=tuple(untold),
        last_dose=max(doses, default=None),
        stop=stop,
        stop_left_out=(
            reason_of(stop.date, left_out) if stop is not None and stop.reason != "wish" else None
        ),
        answered_below=0 if any(day.sealed for day in days) else max(eaten, default=0),
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
    quiet = [date for date in quiet if reason_of(date, (*held, *protocol.closed)) is None]
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
