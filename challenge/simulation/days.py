"""What the days would have been like without any challenge: noise, drift, flares, events."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.simulation.person import Person
from challenge.simulation.world import World

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """A disturbance from one day to another, both counted from the first day."""

    first: int
    last: int
    name: str
    logged: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Background:
    """Days x slots x symptoms: points before any dose acts; and what disturbed the days."""

    points: Floats
    events: tuple[Event, ...]
    away: NDArray[np.bool_]


def draw_background(
    world: World, person: Person, n_days: int, weekday: int, rng: np.random.Generator
) -> Background:
    """Draw the days of one client.

    Parameters
    ----------
    world, person
        Settings and character.
    n_days
        Days in the plan.
    weekday
        Weekday of the first day, Monday 0.
    rng
        Source of randomness.
    """
    n_slots, n_symptoms = len(world.slots), len(world.symptoms)
    day = np.arange(n_days)
    shared = world.day_sd * person.noise * _correlated(n_days, world.day_correlation, rng)
    drift = world.drift_sd * rng.standard_normal() * (day / 45.0 - 0.5)
    walk = np.cumsum(world.drift_walk_sd * rng.standard_normal(n_days))
    weekend = world.weekend * ((day + weekday) % 7 >= 5)
    extra, events, away = _disturbances(world, person, n_days, weekday, rng)
    flares = _flares(world, n_days, rng)
    # a symptom that is hardly ever there also wavers less: noise goes with the root of its level
    lively = np.sqrt((0.5 + person.level) / (0.5 + person.level.mean()))
    common = shared + drift + walk + weekend + flares + extra
    own = world.symptom_day_sd * person.noise * rng.standard_normal((n_days, n_symptoms))
    slot = world.slot_sd * person.noise * rng.standard_normal((n_days, n_slots))
    single = world.rating_sd * person.noise * _singles(world, (n_days, n_slots, n_symptoms), rng)
    points = (
        person.level
        + person.slot_pattern[None, :, None]
        + (common[:, None, None] + own[:, None, :] + slot[:, :, None]) * lively
        + single
    )
    return Background(points=points, events=events, away=away)


def _correlated(n_days: int, rho: float, rng: np.random.Generator) -> Floats:
    """Unit-variance days, each leaning on the one before."""
    steps = rng.standard_normal(n_days)
    values = np.empty(n_days)
    level = values[0] = steps[0]
    scale = np.sqrt(1.0 - rho * rho)
    for place in range(1, n_days):
        level = values[place] = rho * level + scale * steps[place]
    return values


def _singles(world: World, size: tuple[int, ...], rng: np.random.Generator) -> Floats:
    if world.noise_tail_df is None:
        return rng.standard_normal(size)
    df = world.noise_tail_df
    scale = np.sqrt((df - 2.0) / df) if df > 2.0 else 1.0
    return np.asarray(scale * rng.standard_t(df, size))


def _flares(world: World, n_days: int, rng: np.random.Generator) -> Floats:
    """Bouts of worse days: full height at once, half height on the last day."""
    extra = np.zeros(n_days)
    for first in np.flatnonzero(rng.random(n_days) < world.flare_rate):
        length = int(rng.geometric(1.0 / world.flare_days))
        size = world.flare_size * np.exp(world.flare_sd_log * rng.standard_normal())
        extra[first : first + length] += size
        if length > 1 and first + length <= n_days:
            extra[first + length - 1] -= size / 2.0
    return extra


def _disturbances(
    world: World, person: Person, n_days: int, weekday: int, rng: np.random.Generator
) -> tuple[Floats, tuple[Event, ...], NDArray[np.bool_]]:
    extra = np.zeros(n_days)
    away = np.zeros(n_days, dtype=bool)
    events: list[Event] = []

    def add(first: int, length: int, name: str) -> slice:
        last = min(first + length, n_days) - 1
        logged = bool(rng.random() < world.event_logged)
        events.append(Event(first=first, last=last, name=name, logged=logged))
        return slice(first, last + 1)

    draws = rng.random((3, n_days))
    illness, stress, travel = (
        np.flatnonzero(row < rate).tolist()
        for row, rate in zip(
            draws, (world.illness_rate, world.stress_rate, world.travel_rate), strict=True
        )
    )
    for first in illness:
        extra[add(first, 3, "illness")] += 3.5
    for first in stress:
        extra[add(first, 1, "stress")] += world.stress_size
    for first in travel:
        days = add(first, int(rng.integers(2, 5)), "travel")
        extra[days] += 0.5
        away[days] = True
    if person.menstruates:
        for first in range(int(rng.integers(0, 28)), n_days, 28):
            extra[add(first, 4, "menstruation")] += world.menstruation_size
    if person.drinks:
        evenings = [day for day in range(n_days) if (day + weekday) % 7 in (4, 5)]
        for first in evenings:
            if rng.random() < 0.25:
                add(first, 1, "alcohol")
                extra[first + 1 : first + 2] += world.alcohol_size
    return extra, tuple(sorted(events, key=lambda event: event.first)), away
