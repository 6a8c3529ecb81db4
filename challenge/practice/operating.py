"""How far suggestions can be trusted: suggestions on invented clients against the truth.

Every number has its Monte-Carlo standard error. The groups of one client share a diary, so the
client, not the group, is what varies: errors come from sums over clients (linearised ratio), and
for kappa and the calibration error from leaving out tenths of the clients in turn (jackknife).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from challenge.practice.truth import Calls
from challenge.statistics.agreement import Calibration, calibration, weighted_kappa

Floats = NDArray[np.float64]

UTILITY: Final = {"right": 1.0, "one too low": 0.5, "unclear": 0.4, "one too high": 0.25}
"""Worth of a call; anything else 0."""
_FOLDS: Final = 20
_ROUNDING: Final = 1e-24


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A number with its Monte-Carlo standard error; None where it cannot be had.

    There is no error where all clients are alike (a share of 0 or 1): a nought would boast.
    """

    value: float | None
    error: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Operating:
    """Operating characteristics of a set of calls.

    Attributes
    ----------
    n_groups, n_clients
        Client-groups and clients behind the numbers.
    exact, too_high, too_low, unclear
        Shares of all calls; they sum to 1.
    kappa
        Linearly weighted kappa of suggested and true step, unclear calls left out.
    utility
        Mean worth of a call (`UTILITY`).
    false_reaction
        Among groups of which every step is tolerated: share called below the top step.
    calibration_error
        Mean distance of stated probability and observed share, over all calls, of the step held
        most probable.
    calibration
        The curve behind it.
    coverage
        Share of rises within their interval.
    """

    n_groups: int
    n_clients: int
    exact: Estimate
    kappa: Estimate
    too_high: Estimate
    too_low: Estimate
    unclear: Estimate
    utility: Estimate
    false_reaction: Estimate
    calibration_error: Estimate
    calibration: Calibration
    coverage: Estimate

    def row(self) -> dict[str, float | int | None]:
        """Return one flat row: value and ``_se`` of every number."""
        flat: dict[str, float | int | None] = {
            "n_groups": self.n_groups,
            "n_clients": self.n_clients,
        }
        for name in NUMBERS:
            estimate: Estimate = getattr(self, name)
            flat[name] = estimate.value
            flat[f"{name}_se"] = estimate.error
        return flat


NUMBERS: Final = (
    "exact",
    "kappa",
    "too_high",
    "too_low",
    "unclear",
    "utility",
    "false_reaction",
    "calibration_error",
    "coverage",
)


def operating(calls: Calls) -> Operating:
    """Return the operating characteristics of calls on invented clients."""
    clear = calls.suggested >= 0
    off = np.where(clear, calls.suggested - calls.truth, 99)
    top = calls.truth == calls.top
    low_call = (clear & (off < 0)).astype(float)
    within, known = _within(calls)
    return Operating(
        n_groups=len(calls),
        n_clients=len(np.unique(calls.client)),
        exact=_share(calls, off == 0),
        too_high=_share(calls, clear & (off > 0)),
        too_low=_share(calls, clear & (off < 0)),
        unclear=_share(calls, ~clear),
        utility=_share(calls, worth(calls)),
        kappa=_jackknife(calls, kappa),
        false_reaction=_share(calls, low_call, top.astype(float)),
        calibration_error=_jackknife(calls, calibration_error),
        calibration=calibration_of(calls),
        coverage=_share(calls, within, known),
    )


def worth(calls: Calls) -> Floats:
    """Return the worth of each call."""
    off = calls.suggested - calls.truth
    return np.select(
        [calls.suggested < 0, off == 0, off == -1, off == 1],
        [
            UTILITY["unclear"],
            UTILITY["right"],
            UTILITY["one too low"],
            UTILITY["one too high"],
        ],
        default=0.0,
    )


def kappa(calls: Calls) -> float | None:
    """Return the linearly weighted kappa of the clear calls (Cohen 1968)."""
    clear = calls.suggested >= 0
    size = max(int(calls.top.max(initial=1)) + 1, 2)
    table = np.zeros((size, size))
    np.add.at(table, (calls.truth[clear], calls.suggested[clear]), 1)
    return weighted_kappa(table).kappa


def most_probable(calls: Calls) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the probability of the step held most probable, and whether it is the true one."""
    known = ~np.isnan(calls.probability[:, 0])
    chances = np.nan_to_num(calls.probability[known], nan=-1.0)
    best = chances.argmax(axis=1)
    return np.minimum(chances.max(axis=1, initial=0.0), 1.0), best == calls.truth[known]


def calibration_of(calls: Calls) -> Calibration:
    """Return whether the probability of the step held most probable comes true."""
    return calibration(*most_probable(calls))


def calibration_error(calls: Calls) -> float | None:
    """Return the mean distance of stated and observed, weighted by the number of calls."""
    return calibration_of(calls).error


def _within(calls: Calls) -> tuple[Floats, Floats]:
    width = min(calls.low.shape[1], calls.true_rise.shape[1])
    low, high, true = (a[:, :width] for a in (calls.low, calls.high, calls.true_rise))
    known = ~np.isnan(low) & ~np.isnan(high) & ~np.isnan(true)
    # a rise that is nought lies on the edge of an interval that cannot go below it
    inside = known & (true >= low - 1e-9) & (true <= high + 1e-9)
    return inside.sum(axis=1).astype(float), known.sum(axis=1).astype(float)


def _share(calls: Calls, hits: NDArray[Any], of: NDArray[Any] | None = None) -> Estimate:
    """Ratio of sums with its error over clients (linearisation, Cochran 1977 section 3)."""
    above = np.asarray(hits, dtype=float)
    below = np.ones(len(calls)) if of is None else np.asarray(of, dtype=float)
    above = np.where(below > 0, above, 0.0)
    total = below.sum()
    if total == 0:
        return Estimate(value=None, error=None)
    value = above.sum() / total
    _, client = np.unique(calls.client, return_inverse=True)
    residual = np.bincount(client, weights=above - value * below)
    m = len(residual)
    spread = m / (m - 1) * float((residual**2).sum()) if m > 1 else 0.0
    return Estimate(value=float(value), error=float(np.sqrt(spread) / total) if spread else None)


def _jackknife(calls: Calls, number: Callable[[Calls], float | None]) -> Estimate:
    """Leave out one fold of clients at a time (delete-a-group jackknife)."""
    value = number(calls)
    _, client = np.unique(calls.client, return_inverse=True)
    folds = min(_FOLDS, client.max(initial=0) + 1)
    if value is None or folds < 2:
        return Estimate(value=value, error=None)
    parts = [number(calls.where(client % folds != fold)) for fold in range(folds)]
    known = [part for part in parts if part is not None]
    if len(known) < folds:
        return Estimate(value=value, error=None)
    spread = (folds - 1) / folds * float(((np.array(known) - np.mean(known)) ** 2).sum())
    alike = spread < _ROUNDING
    return Estimate(value=value, error=None if alike else float(np.sqrt(spread)))
