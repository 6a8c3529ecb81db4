"""Rise with dose over all clients and groups: one mixed model for the whole practice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from challenge.practice.tolerated import present
from challenge.statistics.mixed import fit_mixed

if TYPE_CHECKING:
    import pandas as pd

LEAST_CLIENTS: Final = 20
"""Below this many clients nothing is fitted: the normal intervals know no degrees of freedom and
are then clearly too narrow (common practice; no source for the exact number)."""
_Z95: Final = 1.959963984540054


@dataclass(frozen=True, kw_only=True, slots=True)
class Slope:
    """Mean difference at a group's top dose [points], with its 95 % interval, of some clients."""

    fodmap_group: str
    n_clients: int
    estimate: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True, slots=True)
class RiseByDose:
    """The fitted model.

    Attributes
    ----------
    slopes
        One per group.
    client_sd
        How far clients lie apart in their own slope [points at the top dose].
    residual_sd
        What one difference scatters around that [points].
    n_differences, n_clients
        What it rests on.
    reason
        Why there is no fit, or what the optimiser warned of; else None.
    """

    slopes: tuple[Slope, ...] = ()
    client_sd: float | None = None
    residual_sd: float | None = None
    n_differences: int
    n_clients: int
    reason: str | None = None


def rise_by_dose(steps: pd.DataFrame) -> RiseByDose:
    """Fit difference = (slope of the group + slope of the client) x share of the top dose.

    No dose, no difference, so there is no intercept. A difference is challenge minus reference day
    on the primary symptom. Challenges that were stopped have no top dose, which pulls the slopes of
    badly tolerated groups down; and an open challenge has the client's expectation in it.

    Parameters
    ----------
    steps
        ``Population.steps``.
    """
    n_clients = int(steps["client"].nunique())
    if n_clients < LEAST_CLIENTS:
        return RiseByDose(
            n_differences=len(steps),
            n_clients=n_clients,
            reason=f"fewer than {LEAST_CLIENTS} clients",
        )
    names = present(steps)
    share = steps["share"].to_numpy(dtype=float)
    group = steps["fodmap_group"].to_numpy()
    fixed = np.column_stack([share * (group == name) for name in names])
    clients = steps.groupby("fodmap_group")["client"].nunique()
    fit = fit_mixed(
        steps["difference"].to_numpy(dtype=float),
        fixed,
        steps["client"].tolist(),
        share[:, None],
    )
    slopes = tuple(
        Slope(
            fodmap_group=name,
            n_clients=int(clients[name]),
            estimate=estimate,
            low=estimate - _Z95 * error,
            high=estimate + _Z95 * error,
        )
        for name, estimate, error in zip(names, fit.estimates, fit.standard_errors, strict=False)
    )
    return RiseByDose(
        slopes=slopes,
        client_sd=float(np.sqrt(fit.random_covariance[0][0])) if slopes else None,
        residual_sd=None if fit.residual_variance is None else float(fit.residual_variance**0.5),
        n_differences=fit.n,
        n_clients=fit.n_groups,
        reason=fit.reason,
    )
