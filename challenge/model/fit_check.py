"""Does the model fit this client? Diaries drawn from it beside the real one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.fit import DiaryFit
from challenge.model.priors import Priors
from challenge.model.series import beyond_the_scale, scale_ends
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
        What is compared: ``day-correlation``, ``zeros`` or ``largest-residual``.
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


def check_fit(fit: DiaryFit, scores: Floats, priors: Priors, seed: int) -> tuple[FitCheck, ...]:
    """Compare serial correlation, share of zeros and largest residual.

    Parameters
    ----------
    scores
        (m, k) scores of the used sessions [points].
    priors
        Tell how often a flare comes and how large it is.
    seed
        Seed of the drawn diaries.
    """
    seen = np.isfinite(scores)
    ends = scale_ends(scores, fit.design.quiet)
    moved = beyond_the_scale(scores, ends)
    level = np.where(seen, moved - fit.deviations, 0.0)
    drawn = _draw(fit, level, priors, np.random.default_rng(seed))
    precision = seen * (fit.pattern.loadings / fit.pattern.own_variance)
    precision = precision / (precision @ fit.pattern.loadings)[:, None]
    expected = fit.common.values - fit.residual

    def residual(values: Floats) -> Floats:
        left: Floats = ((values - level) * precision).sum(axis=-1) - expected
        return left

    real = residual(np.where(seen, moved, level))
    copies = residual(beyond_the_scale(drawn, ends))
    return (
        _compare(
            "day-correlation",
            float(_day_correlation(real[None], fit)[0]),
            _day_correlation(copies, fit),
        ),
        _compare(
            "zeros",
            float((scores[seen] == 0).mean()),
            ((drawn == 0) & seen).sum(axis=(1, 2)) / seen.sum(),
        ),
        _compare(
            "largest-residual",
            float(np.abs(real).max()),
            np.abs(copies).max(axis=1),
        ),
    )


def _draw(fit: DiaryFit, level: Floats, priors: Priors, rng: np.random.Generator) -> Floats:
    """(draws, m, k) whole-number scores drawn from the model at the best noise setting."""
    day, n_days = fit.design.day, fit.design.n_days
    # what is widened for the sake of estimates is not wider in the diary
    point, variance = fit.noise.points[0], fit.noise.rating_variance[0] / fit.noise.dispersion
    m, k = level.shape
    days = rng.standard_normal((N_DRAWN, n_days))
    for i in range(1, n_days):
        days[:, i] = point.phi * days[:, i - 1] + np.sqrt(1 - point.phi**2) * days[:, i]
    days *= np.sqrt(point.q * variance)
    days += _flares(priors, n_days, rng)
    # the symptoms' own scatter already explains a part of the rating noise: not added twice
    shared = max(variance - fit.common.own_variance, 0.0)
    common = days[:, day] + np.sqrt(shared) * rng.standard_normal((N_DRAWN, m))
    own = np.sqrt(fit.pattern.own_variance) * rng.standard_normal((N_DRAWN, m, k))
    latent = (
        level
        + np.outer(fit.expected, fit.shares.values)
        + common[:, :, None] * fit.pattern.loadings
        + own
    )
    drawn: Floats = np.clip(np.rint(latent), SCORE_MIN, SCORE_MAX)
    return drawn


def _flares(priors: Priors, n_days: int, rng: np.random.Generator) -> Floats:
    """(draws, days) spells of worse days [points]."""
    points = np.zeros((N_DRAWN, n_days))
    starts = rng.random((N_DRAWN, n_days)) < priors.flare_per_day
    sizes = np.abs(priors.flare_sd * rng.standard_normal(starts.shape))
    lengths = rng.choice(priors.flare_lengths, starts.shape)
    for draw, day in zip(*np.nonzero(starts), strict=True):
        points[draw, day : day + lengths[draw, day]] += sizes[draw, day]
    # the usual level, as estimated, holds the flares of this diary already
    centred: Floats = points - points.mean()
    return centred


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
