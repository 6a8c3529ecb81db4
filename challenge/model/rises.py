"""From a posterior to what is asked: the rise at each step and the highest step tolerated."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from challenge.model.posterior import GroupPosterior

Floats = NDArray[np.float64]

_GRID = np.concatenate([[0.0], np.geomspace(0.02, 20.0, 160)])
_LOG_GRID = np.log(_GRID[1:])
_LEAST_SD = 0.02


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


def highest_tolerated(
    posterior: GroupPosterior, step_shapes: Floats, sizes: Floats, log_sd: float, margin: float
) -> Floats:
    """(J + 1,) probability of each step, from 0, being the highest tolerated.

    Parameters
    ----------
    step_shapes
        (s, J) relative rise at the planned steps, non-decreasing over the steps.
    sizes
        (a,) rise at the largest planned dose [points].
    log_sd
        Uncertainty of the logarithm of the scale, common to all steps.
    margin
        Smallest rise that matters [points].
    """
    under = np.concatenate(
        [[1.0], _under(posterior, _log_rises(step_shapes, sizes), log_sd, margin), [0.0]]
    )
    p_highest: Floats = under[:-1] - under[1:]
    return p_highest


def step_rises(
    posterior: GroupPosterior,
    step_shapes: Floats,
    sizes: Floats,
    log_sd: float,
    margin: float,
    confidence: float,
) -> StepRises:
    """Read the steps off a posterior; parameters as in `highest_tolerated`."""
    logs = _log_rises(step_shapes, sizes)
    under = _under(posterior, logs, log_sd, margin)
    low, high = _interval(posterior, logs, log_sd, confidence)
    rises = step_shapes[:, None, :] * sizes[None, :, None]
    return StepRises(
        mean=(posterior.mass[:, :, None] * rises).sum(axis=(0, 1)),
        low=low,
        high=high,
        p_highest=np.concatenate([[1.0], under]) - np.concatenate([under, [0.0]]),
        p_over=1.0 - under,
    )


def _log_rises(step_shapes: Floats, sizes: Floats) -> Floats:
    """(s, a, J) logarithm of the rise at each step."""
    logs: Floats = np.log(np.maximum(step_shapes[:, None, :] * sizes[None, :, None], 1e-6))
    return logs


def _under(posterior: GroupPosterior, logs: Floats, log_sd: float, margin: float) -> Floats:
    """(J,) probability that the rise at a step stays under the margin; never growing."""
    z = (np.log(margin) - logs) / max(log_sd, _LEAST_SD)
    under = (posterior.mass[:, :, None] * ndtr(z)).sum(axis=(0, 1)) + posterior.none
    under = np.clip(np.minimum.accumulate(under), 0.0, 1.0)
    return np.asarray(under, dtype=np.float64)


def _interval(
    posterior: GroupPosterior, logs: Floats, log_sd: float, confidence: float
) -> tuple[Floats, Floats]:
    """Quantiles of the mixture: bin the log rises, then smooth by the scale's uncertainty."""
    n_steps = logs.shape[2]
    bins = np.clip(np.searchsorted(_LOG_GRID, logs), 0, len(_LOG_GRID) - 1)
    kernel = _smoother(round(max(log_sd, _LEAST_SD), 2))
    low, high = np.empty(n_steps), np.empty(n_steps)
    tail = (1.0 - confidence) / 2
    mass = posterior.mass.ravel()
    for j in range(n_steps):
        binned = np.bincount(bins[..., j].ravel(), mass, minlength=len(_LOG_GRID))
        # what lies under the finest rise of the grid is none
        none, binned[0] = posterior.none + binned[0], 0.0
        cdf = none + np.concatenate([[0.0], kernel @ binned])
        cdf = np.maximum.accumulate(cdf / cdf[-1])
        low[j] = 0.0 if cdf[0] >= tail else float(np.interp(tail, cdf, _GRID))
        high[j] = 0.0 if cdf[0] >= 1 - tail else float(np.interp(1 - tail, cdf, _GRID))
    return low, high


@lru_cache(maxsize=64)
def _smoother(sd: float) -> Floats:
    """(g, g) probability that a rise binned at column lies under the grid value at row."""
    kernel: Floats = ndtr((_LOG_GRID[:, None] - _LOG_GRID[None, :]) / sd)
    return kernel
