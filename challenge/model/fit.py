"""The model of the whole diary, fitted: noise from every day, then each group in turn.

Groups share the noise, the level, the symptoms' shares and the expectation shift; given those, a
group's reaction is integrated over time course, dose-response, size and a possible flare, with
the expected effects of the other groups taken out. Two rounds suffice because challenges are
separated by washout.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.composite import (
    Composite,
    build_composite,
    slot_deviations,
    symptom_covariance,
    update_shares,
)
from challenge.model.design import Design, build_design
from challenge.model.doses import GroupDoses
from challenge.model.noise import Columns, DayNoise, Reduced
from challenge.model.posterior import (
    Blocks,
    GroupLikelihood,
    GroupPosterior,
    group_likelihood,
    group_posterior,
    mix_likelihoods,
)
from challenge.model.priors import Priors
from challenge.model.sessions import Sessions
from challenge.terms import CONTROL, FodmapGroup

Floats = NDArray[np.float64]

ROUNDS = 2
_PHI = (0.0, 0.2, 0.4, 0.6, 0.8)
_PHI_WEIGHT = (0.15, 0.25, 0.30, 0.20, 0.10)
_Q = (0.1, 0.25, 0.5, 1.0, 2.0, 4.0)
_NOISE_POINTS = 3
_EFFECT_SD = 2.0
_FIRST_NOISE = DayNoise(0.4, 0.5)


@dataclass(frozen=True, kw_only=True)
class NoiseFit:
    """Noise settings that the diary supports.

    Attributes
    ----------
    points, log_weights
        Settings and the logarithm of their posterior weights.
    rating_variance
        (len(points),) variance of one session's rating noise at each setting [points squared].
    """

    points: tuple[DayNoise, ...]
    log_weights: Floats
    rating_variance: Floats


@dataclass(frozen=True, kw_only=True)
class DiaryFit:
    """The fitted model.

    Attributes
    ----------
    likelihoods, posteriors
        Per group, the latter under the published priors.
    noise
        Noise settings, weighted.
    residual
        Composite less everything expected [points], per used session.
    quiet
        All sessions, used or not: whether no dose was eaten in the 40 hours before.
    shares, shares_sd
        (k,) how strongly each symptom takes part, relative to their weighted mean.
    """

    design: Design
    composite: Composite
    likelihoods: Mapping[FodmapGroup, GroupLikelihood]
    posteriors: Mapping[FodmapGroup, GroupPosterior]
    noise: NoiseFit
    residual: Floats
    quiet: NDArray[np.bool_]
    shares: Floats
    shares_sd: Floats


def fit_diary(
    sessions: Sessions, doses: Mapping[FodmapGroup, GroupDoses], priors: Priors
) -> DiaryFit:
    """Fit the model.

    Parameters
    ----------
    sessions
        The scores; at least a few days of them.
    doses
        Doses as eaten, with the planned steps first among their levels.
    """
    design = build_design(sessions, doses, priors)
    deviations = slot_deviations(sessions, design.quiet)
    shares = np.ones(len(sessions.symptoms))
    shares_sd = np.full(len(sessions.symptoms), priors.symptom_sd)
    covariance = symptom_covariance(deviations)
    effects: dict[FodmapGroup, Floats] | None = None
    for _ in range(ROUNDS):
        composite = build_composite(deviations, covariance, shares, shares_sd)
        used = design.at(composite.used)
        if effects is None:
            effects = _first_effects(used, composite, priors)
        noise = _fit_noise(used, composite, effects, priors)
        likelihoods = _likelihoods(used, composite, effects, noise, priors)
        posteriors = {
            group: group_posterior(
                likelihood,
                priors.groups[group],
                used.groups[group].shapes,
                used.groups[group].shape_weights,
                priors.sizes,
            )
            for group, likelihood in likelihoods.items()
        }
        # the control acts by expectation alone, which has a column of its own
        effects = {
            group: used.groups[group].effect(posterior.mean_effect * (group != CONTROL))
            for group, posterior in posteriors.items()
        }
        total = sum(effects.values(), np.zeros(len(composite.values)))
        on_mean = composite.scale * total
        scored = deviations[composite.used]
        covariance = symptom_covariance(scored - np.outer(on_mean, shares))
        shares, shares_sd = update_shares(scored, composite, on_mean, priors.symptom_sd)
    return DiaryFit(
        design=used,
        composite=composite,
        likelihoods=likelihoods,
        posteriors=posteriors,
        noise=noise,
        quiet=design.quiet,
        residual=composite.values - on_mean,
        shares=shares,
        shares_sd=shares_sd,
    )


def _first_effects(
    design: Design, composite: Composite, priors: Priors
) -> dict[FodmapGroup, Floats]:
    """Rough effects to start from: one free rise per dose level at the expected time course."""
    n = design.n_nuisance
    coarse = {
        group: g.coarse(priors.groups[group].course_weights) for group, g in design.groups.items()
    }
    if not coarse:
        return {}
    columns = np.hstack([design.nuisance, *coarse.values(), composite.values[:, None]])
    reduced = _columns(design, columns, composite).reduce(
        _FIRST_NOISE, design.nuisance_precision(1.0, composite.scale)
    )
    rises, data = slice(n, columns.shape[1] - 1), slice(columns.shape[1] - 1, columns.shape[1])
    gram = reduced.block(rises, rises)
    gram[np.diag_indices(len(gram))] += (_EFFECT_SD * composite.scale) ** -2
    size = np.maximum(np.linalg.solve(gram, reduced.block(rises, data)[:, 0]), 0.0)
    effects, start = {}, 0
    for group, part in coarse.items():
        width = part.shape[1]
        effects[group] = part @ size[start : start + width] / composite.scale
        start += width
    return effects


def _columns(design: Design, columns: Floats, composite: Composite) -> Columns:
    return Columns(columns, design.day, design.n_days, composite.weight, design.n_nuisance)


def _fit_noise(
    design: Design,
    composite: Composite,
    effects: Mapping[FodmapGroup, Floats],
    priors: Priors,
) -> NoiseFit:
    """Weigh noise settings by how well they explain what the expected effects leave over."""
    left = _data(design, composite, priors)
    for effect in effects.values():
        left = left - composite.scale * effect
    prepared = _columns(design, np.hstack([design.nuisance, left[:, None]]), composite)
    n = design.n_nuisance
    last = slice(n, n + 1)
    variance = _rating_variance(left, design)
    points, log_weight, variances = [], [], []
    df = max(len(left) - 3, 1)
    for phi, phi_weight in zip(_PHI, _PHI_WEIGHT, strict=True):
        for q in _Q:
            point = DayNoise(phi, q)
            reduced = prepared.reduce(point, design.nuisance_precision(variance, composite.scale))
            rss = float(reduced.diagonal(last)[0])
            points.append(point)
            variances.append(max(rss / df, 0.01))
            log_weight.append(np.log(phi_weight) - 0.5 * reduced.log_det - 0.5 * df * np.log(rss))
    weights = np.array(log_weight)
    best = np.argsort(weights)[::-1][:_NOISE_POINTS]
    chosen = weights[best] - weights[best[0]]
    return NoiseFit(
        points=tuple(points[i] for i in best),
        log_weights=chosen - np.log(np.exp(chosen).sum()),
        rating_variance=np.array(variances)[best],
    )


def _rating_variance(left: Floats, design: Design) -> float:
    """Variance within days, a first guess."""
    count = np.bincount(design.day, minlength=design.n_days)
    mean = np.bincount(design.day, left, minlength=design.n_days) / np.maximum(count, 1)
    df = max(int((count - 1).clip(0).sum()), 1)
    return max(float(((left - mean[design.day]) ** 2).sum()) / df, 0.02)


def _data(design: Design, composite: Composite, priors: Priors) -> Floats:
    """Return the composite less the expectation shift believed beforehand."""
    shift = priors.expectation_mean * composite.scale
    return composite.values - shift * design.expectation


def _likelihoods(
    design: Design,
    composite: Composite,
    effects: Mapping[FodmapGroup, Floats],
    noise: NoiseFit,
    priors: Priors,
) -> dict[FodmapGroup, GroupLikelihood]:
    """Likelihood of each group, the expected effects of the others taken out."""
    if not design.groups:
        return {}
    data = _data(design, composite, priors)
    total = sum(effects.values(), np.zeros_like(data))
    own = [data - composite.scale * (total - effects[group]) for group in design.groups]
    courses = [g.courses for g in design.groups.values()]
    prepared = _columns(
        design,
        np.hstack([design.nuisance, *courses, design.flares, np.stack(own, axis=1)]),
        composite,
    )
    parts: dict[FodmapGroup, list[GroupLikelihood]] = {group: [] for group in design.groups}
    for point, variance in zip(noise.points, noise.rating_variance, strict=True):
        reduced = prepared.reduce(point, design.nuisance_precision(variance, composite.scale))
        for i, group in enumerate(design.groups):
            blocks, log_prior = _blocks(design, reduced, group, i, variance, priors)
            parts[group].append(
                group_likelihood(
                    blocks,
                    design.groups[group].shapes,
                    priors.sizes * composite.scale,
                    priors.flare_sd * composite.scale,
                    log_prior,
                )
            )
    return {group: mix_likelihoods(part, noise.log_weights) for group, part in parts.items()}


def _blocks(
    design: Design,
    reduced: Reduced,
    group: FodmapGroup,
    number: int,
    variance: float,
    priors: Priors,
) -> tuple[Blocks, Floats]:
    """Cross products of one group's columns, with the flares that could fall into its window."""
    mine = design.groups[group]
    start = design.n_nuisance + mine.start
    x = slice(start, start + mine.courses.shape[1])
    first_flare = design.n_nuisance + sum(g.courses.shape[1] for g in design.groups.values())
    flares = slice(first_flare + mine.flares.start, first_flare + mine.flares.stop)
    y = first_flare + design.flares.shape[1] + number
    data = slice(y, y + 1)
    n_courses, levels = len(priors.courses), mine.shapes.shape[1]
    xx = reduced.block(x, x).reshape(n_courses, levels, n_courses, levels)
    each = np.arange(n_courses)
    n_flares = mine.flares.stop - mine.flares.start
    blocks = Blocks(
        xx=xx[each, :, each, :] / variance,
        xy=reduced.block(x, data).reshape(n_courses, levels) / variance,
        xf=reduced.block(x, flares).reshape(n_courses, levels, n_flares) / variance,
        ff=reduced.diagonal(flares) / variance,
        fy=reduced.block(flares, data)[:, 0] / variance,
    )
    chance = priors.flare_per_day / len(priors.flare_lengths)
    some = np.full(n_flares, chance)
    return blocks, np.log(np.concatenate([[max(1.0 - some.sum(), 0.2)], some]))
