"""How a dose turns into symptoms: dose against rise, and rise against hours since eating.

The *rise* of a dose is what it adds to the most affected symptom, averaged over the 24 hours in
which it acts (the best 24 hours of its time course). Time courses are scaled so that this average
is 1; the effect of a dose at a given hour is then its rise times the scaled course.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.simulation.world import Kernel, Shape, World

Floats = NDArray[np.float64]

GRID_HOURS = 0.25
_HORIZON_HOURS = 96.0
_CANDIDATES = 24


@dataclass(frozen=True, slots=True)
class Curve:
    """Dose against rise for one client and group.

    Attributes
    ----------
    shape
        One of the shapes of ``World.shapes``.
    plateau
        Rise far above the threshold [points].
    threshold
        Dose at which the effect begins, or is half way for the saturating shape [g].
    hill
        Steepness of the saturating shape.
    """

    shape: Shape
    plateau: float
    threshold: float
    hill: float

    def rise(self, grams: float) -> float:
        """Return the rise of one dose [points]."""
        if grams <= 0 or self.plateau == 0:
            return 0.0
        ratio = grams / self.threshold
        if self.shape == "saturating":
            power = math.pow(ratio, self.hill)
            return self.plateau * power / (1.0 + power)
        if self.shape == "straight":
            # full effect at three times the threshold
            return self.plateau * min(max((ratio - 1.0) / 2.0, 0.0), 1.0)
        if self.shape == "logarithm":
            # full effect two doublings above the threshold
            return self.plateau * min(max(math.log2(ratio) / 2.0, 0.0), 1.0)
        if self.shape == "jump":
            return self.plateau if ratio >= 1.0 else 0.0
        # proportional: no threshold at all; ``threshold`` is the dose of the full effect
        return self.plateau * ratio


@dataclass(frozen=True, slots=True)
class Course:
    """A scaled time course on a grid, with its running integral for scores that look back."""

    integral: Floats

    def at(self, hours: Floats, recall: float) -> Floats:
        """Return the effect per point of rise at hours since eating, over the last ``recall``."""
        now = self._integral(hours)
        if recall <= 0:
            recall = GRID_HOURS
        return np.asarray((now - self._integral(hours - recall)) / recall)

    def _integral(self, hours: Floats) -> Floats:
        place = np.clip(hours / GRID_HOURS, 0.0, len(self.integral) - 1.001)
        low = place.astype(np.intp)
        return np.asarray(
            self.integral[low] + (place - low) * (self.integral[low + 1] - self.integral[low])
        )


def make_course(kernel: Kernel, latency: float, rise: float, decay: float) -> Course:
    """Return the time course with a mean of 1 over its best 24 hours.

    Parameters
    ----------
    kernel
        Its form; ``box`` lasts ``rise + decay`` hours, ``gamma`` has its peak at ``latency + rise``
        and ``two-humps`` adds a late colonic hump to an early one.
    latency, rise, decay
        [hours], see `TimeCourse`.
    """
    hours = np.arange(0.0, _HORIZON_HOURS + GRID_HOURS, GRID_HOURS)
    since = np.maximum(hours - latency, 0.0)
    if kernel == "rise-and-fade":
        values = (1.0 - np.exp(-since / rise)) * np.exp(-since / decay)
    elif kernel == "box":
        values = ((since > 0) & (since <= rise + decay)).astype(float)
    elif kernel == "gamma":
        scale = max(decay / 3.0, 0.5)
        order = max(rise / scale, 0.3)
        values = (since / scale) ** order * np.exp(-since / scale)
    else:
        early = (1.0 - np.exp(-since / rise)) * np.exp(-since / (0.5 * decay))
        later = np.maximum(hours - latency - 12.0, 0.0)
        late = (1.0 - np.exp(-later / 4.0)) * np.exp(-later / 10.0)
        values = early / early.max() + 0.7 * late / late.max()
    integral = np.concatenate(([0.0], np.cumsum(values[:-1] + values[1:]) * GRID_HOURS / 2.0))
    window = round(24.0 / GRID_HOURS)
    best = (integral[window:] - integral[:-window]).max() / 24.0
    return Course(integral / best)


def draw_curve(world: World, group: str, reacts: bool, rng: np.random.Generator) -> Curve:
    """Draw how one client answers to one group.

    A client reacts by definition when the top dose rises by the margin or more, so curves are
    drawn until that holds; a client who does not react may have a small rise below it.
    """
    grams = world.doses[group].grams
    shape = _draw_shape(world, rng)
    plateaus = world.plateau_median * np.exp(
        world.plateau_sd_log * rng.standard_normal(_CANDIDATES)
    )
    places = rng.uniform(world.threshold_low, world.threshold_high, _CANDIDATES)
    hills = rng.uniform(world.hill_low, world.hill_high, _CANDIDATES)
    mild, size = rng.random(2)
    if reacts:
        for plateau, place, hill in zip(plateaus, places, hills, strict=True):
            threshold = grams[-1] if shape == "proportional" else grams[0] * 2.0**place
            curve = Curve(shape, float(plateau), float(threshold), float(hill))
            if curve.rise(grams[-1]) >= world.margin:
                return curve
        # hardly ever: nothing fitted, so the client reacts to the top dose just so
        return Curve("jump", 1.05 * world.margin, grams[-1], 1.0)
    if group == "glucose" or mild >= world.mild_share:
        return Curve("proportional", 0.0, grams[-1], 1.0)
    return Curve("proportional", float(size * world.mild_top), grams[-1], 1.0)


def _draw_shape(world: World, rng: np.random.Generator) -> Shape:
    names = list(world.shapes)
    shares = np.cumsum([world.shapes[name] for name in names])
    place = int(np.searchsorted(shares, rng.random() * shares[-1], side="right"))
    shape: Shape = names[min(place, len(names) - 1)]  # type: ignore[assignment]
    return shape


def tolerated_step(rises: tuple[float, ...], margin: float) -> int:
    """Return the highest step before the first rise of the margin or more; 0 for none."""
    for place, rise in enumerate(rises):
        if rise >= margin:
            return place
    return len(rises)
