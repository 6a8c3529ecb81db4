"""How the rise grows with the dose: a family of monotone shapes with a threshold.

Every shape is scaled to 1 at the largest planned dose, so that the amplitude of a group is the
rise at that dose.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_CAP = 2.0  # a dose beyond the plan counts at most twice the rise of the largest planned one


def dose_shapes(level_g: Floats, steps_g: Floats, n_thresholds: int) -> tuple[Floats, Floats]:
    """Relative rise of each dose level under each shape of the family.

    Parameters
    ----------
    level_g
        (m,) grams of the levels wanted.
    steps_g
        (J,) grams of the planned steps, rising.
    n_thresholds
        Thresholds, evenly spaced in log dose from half the lowest step to the highest step.

    Returns
    -------
    shapes
        (s, m) relative rises; 0 below the threshold, 1 at the largest planned step.
    weights
        (s,) prior weights, summing to 1.
    """
    top = steps_g[-1]
    edges = np.geomspace(0.5 * steps_g[0], top, n_thresholds + 1)
    tau = np.sqrt(edges[:-1] * edges[1:])[:, None]
    dose = np.maximum(level_g[None, :], 1e-9)
    logarithmic = np.maximum(np.log(dose / tau), 0.0) / np.log(top / tau)
    abrupt = _abrupt(dose / tau) / _abrupt(top / tau)
    halfway = _halfway(dose / tau) / _halfway(top / tau)
    free = np.vstack([dose / top, np.sqrt(dose / top), (dose / top) ** 2])
    shapes = np.minimum(np.vstack([logarithmic, abrupt, halfway, free]), _CAP)
    family = np.concatenate(
        [np.full(3 * n_thresholds, 0.85 / (3 * n_thresholds)), np.full(3, 0.15 / 3)]
    )
    return shapes, family


def _abrupt(ratio: Floats) -> Floats:
    """All or nothing, softened over a tenth of the dose so that grams eaten and planned may differ.

    ``ratio`` is dose over threshold.
    """
    rise: Floats = 1.0 / (1.0 + np.maximum(ratio, 1e-9) ** -12.0)
    return rise


def _halfway(ratio: Floats) -> Floats:
    """Half of the effect at once, the rest over one and a half doublings."""
    rise: Floats = _abrupt(ratio) * (0.5 + 0.5 * np.clip(np.log2(ratio) / 1.5, 0.0, 1.0))
    return rise
