"""Does the model fit this client? Diaries drawn from it beside the real one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.fit import DiaryFit
from challenge.terms import SCORE_MAX, SCORE_MIN

Floats = NDArray[np.float64]

N_DRAWN = 99
_RARE = 0.02


@dataclass(frozen=True, kw_only=True)
class FitCheck:
    """One property of the diary beside the same property of diaries drawn from the model.

    Attributes
    ----------
    name
        What is compared, in words.
    observed, low, high
        Value in the diary; central 98 % of the drawn diaries.
    p
        Share of drawn diaries at least as extreme on that side, doubled (at most 1).
    """

    name: str
    observed: float
    low: float
    high: float
    p: float

    @property
    def fits(self) -> bool:
        """Whether the diary could well have come from the model."""
        return self.p > _RARE


def check_fit(fit: DiaryFit, scores: Floats, deviations: Floats, seed: int) -> tuple[FitCheck, ...]:
    """Compare serial correlation, share of zeros and largest residual.

    Parameters
    ----------
    scores, deviations
        (n, k) scores of the used sessions, and the same less each slot's usual level [points].
    seed
        Seed of the drawn diaries.
    """
    rng = np.random.default_rng(seed)
    drawn = _draw(fit, scores, deviations, rng)
    level = scores - deviations
    mixing = fit.composite.mixing
    seen = np.isfinite(scores)
    weights = seen * mixing
    weights = weights / np.maximum(weights.sum(axis=1, keepdims=True), 1e-9)
    expected = fit.composite.values - fit.residual
    usual = np.where(seen, level, 0.0)

    def residual(values: Floats) -> Floats:
        mean: Floats = (np.where(seen, values - usual, 0.0) * weights).sum(axis=-1) - expected
        return mean

    real = residual(np.where(seen, scores, 0.0))
    copies = residual(drawn)
    checks = [
        (
            "correlation of one day's residual with the next",
            _day_correlation(real[None], fit)[0],
            _day_correlation(copies, fit),
        ),
        (
            "share of scores that are 0",
            float((scores[seen] == 0).mean()),
            ((drawn == 0) & seen).sum(axis=(1, 2)) / seen.sum(),
        ),
        ("largest residual [points]", float(np.abs(real).max()), np.abs(copies).max(axis=1)),
    ]
    return tuple(_compare(name, observed, copies) for name, observed, copies in checks)


def _draw(fit: DiaryFit, scores: Floats, deviations: Floats, rng: np.random.Generator) -> Floats:
    """(draws, n, k) whole-number scores drawn from the model at the best noise setting."""
    day, n_days = fit.design.day, fit.design.n_days
    point, variance = fit.noise.points[0], fit.noise.rating_variance[0]
    n, k = scores.shape
    days = rng.standard_normal((N_DRAWN, n_days))
    for i in range(1, n_days):
        days[:, i] = point.phi * days[:, i - 1] + np.sqrt(1 - point.phi**2) * days[:, i]
    days *= np.sqrt(point.q * variance)
    expected = fit.composite.values - fit.residual
    seen = np.isfinite(deviations)
    own = np.where(seen, deviations - np.outer(fit.composite.values, fit.shares), 0.0)
    own_variance = (own**2).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    # the part of the rating noise that the symptoms' own scatter explains is not added twice
    shared = max(variance - float((fit.composite.mixing**2 * own_variance).sum()), 0.0)
    common = days[:, day] + np.sqrt(shared) * rng.standard_normal((N_DRAWN, n))
    level = np.where(seen, scores - deviations, 0.0)
    latent = (
        level
        + np.outer(expected, fit.shares)
        + common[:, :, None]
        + np.sqrt(own_variance) * rng.standard_normal((N_DRAWN, n, k))
    )
    drawn: Floats = np.clip(np.rint(latent), SCORE_MIN, SCORE_MAX)
    return drawn


def _day_correlation(residual: Floats, fit: DiaryFit) -> Floats:
    """(draws,) lag-1 correlation of the daily means, over days that both have scores."""
    day, n_days = fit.design.day, fit.design.n_days
    starts = np.flatnonzero(np.diff(day, prepend=-1))
    count = np.bincount(day, minlength=n_days)
    means = np.add.reduceat(residual, starts, axis=1) / count[count > 0]
    means = means - means.mean(axis=1, keepdims=True)
    next_day = np.diff(np.unique(day)) == 1
    above = (means[:, 1:] * means[:, :-1] * next_day).sum(axis=1)
    correlation: Floats = above / np.maximum((means**2).sum(axis=1), 1e-9)
    return correlation


def _compare(name: str, observed: float, drawn: Floats) -> FitCheck:
    n = len(drawn)
    upper = (1 + int((drawn >= observed).sum())) / (n + 1)
    lower = (1 + int((drawn <= observed).sum())) / (n + 1)
    low, high = np.quantile(drawn, [0.01, 0.99])
    return FitCheck(
        name=name,
        observed=float(observed),
        low=float(low),
        high=float(high),
        p=min(2 * min(upper, lower), 1.0),
    )
