"""Where the fit starts: rough effects, under the pattern of symptoms that explains most."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from challenge.model.design import Design
from challenge.model.likelihoods import within_day_variance
from challenge.model.noise import Columns, DayNoise
from challenge.model.priors import Priors
from challenge.model.series import (
    NoisePattern,
    Series,
    Shares,
    build_series,
    learn_shares,
)
from challenge.terms import FodmapGroup

Floats = NDArray[np.float64]

_FIRST_NOISE = DayNoise(0.4, 1.0)
_CONTRAST_NOISE = DayNoise(0.0, 0.25)
_EFFECT_SD = 2.0
_OTHERS = 0.45


def first_effects(
    design: Design,
    deviations: Floats,
    pattern: NoisePattern,
    shares: Shares,
    priors: Priors,
) -> tuple[dict[FodmapGroup, Floats], Shares]:
    """Try the equal pattern and each symptom as the most affected one; keep the best.

    One free rise per dose level at the expected time course, shrunk towards none.
    """
    coarse = {g: d.coarse(priors.groups[g].course_weights) for g, d in design.groups.items()}
    if not coarse:
        return {}, shares
    columns = np.hstack(list(coarse.values()))
    k = deviations.shape[1]
    tried = [shares.values]
    if k > 1:
        tried += [np.where(np.arange(k) == lead, 1.0, _OTHERS) for lead in range(k)]
    best: tuple[float, Floats, Series] | None = None
    for values in tried:
        series = build_series(deviations, pattern, values)
        evidence, sizes = _ridge(design, columns, series, priors)
        if best is None or evidence > best[0]:
            best = (evidence, sizes, series[0])
    assert best is not None
    effects, start = {}, 0
    for group, part in coarse.items():
        width = part.shape[1]
        effects[group] = part @ best[1][start : start + width]
        start += width
    total = sum(effects.values(), np.zeros(len(deviations)))
    return effects, learn_shares(deviations, pattern, best[2], total, priors.symptom_sd)


def _ridge(
    design: Design, columns: Floats, series: tuple[Series, Series | None], priors: Priors
) -> tuple[float, Floats]:
    """Return log evidence, comparable between patterns, and non-negative rises."""
    common, contrast = series
    shifted = common.values - priors.expectation_mean * design.expectation
    gram, score = _cross(design, design.nuisance, columns, common, shifted, _FIRST_NOISE)
    if contrast is not None:
        more, more_score = _cross(
            design, design.levels, columns, contrast, contrast.values, _CONTRAST_NOISE
        )
        gram, score = gram + more, score + more_score
    precision = gram + np.eye(len(gram)) / _EFFECT_SD**2
    chol = np.linalg.cholesky(precision)
    sizes = np.linalg.solve(precision, score)
    evidence = 0.5 * float(score @ sizes) - float(np.log(np.diag(chol)).sum())
    return evidence, np.maximum(sizes, 0.0)


def _cross(
    design: Design,
    nuisance: Floats,
    columns: Floats,
    series: Series,
    values: Floats,
    noise: DayNoise,
) -> tuple[Floats, Floats]:
    """Cross products of the rises with themselves and with the data."""
    n, p = nuisance.shape[1], columns.shape[1]
    variance = max(within_day_variance(values, design), series.own_variance)
    stacked = np.hstack([nuisance, columns * series.loading[:, None], values[:, None]])
    prepared = Columns(stacked, design.day, design.n_days, series.weight, n)
    reduced = prepared.reduce(noise, design.nuisance_precision(variance)[:n])
    rises, data = slice(n, n + p), slice(n + p, n + p + 1)
    return reduced.block(rises, rises) / variance, reduced.block(rises, data)[:, 0] / variance
