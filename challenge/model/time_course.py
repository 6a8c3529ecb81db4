"""When a dose acts: latency after eating, rise, and fading into the next days."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WINDOW_H = 24.0
_STEP_H = 0.25
_LONGEST_H = 144.0


@dataclass(frozen=True, slots=True)
class TimeCourse:
    """Response per unit dose effect: zero for ``latency_h``, rising, then fading.

    ``f(u) = (1 - exp(-u / rise_h)) * exp(-u / decay_h)`` for u hours after the latency, scaled so
    that the mean over the 24 h in which it is strongest is 1.
    """

    latency_h: float
    rise_h: float
    decay_h: float

    def at(self, hours: Floats) -> Floats:
        """Response at these hours after eating (any shape)."""
        return _raw(self, hours) / _strongest_day(self)


def _raw(course: TimeCourse, hours: Floats) -> Floats:
    u = np.maximum(hours - course.latency_h, 0.0)
    shape: Floats = -np.expm1(-u / course.rise_h) * np.exp(-u / course.decay_h)
    return shape


@lru_cache(maxsize=256)
def _strongest_day(course: TimeCourse) -> float:
    grid = np.arange(0.0, _LONGEST_H, _STEP_H)
    total = np.concatenate([[0.0], np.cumsum(_raw(course, grid + _STEP_H / 2))]) * _STEP_H
    width = int(WINDOW_H / _STEP_H)
    return float(np.max(total[width:] - total[:-width]) / WINDOW_H)
