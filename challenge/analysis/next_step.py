"""What would settle it: the most informative next step, with what it would bring per diary day.

For every option the worth of deciding after the new days is averaged over what they might show,
given what is known now (the posterior); the gain over deciding today is divided by the days.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.suggestion import GAIN_UNCLEAR, expected_gain

Floats = NDArray[np.float64]

_SHOWN = np.linspace(-2.0, 2.0, 9)
_WORTH_A_DAY = 0.002


@dataclass(frozen=True, kw_only=True)
class Option:
    """One thing that could be done next.

    Attributes
    ----------
    steps
        Steps to eat again, one day each.
    days
        Diary days it costs, washout included.
    gain
        Expected increase in the worth of the suggestion.
    """

    steps: tuple[int, ...]
    days: int
    gain: float

    @property
    def per_day(self) -> float:
        """Gain per diary day."""
        return self.gain / self.days


def best_option(
    mass: Floats,
    rises: Floats,
    margin: float,
    noise_sd: float,
    washout_days: int,
    eaten_steps: tuple[int, ...],
) -> Option | None:
    """Return the option with the largest gain per day, or None when nothing is worth its days.

    Parameters
    ----------
    mass
        (h,) posterior probability of each possible truth.
    rises
        (h, J) rise at each step under each of them [points].
    margin
        Smallest rise that matters [points].
    noise_sd
        Standard deviation of the rise measured on one challenge day [points].
    washout_days
        Washout before the repeat [days].
    eaten_steps
        Steps eaten so far; the next higher one may be tried too.
    """
    n_steps = rises.shape[1]
    highest = np.asarray((rises < margin).cumprod(axis=1).sum(axis=1), dtype=np.int64)
    now = _worth(_by_step(mass, highest, n_steps))
    reach = min(max(eaten_steps, default=0) + 1, n_steps)
    options: list[tuple[tuple[int, ...], int]] = []
    for step in range(1, reach + 1):
        options.append(((step,), 1 + washout_days))
    if reach > 1:
        options.append((tuple(range(1, reach + 1)), reach + washout_days))
    evaluated = []
    for steps, days in options:
        columns = rises[:, [step - 1 for step in steps]]
        later = _worth_after(mass, columns, highest, noise_sd, n_steps)
        evaluated.append(Option(steps=steps, days=days, gain=max(later - now, 0.0)))
    best = max(evaluated, key=lambda option: option.per_day)
    return best if best.per_day >= _WORTH_A_DAY else None


def _by_step(mass: Floats, highest: NDArray[np.int64], n_steps: int) -> Floats:
    p = np.bincount(highest, mass, minlength=n_steps + 1).astype(np.float64)
    scaled: Floats = p / max(float(p.sum()), 1e-300)
    return scaled


def _worth(p_highest: Floats) -> float:
    return max(float(expected_gain(p_highest).max()), GAIN_UNCLEAR)


def _worth_after(
    mass: Floats, columns: Floats, highest: NDArray[np.int64], noise_sd: float, n_steps: int
) -> float:
    """Worth of deciding after one more look at the mean rise over these steps.

    The outcome is drawn over a grid of errors around every possible truth, thinned to the truths
    that carry the probability.
    """
    level = columns.mean(axis=1)
    sd = noise_sd / np.sqrt(columns.shape[1])
    spread = np.asarray(np.quantile(level, np.linspace(0.0, 1.0, 15)), dtype=np.float64)
    edges = [spread[:1] + sd * _SHOWN, spread[-1:] + sd * _SHOWN]
    shown = np.unique(np.concatenate([spread, *edges]))
    likelihood = np.exp(-0.5 * ((shown[:, None] - level[None, :]) / sd) ** 2)
    width = np.gradient(shown)
    joint = likelihood * mass * (width[:, None] / (sd * np.sqrt(2 * np.pi)))
    total = joint.sum()
    steps = joint @ (highest[:, None] == np.arange(n_steps + 1))
    gains = expected_gain(steps)
    best = np.maximum(gains.max(axis=1), GAIN_UNCLEAR * steps.sum(axis=1))
    return float(best.sum() / total)
