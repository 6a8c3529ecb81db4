"""What today is for the client, and the numbers behind it for the dietitian."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from challenge.diary.day import PARTS_OF_DAY
from challenge.foods import find_food
from challenge.protocol.alarms import Alarm
from challenge.protocol.follow import followed
from challenge.protocol.plan import Plan, PlanDay, within_challenge
from challenge.protocol.progress import CourseProgress, Progress
from challenge.protocol.ratings import ratings_wanted
from challenge.protocol.record import Record
from challenge.protocol.replan import Replan, replan
from challenge.protocol.stopping import Stop

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings, Settings

Situation = Literal[
    "before", "baseline", "dose", "dose-eaten", "between", "washout", "rest", "after", "doctor"
]


@dataclass(frozen=True, kw_only=True, slots=True)
class Portion:
    """A dose in words that a kitchen understands.

    Attributes
    ----------
    food, amount, household
        What, ``125 mL``, ``1/2 cup`` (None where no household measure fits).
    fodmap_group, fodmap_g, step, steps
        The group, its grams (both None while they are sealed), which step of how many.
    first
        The challenge begins with it: a repeat need not begin with step 1.
    """

    food: str
    amount: str
    household: str | None
    fodmap_group: str | None
    fodmap_g: float | None
    step: int
    steps: int
    first: bool


@dataclass(frozen=True, kw_only=True)
class Guidance:
    """One day as the client needs it.

    Attributes
    ----------
    date, number, length
        The day, its place in the plan from 1 and the plan's days; place None outside the plan.
    situation
        What kind of day it is.
    portion, eat_at
        What to eat today and when; None without a dose.
    symptoms, parts, ratings
        What to score, when, and how often at least.
    stop, stopped_food
        Why the latest challenge was ended, and what was eaten for it; None if it was not.
    progress
        Where the client stands, with washout and numbers.
    tomorrow, tomorrow_portion
        The next day of the plan and its dose.
    next_dose
        Day of the next dose after today; None if none is left.
    moved
        Why the plan differs from the one on file.
    alarms
        What belongs before a doctor; then nothing else is said.
    last_entry
        Last day on which the diary says anything.
    ends, begins
        Last and first day of the plan as laid again; None without days.
    rules
        The rules it was laid by.
    """

    date: dt.date
    number: int | None
    length: int
    situation: Situation
    day: PlanDay | None
    portion: Portion | None
    eat_at: str
    symptoms: tuple[str, ...]
    parts: tuple[str, ...]
    ratings: int
    stop: Stop | None
    stopped_food: str | None
    progress: Progress
    tomorrow: PlanDay | None
    tomorrow_portion: Portion | None
    next_dose: dt.date | None
    moved: tuple[str, ...]
    alarms: tuple[Alarm, ...]
    last_entry: dt.date | None
    ends: dt.date | None
    begins: dt.date | None
    rules: ProtocolSettings


def guide(plan: Plan, record: Record, settings: Settings, today: dt.date) -> Guidance:
    """Return what today is, by the plan laid again from the diary.

    Parameters
    ----------
    plan
        The plan on file.
    record
        The diary so far.
    settings
        The client's settings.
    today
        The day asked about.

    Raises
    ------
    ChallengeError
        If the screening or the doses allow no plan any more.
    """
    laid = replan(followed(plan, record, settings, today), record, settings, today)
    day = laid.plan.on(today)
    tomorrow = laid.plan.on(today + dt.timedelta(days=1))
    situation = _situation(laid, day, today)
    quiet = situation == "doctor"
    diary = settings.diary
    stopped = _stopped(laid.progress)
    ratings = ratings_wanted(day, diary.ratings_per_day, diary.ratings_per_challenge_day)
    return Guidance(
        date=today,
        number=_number(laid.plan, today),
        length=len(laid.plan),
        situation=situation,
        day=day,
        portion=_portion(day, laid.plan) if situation == "dose" else None,
        eat_at=settings.protocol.eat_at,
        symptoms=diary.symptoms,
        parts=PARTS_OF_DAY if ratings >= len(PARTS_OF_DAY) else PARTS_OF_DAY[-1:],
        ratings=ratings,
        stop=stopped.stop if stopped else None,
        stopped_food=_food_of(stopped, laid.plan) if stopped else None,
        progress=laid.progress,
        tomorrow=None if quiet else tomorrow,
        tomorrow_portion=None if quiet else _portion(tomorrow, laid.plan),
        next_dose=None if quiet else _next_dose(laid.plan, today),
        moved=laid.reasons if laid.changed else (),
        alarms=laid.progress.alarms,
        last_entry=max((*record.scores, *record.eaten), default=None),
        ends=laid.plan.days[-1].date if len(laid.plan) else None,
        begins=laid.plan.days[0].date if len(laid.plan) else None,
        rules=laid.rules,
    )


def _number(plan: Plan, today: dt.date) -> int | None:
    if not len(plan) or not plan.days[0].date <= today <= plan.days[-1].date:
        return None
    return (today - plan.days[0].date).days + 1


def _situation(laid: Replan, day: PlanDay | None, today: dt.date) -> Situation:
    if laid.progress.alarms:
        return "doctor"
    if day is None:
        started = len(laid.plan) and laid.plan.days[0].date <= today
        return "after" if started else "before"
    if day.phase == "challenge":
        return "dose-eaten" if laid.progress.dose_eaten_today else "dose"
    if day.phase == "rest" and within_challenge(laid.plan.days, laid.plan.days.index(day)):
        return "between"
    return day.phase


def _portion(day: PlanDay | None, plan: Plan) -> Portion | None:
    if day is None or day.phase != "challenge" or day.portion_g is None:
        return None
    course = [d.step or 1 for d in plan if (d.tested, d.cycle) == (day.tested, day.cycle)]
    first = day.step == min(course)
    if day.sealed:
        steps = [d.step or 1 for d in plan if d.tested == day.tested]
        return Portion(
            food=day.food,
            amount="all of",
            household="stirred into the drink agreed on",
            fodmap_group=None,
            fodmap_g=None,
            step=day.step or 1,
            steps=max(steps),
            first=first,
        )
    assert day.fodmap_group is not None
    food = find_food(day.food)
    unit = food.unit if food is not None else "g"
    return Portion(
        food=day.food,
        amount=f"{day.portion_g:g} {unit}",
        household=food.in_household_measure(day.portion_g) if food is not None else None,
        fodmap_group=day.fodmap_group,
        fodmap_g=day.fodmap_g or 0.0,
        step=day.step or 1,
        steps=max(plan.steps(day.fodmap_group), default=1),
        first=first,
    )


def _stopped(standing: Progress) -> CourseProgress | None:
    """The latest challenge, if it was stopped."""
    begun = [course for course in standing.courses.values() if course.last_dose is not None]
    latest = max(begun, key=_last_dose, default=None)
    return latest if latest is not None and latest.stop is not None else None


def _food_of(course: CourseProgress, plan: Plan) -> str:
    days = [day for day in plan if (day.tested, day.cycle) == (course.fodmap_group, course.cycle)]
    return next((day.food for day in days if not day.sealed and day.food), course.fodmap_group)


def _next_dose(plan: Plan, today: dt.date) -> dt.date | None:
    return next((day.date for day in plan if day.date > today and day.phase == "challenge"), None)


def _last_dose(course: CourseProgress) -> dt.date:
    return course.last_dose or dt.date.min


def as_json(guidance: Guidance) -> dict[str, Any]:
    """Return the guidance as plain values, dates as ISO text."""
    standing = guidance.progress
    washout = standing.washout
    return {
        "date": guidance.date.isoformat(),
        "day": guidance.number,
        "days": guidance.length,
        "situation": guidance.situation,
        "phase": guidance.day.phase if guidance.day else None,
        "eat": _portion_json(guidance.portion),
        "eat_at": guidance.eat_at if guidance.portion else None,
        "score": {
            "symptoms": list(guidance.symptoms),
            "when": list(guidance.parts),
            "ratings": guidance.ratings,
        },
        "stop": None if guidance.stop is None else _stop_json(guidance.stop),
        "washout": None
        if washout is None
        else {
            "fodmap_group": washout.fodmap_group,
            "days": washout.days,
            "settled": washout.settled,
            "over": washout.over,
            "ask": washout.ask,
            "above_baseline": {name: one.rise for name, one in washout.above.items()},
        },
        "baseline": {"days": standing.baseline_days, "means": dict(standing.baseline)},
        "tomorrow": None
        if guidance.tomorrow is None
        else {
            "phase": guidance.tomorrow.phase,
            "eat": _portion_json(guidance.tomorrow_portion),
        },
        "next_dose": guidance.next_dose.isoformat() if guidance.next_dose else None,
        "plan_moved": list(guidance.moved),
        "alarms": [
            {"date": a.date.isoformat(), "sign": a.sign, "file": a.file, "text": a.text}
            for a in guidance.alarms
        ],
        "last_entry": guidance.last_entry.isoformat() if guidance.last_entry else None,
    }


def _stop_json(stop: Stop) -> dict[str, str]:
    return {"date": stop.date.isoformat(), "reason": stop.reason, "words": stop.words}


def _portion_json(portion: Portion | None) -> dict[str, Any] | None:
    if portion is None:
        return None
    return {name: getattr(portion, name) for name in Portion.__dataclass_fields__}
