"""What a written diary says, day by day: the same for the paper pages and the spreadsheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from challenge.diary.day import PARTS_OF_DAY, Part
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.portion import amount_in_words, food_in_words
from challenge.protocol.ratings import ratings_wanted
from challenge.wording import Words

if TYPE_CHECKING:
    from challenge.protocol.settings import Settings

Held = Callable[[PlanDay], bool]
"""Tells of a challenge day whether its food must not be eaten now."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetDay:
    """One day of a written diary, in words.

    Attributes
    ----------
    date
        The day.
    heading, place
        Day of the week and date; place in the plan.
    phase
        What kind of day it is.
    eat, when
        What to eat on purpose and when; empty on days without it.
    plan
        What else to do, paragraph by paragraph; on what condition to eat it comes first.
    only
        That condition in few words; empty on days without anything to eat.
    parts
        Part of the day of each rating asked for, in order.
    """

    date: dt.date
    heading: str
    place: str
    phase: str
    eat: str
    when: str
    plan: tuple[str, ...]
    only: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """A written diary.

    Attributes
    ----------
    client
        Client code; never a name.
    days
        Its days, in order.
    symptoms
        Names of the 0-10 symptoms followed, as settings name them.
    foods
        Foods that the plan of these days has the client eat, each once.
    """

    client: str
    days: tuple[SheetDay, ...]
    symptoms: tuple[str, ...]
    foods: tuple[str, ...]


def build_sheet(
    plan: Plan,
    days: Sequence[PlanDay],
    settings: Settings,
    words: Words,
    *,
    client: str,
    held: Held = lambda day: False,
) -> Sheet:
    """Put days of a plan into words.

    Parameters
    ----------
    plan
        The whole plan: it says which day of how many a day is.
    days
        The days wanted, in order.
    settings
        Symptoms, ratings a day, when the dose is eaten, when a challenge is stopped.
    words
        The language.
    client
        Client code.
    held
        Which challenge foods must not be eaten now; such days then say so.
    """
    eaten = [day for day in days if day.phase == "challenge" and day.food and not held(day)]
    return Sheet(
        client=client,
        days=tuple(_day(day, plan, settings, words, held=held) for day in days),
        symptoms=settings.diary.symptoms,
        foods=tuple(dict.fromkeys(food_in_words(day.food, words) for day in eaten)),
    )


def parts_wanted(ratings: int) -> tuple[Part, ...]:
    """Return the part of the day of each rating, in order, for so many ratings a day.

    One rating closes the day; two stand at its ends; what goes beyond three falls on midday and
    evening first, when a dose of the morning acts.
    """
    if ratings == 1:
        return ("evening",)
    if ratings == 2:
        return ("morning", "evening")
    each, more = divmod(ratings, 3)
    counts = {"morning": each, "midday": each + (more > 0), "evening": each + (more > 1)}
    return tuple(part for part in PARTS_OF_DAY for _ in range(counts[part]))


def _day(day: PlanDay, plan: Plan, settings: Settings, words: Words, *, held: Held) -> SheetDay:
    first = plan.days[0].date
    total = (plan.days[-1].date - first).days + 1
    weekday = words.many("sheet.weekdays")[day.date.weekday()]
    diary = settings.diary
    ratings = ratings_wanted(day, diary.ratings_per_day, diary.ratings_per_challenge_day)
    phase, eat, when, said = _said(day, plan, settings, words, held=held)
    return SheetDay(
        date=day.date,
        heading=words("sheet.day_heading", weekday=weekday, date=words.date(day.date)),
        place=words("sheet.place", number=(day.date - first).days + 1, total=total),
        phase=phase,
        eat=eat,
        when=when,
        plan=said,
        only=". ".join(
            words(f"sheet.only.{told}")
            for told in conditions(day, plan, settings.protocol.days_per_step)
        )
        if eat
        else "",
        parts=parts_wanted(ratings),
    )


def _said(
    day: PlanDay, plan: Plan, settings: Settings, words: Words, *, held: Held
) -> tuple[str, str, str, tuple[str, ...]]:
    """Return the kind of day, what to eat, when, and what else to do."""
    if day.phase != "challenge":
        return words(f"sheet.phases.{day.phase}"), "", "", (words(f"sheet.plan.{day.phase}"),)
    if held(day):
        return words("sheet.phases.held"), "", "", (words("sheet.plan.held"),)
    stop = settings.protocol.stop
    # two paragraphs, so that a day stays on one page
    told = conditions(day, plan, settings.protocol.days_per_step)
    only = [words(f"sheet.plan.{one}") for one in told]
    said = (
        words("sheet.plan.challenge"),
        words("sheet.stop", level=f"{stop.level:g}", slots=stop.slots),
    )
    return (
        _phase(day, plan, words),
        _eat(day, words),
        _when(settings, words),
        (" ".join(only), " ".join(said)),
    )


def _phase(day: PlanDay, plan: Plan, words: Words) -> str:
    """Name the step; on a blinded day the plan names no group, and neither may this."""
    if day.fodmap_group is None or day.step is None:
        return words("sheet.phases.challenge")
    steps = max(plan.steps(day.fodmap_group))
    return words("sheet.phases.challenge_step", step=day.step, steps=steps)


def conditions(day: PlanDay, plan: Plan, days_per_step: int) -> tuple[str, ...]:
    """Return on what conditions a challenge food is eaten, as names of words.

    What is written ahead cannot know how the days before went, so it has to say it: ``first``
    after a break, ``next`` after an earlier dose of the same challenge, ``signs`` always.
    """
    found = ["signs"]
    if dose_before(day, plan, days_per_step) is not None:
        found.insert(0, "next")
    before = [one for one in plan if one.date < day.date and one.phase != "rest"]
    if before and before[-1].phase == "washout":
        found.insert(0, "first")
    return tuple(found)


def dose_before(day: PlanDay, plan: Plan, days_per_step: int) -> PlanDay | None:
    """Return the day of the dose before this one in the same challenge, None for its first.

    Where a step takes one day and stands twice, it was laid again because it was not eaten, or
    eaten on a day that tells nothing: then the dose before is that of the step below.
    """
    again = days_per_step == 1 and not day.sealed
    doses = [
        one
        for one in plan
        if one.tested is not None
        and one.date < day.date
        and (one.tested, one.cycle) == (day.tested, day.cycle)
        and not (again and one.step == day.step)
    ]
    return doses[-1] if doses else None


def _eat(day: PlanDay, words: Words) -> str:
    food = food_in_words(day.food, words)
    if day.sealed or day.portion_g is None:
        return words("sheet.eat_unmeasured", food=food)
    amount = amount_in_words(day.food, day.portion_g, words)
    return words("sheet.eat", amount=amount, food=food)


def _when(settings: Settings, words: Words) -> str:
    told = settings.protocol.eat_at
    if told == type(settings.protocol).model_fields["eat_at"].default:
        told = words("sheet.eat_at_default")
    return words("sheet.when", when=told)


def symptom_in_words(name: str, words: Words) -> str:
    """Return what a symptom is called at the head of a line; a declared one keeps its name."""
    known = words.get(f"symptoms.{name}", "")
    return known[:1].upper() + known[1:] if known else name


def event_in_words(event: str, words: Words) -> str:
    """Return what a disturbance is called in the language."""
    if event == "other":
        return words("sheet.event_other")
    return words.get(f"events.{event}", event)
