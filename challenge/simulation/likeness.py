"""Invented clients made like a real one: level and noise of a baseline, and how sure they are.

Seven days say little of a client's noise, so it is not read off them: baselines are invented over
a wide range of noise, with the client's own level, days and gaps, and the noise is regressed on
how much those baselines scatter between days and within them (regression adjustment of
approximate Bayesian computation: Beaumont, Zhang, Balding 2002, without their kernel). Whole
numbers, the floor at 0, flares and events are thereby dealt with as they arise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from challenge.diary.day import PARTS_OF_DAY
from challenge.protocol.plan import Plan
from challenge.protocol.record import Record
from challenge.simulation.conduct import in_whole_numbers
from challenge.simulation.days import draw_background
from challenge.simulation.person import Person, draw_person
from challenge.simulation.world import World

Floats = NDArray[np.float64]

LEAST_DAYS = 3
"""Fewer scored baseline days say nothing of noise."""
_N_INVENTED = 600
_PRIOR_SD_LOG = 0.5  # twice the spread between clients of the usual world, so that the diary speaks
_LEAST_SCATTER = 0.05  # points; keeps the logarithm of a baseline without any scatter finite


@dataclass(frozen=True, kw_only=True)
class Likeness:
    """What a baseline says of its client.

    Attributes
    ----------
    n_days
        Scored baseline days.
    level
        (symptoms,) mean score [points].
    noise_log, noise_log_sd
        Logarithm of the factor on all noise of the world, and how uncertain it is.
    """

    n_days: int
    level: Floats
    noise_log: float
    noise_log_sd: float

    @property
    def noise(self) -> float:
        """Factor on all noise, 1 for the typical client of the world."""
        return float(np.exp(self.noise_log))

    def lend(self, person: Person, rng: np.random.Generator) -> Person:
        """Return the person with this level, and with a noise drawn from what is known of it."""
        noise = np.exp(self.noise_log + self.noise_log_sd * rng.standard_normal())
        return replace(person, level=self.level, noise=float(noise))


def baseline_scores(plan: Plan, record: Record, symptoms: tuple[str, ...]) -> Floats:
    """(days, parts of the day, symptoms) baseline scores [points]; days without any are left out.

    Scores that are missing are NaN.
    """
    days = [day.date for day in plan if day.phase == "baseline" and record.scores.get(day.date)]
    table = np.full((len(days), len(PARTS_OF_DAY), len(symptoms)), np.nan)
    for row, date in enumerate(days):
        for column, symptom in enumerate(symptoms):
            for part, score in record.scores[date].get(symptom, {}).items():
                table[row, PARTS_OF_DAY.index(part), column] = score
    scored: Floats = table[np.isfinite(table).any(axis=(1, 2))]
    return scored


def likeness_of(scores: Floats, world: World, seed: int) -> Likeness | None:
    """Return what a baseline says of its client; None if it has too few days.

    Parameters
    ----------
    scores
        From `baseline_scores`, the symptoms those of ``world``.
    world
        Whose noise is scaled; it must have three slots a day.
    seed
        Seed of the invented baselines.
    """
    n_days = len(scores)
    if n_days < LEAST_DAYS:
        return None
    count = np.isfinite(scores).sum(axis=(0, 1))
    total = np.nansum(scores, axis=(0, 1))
    overall = float(total.sum() / count.sum())
    level = np.where(count > 0, total / np.maximum(count, 1), overall)
    rng = np.random.default_rng(seed)
    gaps = np.where(np.isfinite(scores), 0.0, np.nan)
    noise = _PRIOR_SD_LOG * rng.standard_normal(_N_INVENTED)
    shown = np.array([_scatter(_invented(world, level, z, n_days, rng) + gaps) for z in noise])
    columns = np.column_stack([np.ones(_N_INVENTED), shown])
    solution, *_ = np.linalg.lstsq(columns, noise, rcond=None)
    residual = noise - columns @ solution
    return Likeness(
        n_days=n_days,
        level=level,
        noise_log=float(np.array([1.0, *_scatter(scores)]) @ solution),
        noise_log_sd=float(np.sqrt((residual**2).sum() / (_N_INVENTED - columns.shape[1]))),
    )


def _invented(
    world: World, level: Floats, noise_log: float, n_days: int, rng: np.random.Generator
) -> Floats:
    """One invented baseline of a client with this level."""
    drawn = draw_person(world, rng)
    person = replace(drawn, level=level, noise=float(np.exp(noise_log)))
    points = draw_background(world, person, n_days, int(rng.integers(7)), rng).points
    return in_whole_numbers(points)


def _scatter(scores: Floats) -> tuple[float, float]:
    """Logarithms of the scatter between days and within days [log points]."""
    usual = _mean(scores, 0)
    rest = scores - usual
    day = _mean(rest, (1, 2))
    within = rest - day
    between_sd = float(np.sqrt(np.nanmean(day**2)))
    within_sd = float(np.sqrt(np.nanmean(within**2)))
    return float(np.log(between_sd + _LEAST_SCATTER)), float(np.log(within_sd + _LEAST_SCATTER))


def _mean(values: Floats, axis: int | tuple[int, ...]) -> Floats:
    """Mean over what is there, 0 where nothing is."""
    count = np.isfinite(values).sum(axis=axis, keepdims=True)
    mean: Floats = np.nansum(values, axis=axis, keepdims=True) / np.maximum(count, 1)
    return mean
