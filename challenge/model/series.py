"""Two series from many symptoms: what all share, and what a reaction alone brings about.

Noise has one pattern over the symptoms (a bad day raises all of them by ``loadings``), a reaction
another (``shares``, 1 for the most affected symptom). Given both patterns and each symptom's own
scatter, everything the scores say of a reaction is in two independent series per session: the
*common* one, which carries the day-to-day noise, and the *contrast*, in which that noise cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from challenge.model.sessions import SLOTS, Sessions
from challenge.terms import SCORE_MAX, SCORE_MIN

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_SHRINK = 0.5  # share of the equal-correlation target in the covariance of the symptoms
_DRAWS = 256
_DEPENDENCE = 1.5  # scores of one symptom hang together within days: fewer than they seem
_LEAST_VARIANCE = 0.05
_LEAST_CONTRAST = 0.02
_LEAST_CUT = 5
_MOST_BELOW = 2.0  # points; beyond it the tail of a normal is taken too literally


@dataclass(frozen=True, kw_only=True)
class Series:
    """One series over the sessions that have any score.

    Attributes
    ----------
    values
        (m,) points.
    weight
        (m,) inverse variance relative to a session with every symptom; 0 where a session says
        nothing.
    loading
        (m,) points per point of rise of the most affected symptom.
    own_variance
        Variance that the symptoms' own scatter gives a session with every symptom [points
        squared].
    """

    values: Floats
    weight: Floats
    loading: Floats
    own_variance: float


@dataclass(frozen=True, kw_only=True)
class NoisePattern:
    """How noise spreads over the symptoms.

    Attributes
    ----------
    loadings
        (k,) how much each symptom follows the common noise; mean 1.
    own_variance
        (k,) variance of each symptom's own scatter [points squared].
    """

    loadings: Floats
    own_variance: Floats


@dataclass(frozen=True, kw_only=True)
class Shares:
    """How strongly each symptom takes part in a reaction.

    Attributes
    ----------
    values
        (k,) shares, 1 for the most affected symptom.
    log_sd
        Uncertainty of the logarithm of the rise that comes from not knowing the shares.
    """

    values: Floats
    log_sd: float


def slot_deviations(sessions: Sessions, quiet: Bools) -> Floats:
    """(n, k) scores minus the usual level of that symptom and slot on quiet days.

    Scores at the end of the scale count as the mean of what they stand for (`scale_ends`).
    """
    deviations = beyond_the_scale(sessions.scores, scale_ends(sessions.scores, quiet))
    seen = np.isfinite(deviations)
    filled = np.where(seen, deviations, 0.0)
    overall = filled.sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    for slot in range(len(SLOTS)):
        mine = sessions.slot == slot
        for rows in (mine & quiet, mine):
            count = seen[rows].sum(axis=0)
            if (count >= 3).all():
                level = filled[rows].sum(axis=0) / count
                break
        else:
            level = overall
        deviations[mine] -= level
    return deviations


def scale_ends(scores: Floats, quiet: Bools) -> Floats:
    """(2, k) what a 0 and what a 10 of each symptom stand for, on average [points].

    A symptom that would stand below the lowest score is written as 0, so that a rise from there
    looks smaller than it is; likewise at the top. Scores are taken as rounded values of a normal
    variable cut off at both ends, whose mean and spread on quiet days follow from the share of
    cut-off scores and the mean of the others (Tobin 1958, by moments).

    Parameters
    ----------
    scores
        (n, k) points, NaN where not scored.
    quiet
        (n,) sessions that no dose reaches.
    """
    columns = [column[quiet & np.isfinite(column)] for column in scores.T]
    low = [0.5 - _below_half(usual) for usual in columns]
    high = [SCORE_MAX - 0.5 + _below_half(SCORE_MAX - usual) for usual in columns]
    return np.array([low, high])


def beyond_the_scale(scores: Floats, ends: Floats) -> Floats:
    """Replace scores of 0 and 10 by what they stand for; shapes (..., k) and (2, k)."""
    moved = np.where(scores == SCORE_MIN, ends[0], scores)
    return np.asarray(np.where(scores == SCORE_MAX, ends[1], moved))


def _below_half(usual: Floats) -> float:
    """How far under a half the values lie, on average, that are written as 0."""
    n, zeros = len(usual), int((usual == 0).sum())
    # with hardly any zeros, or hardly anything else, their spread cannot be told
    if zeros < _LEAST_CUT or n - zeros < _LEAST_CUT:
        return 0.5
    z = float(ndtri(zeros / n))
    density = float(np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi))
    above = density / (1.0 - zeros / n) - z
    sd = (float(usual[usual > 0].mean()) - 0.5) / above
    return float(np.clip(sd * (z + density * n / zeros), 0.25, _MOST_BELOW))


def noise_pattern(residual: Floats) -> NoisePattern:
    """Split the covariance of the symptoms into one common factor and own scatter.

    Parameters
    ----------
    residual
        (n, k) deviations less everything expected [points], NaN where not scored.
    """
    seen = np.isfinite(residual)
    filled = np.where(seen, residual, 0.0)
    pairs = seen.T.astype(float) @ seen
    raw = (filled.T @ filled) / np.maximum(pairs, 1.0)
    variance = np.maximum(np.diag(raw), _LEAST_VARIANCE)
    k = len(variance)
    if k == 1:
        return NoisePattern(loadings=np.ones(1), own_variance=0.5 * variance)
    sd = np.sqrt(variance)
    correlation = raw / np.outer(sd, sd)
    common = float(np.clip((correlation.sum() - np.trace(correlation)) / (k * (k - 1)), 0.02, 0.9))
    shrunk = (1 - _SHRINK) * correlation + _SHRINK * common
    loading = np.full(k, np.sqrt(common))
    for _ in range(4):
        reduced = shrunk.copy()
        np.fill_diagonal(reduced, loading**2)
        vector = reduced @ loading
        loading = np.clip(vector / np.sqrt(max(float(loading @ vector), 1e-9)), 0.05, 0.97)
    factor = loading * sd
    return NoisePattern(
        loadings=factor / factor.mean(),
        own_variance=np.maximum(variance - factor**2, _LEAST_VARIANCE),
    )


def build_series(
    deviations: Floats, pattern: NoisePattern, shares: Floats
) -> tuple[Series, Series | None]:
    """Project the scores of each session on the two series.

    Parameters
    ----------
    deviations
        (m, k) deviations [points] of sessions with at least one score.
    shares
        (k,) pattern of a reaction.

    Returns
    -------
    common, contrast
        The contrast is None when a reaction has the same pattern as the noise.
    """
    seen = np.isfinite(deviations)
    filled = np.where(seen, deviations, 0.0)
    precision = seen / pattern.own_variance
    information = precision @ pattern.loadings**2
    values = (filled * precision) @ pattern.loadings / information
    loading = precision @ (pattern.loadings * shares) / information
    full = float((pattern.loadings**2 / pattern.own_variance).sum())
    common = Series(
        values=values, weight=information / full, loading=loading, own_variance=1.0 / full
    )
    direction = (shares - loading[:, None] * pattern.loadings) * precision
    strength = (direction * shares).sum(axis=1)
    whole = _whole_contrast(pattern, shares)
    if whole < _LEAST_CONTRAST:
        return common, None
    some = strength > 1e-3 * whole
    contrast = Series(
        values=np.where(
            some, (direction * filled).sum(axis=1) / np.where(some, strength, 1.0), 0.0
        ),
        weight=np.where(some, strength / whole, 0.0),
        loading=np.ones(len(strength)),
        own_variance=1.0 / whole,
    )
    return common, contrast


def _whole_contrast(pattern: NoisePattern, shares: Floats) -> float:
    inverse = pattern.loadings / pattern.own_variance
    alpha = float((inverse * shares).sum() / (inverse * pattern.loadings).sum())
    off = shares - alpha * pattern.loadings
    return float((off**2 / pattern.own_variance).sum())


def equal_shares(k: int, sd: float) -> Shares:
    """Return the shares believed before the diary is read: alike, with this relative spread."""
    return normalise(np.ones(k), np.full(k, sd))


def normalise(raw: Floats, sd: Floats) -> Shares:
    """Scale uncertain shares so that the largest is 1, over fixed draws of them."""
    if len(raw) == 1:
        return Shares(values=np.ones(1), log_sd=0.0)
    z = np.random.default_rng(20260301).standard_normal((_DRAWS, len(raw)))
    largest = np.log(np.maximum(raw + sd * z, 0.02).max(axis=1))
    return Shares(
        values=np.maximum(raw, 0.02) / float(np.exp(largest.mean())), log_sd=float(largest.std())
    )


def learn_shares(
    deviations: Floats, pattern: NoisePattern, common: Series, effect: Floats, prior_sd: float
) -> Shares:
    """Learn the shares from the course that the reactions took.

    What a symptom has beyond the common series is regressed on the expected rise; what all
    symptoms share on a day, challenge or not, cancels in it.

    Parameters
    ----------
    deviations
        (m, k) deviations of the used sessions [points].
    effect
        (m,) expected rise of the most affected symptom, all groups together [points].
    prior_sd
        Spread of the shares relative to their mean, believed beforehand.
    """
    seen = np.isfinite(deviations)
    alpha = float(np.average(common.loading, weights=common.weight))
    beyond = np.where(seen, deviations - np.outer(common.values, pattern.loadings), 0.0)
    information = (seen * (effect**2)[:, None]).sum(axis=0)
    score = (beyond * effect[:, None]).sum(axis=0)
    left = np.where(seen, beyond - np.outer(effect, score / np.maximum(information, 1e-9)), 0.0)
    variance = (left**2).sum(axis=0) / np.maximum(seen.sum(axis=0) - 2, 1)
    variance = np.maximum(_DEPENDENCE * variance, 1e-3)
    spread = prior_sd * alpha
    precision = information / variance + spread**-2
    slope = (score / variance + alpha * (1.0 - pattern.loadings) / spread**2) / precision
    return normalise(slope + pattern.loadings * alpha, np.sqrt(1.0 / precision))
