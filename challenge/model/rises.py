"""From a posterior to what is asked: the rise at each step and the highest step tolerated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from challenge.model.posterior import GroupPosterior

Floats = NDArray[np.float64]

_GRID = np.concatenate([[0.0], np.geomspace(0.02, 20.0, 240)])


@dataclass(frozen=True, kw_only=True)
class StepRises:
    """Rise of the most affected symptom at each planned step.

    Attributes
    ----------
    mean, low, high
        (J,) expected rise and equal-tailed credible interval [points].
    p_highest
        (J + 1,) probability of each step, from 0, being the highest tolerated.
    p_over
        (J,) probability that the rise is at least the margin.
    """

    mean: Floats
    low: Floats
    high: Floats
    p_highest: Floats
    p_over: Floats


def step_rises(
    posterior: GroupPosterior,
    step_shapes: Floats,
    sizes: Floats,
    log_sd: float,
    margin: float,
    confidence: float,
) -> StepRises:
    """Read the steps off a posterior.

    Parameters
    ----------
    step_shapes
        (s, J) relative rise at the planned steps, non-decreasing over the steps.
    sizes
        (a,) rise at the largest planned dose [points].
    log_sd
        Uncertainty of the logarithm of the scale, common to all steps.
    """
    rises = step_shapes[:, None, :] * sizes[None, :, None]
    mass = posterior.mass[:, :, None]
    sd = max(log_sd, 0.02)
    logs = np.log(np.maximum(rises, 1e-6))
    under = (mass * ndtr((np.log(margin) - logs) / sd)).sum(axis=(0, 1)) + posterior.none
    under = np.clip(np.minimum.accumulate(under), 0.0, 1.0)
    at_least = np.concatenate([[1.0], under])
    p_highest = at_least - np.concatenate([under, [0.0]])
    low, high = _interval(posterior, logs, sd, confidence)
    return StepRises(
        mean=(mass * rises).sum(axis=(0, 1)),
        low=low,
        high=high,
        p_highest=p_highest,
        p_over=1.0 - under,
    )


def _interval(
    posterior: GroupPosterior, logs: Floats, sd: float, confidence: float
) -> tuple[Floats, Floats]:
    """Quantiles of the mixture: bin the log rises, then smooth by the scale's uncertainty."""
    grid = np.log(_GRID[1:])
    n_steps = logs.shape[2]
    bins = np.clip(np.searchsorted(grid, logs), 0, len(grid) - 1)
    kernel = ndtr((grid[:, None] - grid[None, :]) / sd)
    low, high = np.empty(n_steps), np.empty(n_steps)
    tail = (1.0 - confidence) / 2
    for j in range(n_steps):
        binned = np.bincount(bins[..., j].ravel(), posterior.mass.ravel(), minlength=len(grid))
        cdf = posterior.none + np.concatenate([[0.0], kernel @ binned])
        cdf = np.maximum.accumulate(cdf / cdf[-1])
        low[j] = 0.0 if cdf[0] >= tail else float(np.interp(tail, cdf, _GRID))
        high[j] = 0.0 if cdf[0] >= 1 - tail else float(np.interp(1 - tail, cdf, _GRID))
    return low, high
