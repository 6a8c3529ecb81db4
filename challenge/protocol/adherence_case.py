"""A diary laid beside its plan: what the checks of adherence look at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from challenge.diary.places import NOWHERE, Place, Places
from challenge.diary.sachets import find_sachet
from challenge.problems import Problem, Severity
from challenge.protocol.follow import followed
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.progress import CourseKey, CourseProgress, progress
from challenge.protocol.record import Record, record_of
from challenge.protocol.stopping import Stop

if TYPE_CHECKING:
    from challenge.diary.model import Diary
    from challenge.protocol.settings import Settings


class Portion(NamedTuple):
    """One food with a carbohydrate group: when, what, grams of the carbohydrate (NaN unknown)."""

    time: dt.datetime
    food: str
    grams: float


@dataclass(frozen=True, kw_only=True)
class Case:
    """A diary beside its plan, as the checks see it.

    Attributes
    ----------
    plan
        The days up to today.
    eaten
        (day, group, or ``sachet A`` while that is sealed) -> portions of it, in order of time.
    meals
        Days with any food.
    courses
        Challenge -> how far it got.
    today
        The day of the check; it is not over yet.
    places
        Where the entries stand.
    """

    plan: Plan
    record: Record
    settings: Settings
    eaten: Mapping[tuple[dt.date, str], list[Portion]]
    meals: frozenset[dt.date]
    courses: Mapping[CourseKey, CourseProgress]
    today: dt.date
    places: Places = NOWHERE

    def first_dose(self, date: dt.date, group: str | None) -> Place | None:
        """Return where the first portion of a group on a day stands."""
        portions = self.eaten.get((date, group or ""), ())
        return self.places.food(portions[0].time, portions[0].food) if portions else None

    def challenges(self) -> list[PlanDay]:
        """Return the challenge days up to today, those of sealed sachets too."""
        return [day for day in self.plan if day.tested]

    def course_of(self, day: PlanDay) -> CourseProgress | None:
        """Return how far the challenge of a day got; None for other days."""
        if day.tested is None or day.cycle is None:
            return None
        return self.courses.get((day.tested, day.cycle))

    def stop_of(self, day: PlanDay) -> Stop | None:
        """Return why the challenge of a day ended early, or None."""
        course = self.course_of(day)
        return course.stop if course is not None else None

    def over(self) -> list[PlanDay]:
        """Return the days of the protocol that are over; rest days are none."""
        return [day for day in self.plan if day.date < self.today and day.phase != "rest"]


def make_case(diary: Diary, plan: Plan, settings: Settings, today: dt.date) -> Case:
    """Lay a diary beside its plan."""
    record = record_of(diary)
    plan = followed(plan, record, settings, today)
    foods = diary.foods
    eaten: dict[tuple[dt.date, str], list[Portion]] = {}
    meals = set()
    for time, food, group, grams in zip(
        foods["time"].tolist(),
        foods["food"].tolist(),
        foods["fodmap_group"].tolist(),
        foods["fodmap_g"].tolist(),
        strict=True,
    ):
        date = time.date()
        meals.add(date)
        if not group and (sachet := find_sachet(food)) is not None:
            group = sachet.period
        if group and grams != 0 and date <= today:
            eaten.setdefault((date, group), []).append(Portion(time, food, grams))
    return Case(
        plan=Plan(days=tuple(day for day in plan if day.date <= today)),
        record=record,
        settings=settings,
        eaten=eaten,
        meals=frozenset(meals),
        courses=progress(plan, record, settings, today).courses,
        today=today,
        places=diary.places or NOWHERE,
    )


def problem_on(
    code: str,
    date: dt.date,
    message: str,
    remedy: str,
    *,
    file: str,
    severity: Severity = "warning",
    column: str | None = None,
    place: Place | None = None,
) -> Problem:
    """Return a problem that concerns a day, and an entry where it has a place."""
    return Problem(
        code=code,
        severity=severity,
        message=message,
        remedy=remedy,
        file=place.file if place else file,
        line=place.line if place else None,
        column=column,
        value=place.value(column) if place else None,
        date=date.isoformat(),
    )
