"""From the two series to the noise settings and to each group's likelihood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.design import Design
from challenge.model.noise import Columns, DayNoise, Reduced
from challenge.model.posterior import (
    Blocks,
    GroupLikelihood,
    group_likelihood,
    mix_likelihoods,
)
from challenge.model.priors import Priors
from challenge.model.series import Series
from challenge.terms import FodmapGroup

Floats = NDArray[np.float64]

_PHI = (0.0, 0.2, 0.4, 0.6, 0.8)
_PHI_WEIGHT = (0.15, 0.25, 0.30, 0.20, 0.10)
_Q = (0.1, 0.25, 0.5, 1.0, 2.0, 4.0)
_COARSE = 3  # every third setting will do when only one is kept, on the way
_Q_CONTRAST = (0.02, 0.25, 0.7, 1.5)
_LEAST_VARIANCE = 0.01


@dataclass(frozen=True)
class TwoSeries:
    """The common series and, where a reaction has a pattern of its own, the contrast."""

    common: Series
    contrast: Series | None


@dataclass(frozen=True, kw_only=True)
class NoiseFit:
    """Noise settings that the diary supports.

    Attributes
    ----------
    points, log_weights
        Settings of the common series and the logarithm of their posterior weights.
    rating_variance
        (len(points),) variance of one session's rating noise at each setting, widened by the
        dispersion [points squared].
    dispersion
        The factor by which it is widened.
    contrast, contrast_variance
        The same for the contrast series, at its best setting; None without a contrast.
    """

    points: tuple[DayNoise, ...]
    log_weights: Floats
    rating_variance: Floats
    dispersion: float
    contrast: DayNoise | None
    contrast_variance: float


def fit_noise(
    design: Design,
    series: TwoSeries,
    effects: Mapping[FodmapGroup, Floats],
    priors: Priors,
    keep: int,
) -> NoiseFit:
    """Weigh noise settings by how well they explain what the expected effects leave over.

    The best ``keep`` of them are returned.
    """
    total = sum(effects.values(), np.zeros(len(design.day)))
    shift = priors.expectation_mean * design.expectation
    left = series.common.values - series.common.loading * total - shift
    settings = [
        (DayNoise(phi, q), float(np.log(weight)))
        for phi, weight in zip(_PHI, _PHI_WEIGHT, strict=True)
        for q in _Q
    ][:: 1 if keep > 1 else _COARSE]
    points, log_weights, variances = _weigh(design, design.nuisance, left, series.common, settings)
    best = np.argsort(log_weights)[::-1][:keep]
    chosen = log_weights[best] - log_weights[best[0]]
    contrast, contrast_variance = _contrast_noise(design, series.contrast, total)
    return NoiseFit(
        points=tuple(points[i] for i in best),
        log_weights=chosen - np.log(np.exp(chosen).sum()),
        rating_variance=priors.dispersion * variances[best],
        dispersion=priors.dispersion,
        contrast=contrast,
        contrast_variance=priors.dispersion * contrast_variance,
    )


def _contrast_noise(
    design: Design, contrast: Series | None, total: Floats
) -> tuple[DayNoise | None, float]:
    if contrast is None:
        return None, 1.0
    left = contrast.values - total
    settings = [(DayNoise(0.0, q), 0.0) for q in _Q_CONTRAST]
    points, log_weights, variances = _weigh(design, design.levels, left, contrast, settings)
    best = int(np.argmax(log_weights))
    return points[best], float(variances[best])


def _weigh(
    design: Design,
    nuisance: Floats,
    left: Floats,
    series: Series,
    settings: list[tuple[DayNoise, float]],
) -> tuple[list[DayNoise], Floats, Floats]:
    """Log weight and rating variance of every setting."""
    n = nuisance.shape[1]
    prepared = Columns(
        np.hstack([nuisance, left[:, None]]), design.day, design.n_days, series.weight, n
    )
    guess = within_day_variance(left, design)
    precision = design.nuisance_precision(guess)[:n]
    df = max(int((series.weight > 0).sum()) - 3, 1)
    weights, variances = [], []
    for point, log_prior in settings:
        reduced = prepared.reduce(point, precision)
        rss = max(float(reduced.diagonal(slice(n, n + 1))[0]), 1e-6)
        variances.append(max(rss / df, _LEAST_VARIANCE))
        weights.append(log_prior - 0.5 * reduced.log_det - 0.5 * df * np.log(rss))
    return [point for point, _ in settings], np.array(weights), np.array(variances)


def within_day_variance(left: Floats, design: Design) -> float:
    """Variance within days, a first guess."""
    count = np.bincount(design.day, minlength=design.n_days)
    mean = np.bincount(design.day, left, minlength=design.n_days) / np.maximum(count, 1)
    df = max(int((count - 1).clip(0).sum()), 1)
    return max(float(((left - mean[design.day]) ** 2).sum()) / df, 0.02)


def group_likelihoods(
    design: Design,
    series: TwoSeries,
    effects: Mapping[FodmapGroup, Floats],
    noise: NoiseFit,
    priors: Priors,
) -> dict[FodmapGroup, GroupLikelihood]:
    """Likelihood of each group, the expected effects of the others taken out."""
    if not design.groups:
        return {}
    courses = np.hstack([g.courses for g in design.groups.values()])
    contrast = _contrast_blocks(design, series.contrast, effects, noise, courses)
    shift = priors.expectation_mean * design.expectation
    prepared = _prepare(
        design, design.nuisance, series.common, courses, design.flares, effects, shift
    )
    parts: dict[FodmapGroup, list[GroupLikelihood]] = {group: [] for group in design.groups}
    for point, variance in zip(noise.points, noise.rating_variance, strict=True):
        reduced = prepared.reduce(point, design.nuisance_precision(variance))
        for i, group in enumerate(design.groups):
            blocks = _blocks(
                design, reduced, group, i, float(variance), design.n_nuisance, contrast.get(group)
            )
            parts[group].append(
                group_likelihood(
                    blocks,
                    design.groups[group].shapes,
                    priors.sizes,
                    priors.flare_sd,
                    _flare_log_prior(len(blocks.ff), priors),
                )
            )
    return {group: mix_likelihoods(part, noise.log_weights) for group, part in parts.items()}


def _prepare(
    design: Design,
    nuisance: Floats,
    series: Series,
    courses: Floats,
    flares: Floats,
    effects: Mapping[FodmapGroup, Floats],
    shift: Floats,
) -> Columns:
    """Columns of one series: nuisance, doses in time, flares, and the data seen by each group."""
    total = sum(effects.values(), np.zeros(len(design.day)))
    loading = series.loading
    own = [series.values - shift - loading * (total - effects[group]) for group in design.groups]
    columns = np.hstack([nuisance, courses * loading[:, None], flares, np.stack(own, axis=1)])
    return Columns(columns, design.day, design.n_days, series.weight, nuisance.shape[1])


def _contrast_blocks(
    design: Design,
    contrast: Series | None,
    effects: Mapping[FodmapGroup, Floats],
    noise: NoiseFit,
    courses: Floats,
) -> dict[FodmapGroup, Blocks]:
    """Return what the contrast series adds; it knows neither flares nor expectation."""
    if contrast is None or noise.contrast is None:
        return {}
    no_flares = np.zeros((len(design.day), 0))
    shift = np.zeros(len(design.day))
    prepared = _prepare(design, design.levels, contrast, courses, no_flares, effects, shift)
    n = design.levels.shape[1]
    reduced = prepared.reduce(
        noise.contrast, design.nuisance_precision(noise.contrast_variance)[:n]
    )
    return {
        group: _blocks(design, reduced, group, i, noise.contrast_variance, n, None, flares=False)
        for i, group in enumerate(design.groups)
    }


def _blocks(
    design: Design,
    reduced: Reduced,
    group: FodmapGroup,
    number: int,
    variance: float,
    n_nuisance: int,
    more: Blocks | None,
    *,
    flares: bool = True,
) -> Blocks:
    """Cross products of one group's columns, with the flares that could fall into its window."""
    mine = design.groups[group]
    n_all = sum(g.courses.shape[1] for g in design.groups.values())
    n_flares = design.flares.shape[1] if flares else 0
    x = slice(n_nuisance + mine.start, n_nuisance + mine.start + mine.courses.shape[1])
    first = n_nuisance + n_all
    spells = slice(first + mine.flares.start, first + mine.flares.stop) if flares else slice(0, 0)
    data = slice(first + n_flares + number, first + n_flares + number + 1)
    levels = mine.shapes.shape[1]
    n_courses = mine.courses.shape[1] // levels
    each = np.arange(n_courses)
    xx = reduced.block(x, x).reshape(n_courses, levels, n_courses, levels)[each, :, each, :]
    xy = reduced.block(x, data).reshape(n_courses, levels)
    blocks = Blocks(
        xx=xx / variance,
        xy=xy / variance,
        xf=reduced.block(x, spells).reshape(n_courses, levels, -1) / variance
        if spells.stop > spells.start
        else np.zeros((n_courses, levels, 0)),
        ff=reduced.diagonal(spells) / variance,
        fy=reduced.block(spells, data)[:, 0] / variance,
    )
    if more is None:
        return blocks
    return Blocks(
        xx=blocks.xx + more.xx, xy=blocks.xy + more.xy, xf=blocks.xf, ff=blocks.ff, fy=blocks.fy
    )


def _flare_log_prior(n_flares: int, priors: Priors) -> Floats:
    """(n_flares + 1,) log prior of no flare and of each candidate."""
    some = np.full(n_flares, priors.flare_per_day / len(priors.flare_lengths))
    log_prior: Floats = np.log(np.concatenate([[max(1.0 - float(some.sum()), 0.2)], some]))
    return log_prior
