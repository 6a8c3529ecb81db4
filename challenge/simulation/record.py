"""What reaches the diary of what was lived: gaps, late entries, notes; as the usual tables."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from challenge.diary.model import Diary
from challenge.simulation.conduct import Lived, in_whole_numbers
from challenge.simulation.days import Background
from challenge.simulation.person import Person
from challenge.simulation.world import World

Floats = NDArray[np.float64]

_MEALS = (
    "porridge oats with lactose-free milk",
    "rice, chicken, carrot",
    "potatoes, eggs, spinach",
    "omelette with tomato",
    "gluten-free bread with peanut butter",
    "quinoa, salmon, courgette",
    "rice noodles with tofu and bok choy",
    "polenta with aubergine",
)
_MINUTE = np.timedelta64(1, "m")


def write_down(
    world: World,
    person: Person,
    lived: Lived,
    background: Background,
    start: dt.date,
    client: str,
    rng: np.random.Generator,
) -> Diary:
    """Return the diary as the client kept it."""
    midnight = np.datetime64(start, "m")
    return Diary(
        foods=_foods(world, lived, midnight, rng),
        symptoms=_symptoms(world, person, lived, background, midnight, rng),
        events=_events(background, start),
        client=client,
    )


def _times(hours: Floats, midnight: np.datetime64) -> NDArray[np.datetime64]:
    stamps = midnight + np.rint(hours * 60.0).astype(np.int64) * _MINUTE
    return np.asarray(stamps.astype("datetime64[ns]"))


def _symptoms(
    world: World,
    person: Person,
    lived: Lived,
    background: Background,
    midnight: np.datetime64,
    rng: np.random.Generator,
) -> pd.DataFrame:
    n_days, n_slots, _ = lived.felt.shape
    late = rng.random((n_days, n_slots)) < world.late_entry
    scores = in_whole_numbers(lived.felt + world.late_bias * late[:, :, None])
    there = _present(world, scores, background, rng)
    delay = np.where(late, 24.0 * (1.0 + np.floor(lived.hours / 24.0)) + 9.0 - lived.hours, 0.05)
    order = np.argsort(lived.hours, axis=None, kind="stable")
    day, slot = np.divmod(order, n_slots)
    keep = there[day, slot]
    picked = np.nonzero(keep)
    rows, columns = picked
    hours = lived.hours[day[rows], slot[rows]]
    names = np.array(world.symptoms, dtype=object)[columns]
    values = scores[day[rows], slot[rows], columns]
    written = hours + delay[day[rows], slot[rows]]
    notes = np.full(len(rows), "", dtype=object)
    for place, group in lived.stops:
        if rng.random() < world.stop_noted:
            at = np.flatnonzero(day[rows] == place)
            if len(at):
                notes[at[-1]] = f"stopped the {group} challenge, too many symptoms"
    stools = _stools(world, person, lived, rng)
    if stools is not None:
        hours = np.concatenate((hours, stools[0]))
        order = np.argsort(hours, kind="stable")
        hours = hours[order]
        names = np.concatenate((names, np.full(len(stools[0]), "stool_form", dtype=object)))[order]
        values = np.concatenate((values, stools[1]))[order]
        notes = np.concatenate((notes, np.full(len(stools[0]), "", dtype=object)))[order]
        written = np.concatenate((written, stools[0] + 0.1))[order]
    return pd.DataFrame(
        {
            "time": _times(hours, midnight),
            "symptom": names,
            "score": values,
            "note": notes,
            "entered_at": _times(written, midnight),
        }
    )


def _present(
    world: World, scores: Floats, background: Background, rng: np.random.Generator
) -> NDArray[np.bool_]:
    n_days, n_slots, _ = scores.shape
    there = rng.random(scores.shape) >= world.missing_score
    worst = np.maximum(scores.max(axis=2) - 3.0, 0.0)
    chance = world.missing_slot + world.missing_when_bad * worst
    chance = np.where(background.away[:, None], chance + 0.3, chance)
    there &= (rng.random((n_days, n_slots)) >= chance)[:, :, None]
    for first in np.flatnonzero(rng.random(n_days) < world.missing_day):
        there[first : first + int(rng.geometric(1.0 / world.missing_run_days))] = False
    return there


def _stools(
    world: World, person: Person, lived: Lived, rng: np.random.Generator
) -> tuple[Floats, Floats] | None:
    if world.stools_per_day <= 0:
        return None
    n_days = len(lived.hours)
    counts = rng.poisson(world.stools_per_day, n_days)
    days = np.repeat(np.arange(n_days), counts)
    # one row per minute at most: a second row of the same minute would read as a repeat
    minutes = np.unique(np.rint(days * 1440.0 + rng.uniform(420.0, 1320.0, len(days))))
    hours = minutes / 60.0
    days = (hours // 24.0).astype(np.intp)
    urgent = lived.felt[days].max(axis=(1, 2)) - lived.felt.max(axis=(1, 2)).mean()
    types = person.stool_type + 0.2 * urgent + rng.normal(0.0, 0.9, len(days))
    return hours, np.clip(np.rint(types), 1.0, 7.0)


def _foods(
    world: World, lived: Lived, midnight: np.datetime64, rng: np.random.Generator
) -> pd.DataFrame:
    logged = [food for food in lived.eaten if food.logged_g is not None]
    n_days = len(lived.hours)
    n_meals = world.meals_logged * n_days
    meal_hours = np.repeat(np.arange(n_days) * 24.0, world.meals_logged) + rng.uniform(
        12.0, 20.0, n_meals
    )
    picks = rng.integers(0, len(_MEALS), n_meals)
    hours = np.concatenate((np.array([food.hour for food in logged]), meal_hours))
    order = np.argsort(hours, kind="stable")

    def column(values: list[object], fill: object, dtype: type) -> NDArray[np.generic]:
        whole: NDArray[np.generic] = np.array([*values, *([fill] * n_meals)], dtype=dtype)
        return np.asarray(whole[order])

    meals = np.array(_MEALS, dtype=object)[picks]
    names = np.concatenate((np.array([food.food for food in logged], dtype=object), meals))
    times = _times(hours[order], midnight)
    n = len(hours)
    return pd.DataFrame(
        {
            "time": times,
            "food": names[order],
            "portion_g": column([food.logged_portion for food in logged], np.nan, float),
            "fodmap_group": column([food.group for food in logged], "", object),
            "fodmap_g": column([food.logged_g for food in logged], np.nan, float),
            "note": np.full(n, "", dtype=object),
            "entered_at": times + np.timedelta64(5, "m"),
            "filled_in": np.zeros(n, dtype=bool),
        }
    )


def _events(background: Background, start: dt.date) -> pd.DataFrame:
    first = np.datetime64(start, "D")
    told = [event for event in background.events if event.logged]

    def dates(days: list[int]) -> NDArray[np.datetime64]:
        return np.asarray((first + np.array(days, dtype=np.int64)).astype("datetime64[ns]"))

    return pd.DataFrame(
        {
            "start": dates([event.first for event in told]),
            "end": dates([event.last for event in told]),
            "event": np.array([event.name for event in told], dtype=object),
            "note": np.full(len(told), "", dtype=object),
        }
    )
