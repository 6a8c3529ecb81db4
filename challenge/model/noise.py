"""Noise of a diary: days that hang together, and ratings that scatter within a day.

A session's residual is ``u[day] + e`` with ``u`` a stationary AR(1) over calendar days (variance
``q * s2``, correlation ``phi`` from one day to the next) and ``e`` independent with variance
``v * s2``. Days without scores keep their place in the chain.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dtrtrs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class DayNoise:
    """One setting of the noise: ``phi`` and the variance ratio ``q`` of days to ratings."""

    phi: float
    q: float

    def day_precision(self, n_days: int) -> Floats:
        """(n, n) inverse covariance of the day effects, in units of the rating variance."""
        diagonal = np.full(n_days, 1.0 + self.phi**2)
        diagonal[[0, -1]] = 1.0
        if n_days == 1:
            diagonal[:] = 1.0 - self.phi**2
        precision = np.diag(diagonal)
        i = np.arange(n_days - 1)
        precision[i, i + 1] = precision[i + 1, i] = -self.phi
        scaled: Floats = precision / ((1.0 - self.phi**2) * self.q)
        return scaled

    def log_det_day_covariance(self, n_days: int) -> float:
        """Log determinant of the day effects' covariance, in units of the rating variance."""
        return float(n_days * np.log(self.q) + (n_days - 1) * np.log1p(-(self.phi**2)))


@dataclass(frozen=True, kw_only=True)
class Reduced:
    """Cross products of columns, day effects and nuisance coefficients integrated out.

    Attributes
    ----------
    log_det
        ``log det V`` plus that of the nuisance, up to a constant.
    """

    columns: Floats
    weighted: Floats
    half: Floats
    log_det: float

    def block(self, rows: slice, cols: slice) -> Floats:
        """Cross products of two ranges of columns, in units of the rating variance."""
        product: Floats = self.columns[:, rows].T @ self.weighted[:, cols]
        product -= self.half[:, rows].T @ self.half[:, cols]
        return product

    def diagonal(self, rows: slice) -> Floats:
        """Squared lengths of a range of columns."""
        lengths: Floats = (self.columns[:, rows] * self.weighted[:, rows]).sum(axis=0)
        lengths -= (self.half[:, rows] ** 2).sum(axis=0)
        return lengths


class Columns:
    """Columns of a regression, prepared once for many noise settings.

    Parameters
    ----------
    columns
        (n, p) columns, the nuisance first and the data wherever the caller wants them.
    day
        (n,) day number of each session, non-decreasing.
    n_days
        Number of days.
    weight
        (n,) inverse relative rating variance of each session.
    n_nuisance
        How many of the first columns are nuisance.
    """

    def __init__(
        self, columns: Floats, day: Ints, n_days: int, weight: Floats, n_nuisance: int
    ) -> None:
        self._columns = columns
        self._weighted = columns * weight[:, None]
        self._per_day = np.zeros((n_days, columns.shape[1]))
        np.add.at(self._per_day, day, self._weighted)
        self._day_weight = np.bincount(day, weight, minlength=n_days)
        self._nuisance = slice(0, n_nuisance)
        self._plain_nuisance = columns[:, self._nuisance].T @ self._weighted

    def reduce(self, noise: DayNoise, precision: Floats) -> Reduced:
        """Integrate out day effects and nuisance.

        Parameters
        ----------
        precision
            Prior precision of each nuisance coefficient, in units of the rating variance; 0 for
            a flat prior.
        """
        n_days = len(self._day_weight)
        days = noise.day_precision(n_days)
        days[np.diag_indices(n_days)] += self._day_weight
        chol = np.linalg.cholesky(days)
        half = _solve(chol, self._per_day)
        log_det = noise.log_det_day_covariance(n_days) + _log_det(chol)
        cross = self._plain_nuisance - half[:, self._nuisance].T @ half
        inner = cross[:, self._nuisance] + np.diag(precision)
        chol = np.linalg.cholesky(inner)
        nuisance = _solve(chol, cross)
        log_det += _log_det(chol) - float(np.log(precision[precision > 0]).sum())
        return Reduced(
            columns=self._columns,
            weighted=self._weighted,
            half=np.vstack([half, nuisance]),
            log_det=log_det,
        )


def _solve(chol: NDArray[np.floating[Any]], right: Floats) -> Floats:
    """Solve with a lower triangle; straight to LAPACK, as checks cost more than the sums here."""
    solved: Floats = dtrtrs(chol, right, lower=1)[0]
    return solved


def _log_det(chol: NDArray[np.floating[Any]]) -> float:
    return 2.0 * float(np.log(np.diag(chol)).sum())
