"""Living through the plan: eating doses, feeling them, stopping, and scoring."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.protocol.plan import Plan, PlanDay
from challenge.simulation.days import Background
from challenge.simulation.person import Person
from challenge.simulation.world import World

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Eaten:
    """One food with a challenge group in it, as eaten and as written down.

    ``hour`` counts from midnight of the first day. ``logged_g`` is None where nothing was logged.
    """

    hour: float
    group: str
    food: str
    grams: float
    portion: float
    logged_g: float | None
    logged_portion: float | None
    planned: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Lived:
    """What happened: foods, points felt at each rating, and where challenges were stopped.

    Attributes
    ----------
    hours
        Days x slots: hour of each rating from midnight of the first day.
    felt
        Days x slots x symptoms: points, before they are put into whole numbers.
    stops
        Day of the last dose eaten of each challenge that was stopped, with its group.
    """

    hours: Floats
    felt: Floats
    eaten: tuple[Eaten, ...]
    stops: tuple[tuple[int, str], ...]


def live_through(
    world: World, person: Person, plan: Plan, background: Background, rng: np.random.Generator
) -> Lived:
    """Go through the plan day by day; a stop depends on what was felt before it."""
    groups: dict[str, int] = {group: place for place, group in enumerate(world.protocol_groups())}
    n_days = len(plan)
    jitter = world.slot_jitter_hours * np.clip(
        rng.standard_normal((n_days, len(world.slots))), -2.0, 2.0
    )
    hours = np.arange(n_days)[:, None] * 24.0 + np.asarray(world.slots) + jitter
    felt = background.points.copy()
    usual_worst = _usual_worst(world, felt)
    draws = rng.random((n_days, 8))
    spread = rng.standard_normal((n_days, 2))
    eaten: list[Eaten] = []
    stops: list[tuple[int, str]] = []
    stopped: tuple[int | None, str | None] | None = None
    occasion = 1.0
    running: tuple[int | None, str | None] | None = None

    def act(food: Eaten, factor: float) -> None:
        curve = person.curves.get(food.group)
        if curve is None:
            return
        size = curve.rise(food.grams) * factor
        if size > 0.0:
            course = person.courses[food.group].at(hours - food.hour, world.recall_hours)
            felt[...] += size * course[:, :, None] * person.weights[groups[food.group]]

    for place, day in enumerate(plan):
        chance, nudge = draws[place], spread[place]
        if chance[0] < world.off_plan_rate:
            snack = _off_plan(world, place, chance[1:4])
            eaten.append(snack)
            act(snack, 1.0)
        if day.phase != "challenge" or day.fodmap_group is None or day.step is None:
            continue
        key = (day.cycle, day.fodmap_group)
        if key != running:
            running = key
            occasion = float(np.exp(world.occasion_sd_log * nudge[1]))
        if key == stopped:
            continue
        hour = place * 24.0 + world.dose_hour + world.dose_hour_sd * float(np.clip(nudge[0], -2, 2))
        dreaded = person.expectation[day.fodmap_group] * (1 + world.expectation_rises * day.step)
        felt[place][hours[place] > hour] += dreaded
        if chance[4] < world.missed_dose:
            continue
        dose = _dose(world, day, hour, chance[5:8])
        eaten.append(dose)
        act(dose, occasion)
        last = day.step == world.n_steps(day.fodmap_group)
        if (
            not last
            and _wants_to_stop(world, felt, hours, place, hour, usual_worst)
            and rng.random() < world.stop_chance
        ):
            stops.append((place, day.fodmap_group))
            stopped = key
    return Lived(hours=hours, felt=felt, eaten=tuple(eaten), stops=tuple(stops))


def in_whole_numbers(points: Floats) -> Floats:
    """Return scores as given: whole, with a floor at 0 and a ceiling at 10."""
    # adding nought turns the -0.0 of a rounded small negative number into 0
    return np.asarray(np.clip(np.rint(points), 0.0, 10.0) + 0.0)


def _usual_worst(world: World, felt: Floats) -> float:
    """Mean over baseline days of the worst score of the day."""
    days = in_whole_numbers(felt[: max(world.baseline_days, 1)])
    return float(days.max(axis=(1, 2)).mean())


def _wants_to_stop(
    world: World, felt: Floats, hours: Floats, place: int, hour: float, usual_worst: float
) -> bool:
    """Look at the ratings from the dose until the next morning's."""
    days = slice(place, place + 2)
    since = (hours[days] > hour) & (hours[days] < hour + 23.0)
    worst = in_whole_numbers(felt[days][since]).max(initial=0.0)
    return bool(worst >= usual_worst + world.stop_rise and worst >= world.stop_least)


def _dose(world: World, day: PlanDay, hour: float, chance: Floats) -> Eaten:
    planned_g, planned_portion = float(day.fodmap_g or 0.0), float(day.portion_g or 0.0)
    factor = 1.0
    told = True
    if chance[0] < world.mistaken_dose:
        factors = world.mistake_factors
        factor = factors[int(chance[1] * len(factors))]
        told = bool(chance[2] < world.mistake_logged)
    logged = None if factor == 1.0 and chance[0] > 1.0 - world.unlogged_dose else 1.0
    written = factor if told else 1.0
    return Eaten(
        hour=hour,
        group=day.fodmap_group or "",
        food=day.food,
        grams=planned_g * factor,
        portion=planned_portion * factor,
        logged_g=None if logged is None else planned_g * written,
        logged_portion=None if logged is None else planned_portion * written,
        planned=True,
    )


def _off_plan(world: World, place: int, chance: Floats) -> Eaten:
    group = world.groups[int(chance[0] * len(world.groups))]
    doses = world.doses[group]
    share = 0.5 + chance[1] * 1.5
    grams = round(doses.grams[0] * share, 1)
    portion = round(doses.portions[0] * share, 1)
    told = chance[2] < world.off_plan_logged
    return Eaten(
        hour=place * 24.0 + 12.0 + 7.0 * chance[1],
        group=group,
        food=_OFF_PLAN_FOODS.get(group, "something else"),
        grams=grams,
        portion=portion,
        logged_g=grams if told else None,
        logged_portion=portion if told else None,
        planned=False,
    )


_OFF_PLAN_FOODS = {
    "fructans": "onion in a sauce",
    "fructose": "slices of mango",
    "lactose": "milk in coffee",
    "gos": "bean salad",
    "sorbitol": "sugar-free mints",
    "mannitol": "mushrooms in a sauce",
}
