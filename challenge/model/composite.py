"""One series from many symptoms: the weighted mean that shows a reaction with least noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.sessions import SLOTS, Sessions

Floats = NDArray[np.float64]

_SHRINK = 0.5  # share of the equal-correlation target in the covariance of the symptoms
_DRAWS = 256
_DEPENDENCE = 1.5  # scores of one symptom hang together within days: fewer than they seem


@dataclass(frozen=True, kw_only=True)
class Composite:
    """A weighted mean of the symptoms' deviations from their usual level at that time of day.

    Attributes
    ----------
    used
        (n,) sessions with at least one score; the other arrays hold only these.
    values
        (m,) weighted mean deviation [points].
    weight
        (m,) inverse variance relative to a session with every symptom.
    mixing
        (k,) weights of the symptoms, summing to 1.
    scale, scale_log_sd
        Rise of the weighted mean per point of rise of the most affected symptom, and the
        uncertainty of its logarithm.
    """

    used: NDArray[np.bool_]
    values: Floats
    weight: Floats
    mixing: Floats
    scale: float
    scale_log_sd: float


def slot_deviations(sessions: Sessions, quiet: NDArray[np.bool_]) -> Floats:
    """(n, k) scores minus the usual level of that symptom and slot on quiet days."""
    deviations = np.array(sessions.scores)
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


def symptom_covariance(deviations: Floats) -> Floats:
    """(k, k) covariance of the symptoms, shrunk towards one common correlation."""
    seen = np.isfinite(deviations)
    filled = np.where(seen, deviations, 0.0)
    pairs = seen.T.astype(float) @ seen
    raw = (filled.T @ filled) / np.maximum(pairs, 1.0)
    sd = np.sqrt(np.maximum(np.diag(raw), 0.05))
    k = len(sd)
    if k == 1:
        return np.array([[sd[0] ** 2]])
    correlation = raw / np.outer(sd, sd)
    common = float(np.clip((correlation.sum() - np.trace(correlation)) / (k * (k - 1)), 0.0, 0.9))
    target = np.full((k, k), common)
    shrunk = (1 - _SHRINK) * correlation + _SHRINK * target
    np.fill_diagonal(shrunk, 1.0)
    covariance: Floats = shrunk * np.outer(sd, sd)
    return covariance


def build_composite(
    deviations: Floats, covariance: Floats, shares: Floats, shares_sd: Floats
) -> Composite:
    """Mix the symptoms.

    Parameters
    ----------
    deviations
        (n, k) deviations [points], NaN where not scored.
    covariance
        (k, k) of the symptoms' noise.
    shares, shares_sd
        (k,) how strongly each symptom takes part in a reaction, and the uncertainty of it.
    """
    seen = np.isfinite(deviations)
    used: NDArray[np.bool_] = np.asarray(seen.any(axis=1))
    filled = np.where(seen, deviations, 0.0)
    mixing = np.linalg.solve(covariance, np.maximum(shares, 0.05))
    mixing = np.maximum(mixing, 0.05 * mixing.max())
    mixing /= mixing.sum()
    variance = np.diag(covariance)
    carried = seen @ (mixing * shares)
    full = float(mixing @ shares)
    rating_variance = (seen @ (mixing**2 * variance)) / np.maximum(carried, 1e-9) ** 2
    full_variance = float((mixing**2 * variance).sum()) / full**2
    values = (filled @ mixing) * full / np.maximum(carried, 1e-9)
    scale, log_sd = _scale(mixing, shares, shares_sd)
    return Composite(
        used=used,
        values=values[used],
        weight=np.minimum(full_variance / np.maximum(rating_variance[used], 1e-9), 1.0),
        mixing=mixing,
        scale=scale,
        scale_log_sd=log_sd,
    )


def _scale(mixing: Floats, shares: Floats, shares_sd: Floats) -> tuple[float, float]:
    """Mixed share relative to the largest one, over fixed draws of the uncertain shares."""
    if len(shares) == 1:
        return 1.0, 0.0
    z = np.random.default_rng(20260301).standard_normal((_DRAWS, len(shares)))
    drawn = np.maximum(shares + shares_sd * z, 0.02)
    ratio = np.log((drawn @ mixing) / drawn.max(axis=1))
    return float(np.exp(ratio.mean())), float(ratio.std())


def update_shares(
    deviations: Floats, composite: Composite, effect: Floats, prior_sd: float
) -> tuple[Floats, Floats]:
    """Learn how strongly each symptom follows the course that the reactions took.

    The contrast between a symptom and the weighted mean is regressed on the expected effect: what
    all symptoms share on a day, challenge or not, cancels in it.

    Parameters
    ----------
    deviations
        (n, k) deviations of the used sessions [points].
    effect
        (n,) expected effect on the weighted mean, all groups together [points].

    Returns
    -------
    shares, shares_sd
        (k,) posterior means (about 1) and standard deviations under a normal prior around 1.
    """
    seen = np.isfinite(deviations)
    contrast = np.where(seen, deviations - composite.values[:, None], 0.0)
    information = (seen * (effect**2)[:, None]).sum(axis=0)
    score = (contrast * effect[:, None]).sum(axis=0)
    slope = score / np.maximum(information, 1e-9)
    left = np.where(seen, contrast - np.outer(effect, slope), 0.0)
    variance = (left**2).sum(axis=0) / np.maximum(seen.sum(axis=0) - 2, 1)
    precision = information / np.maximum(_DEPENDENCE * variance, 1e-3) + prior_sd**-2
    shares = 1.0 + score / np.maximum(_DEPENDENCE * variance, 1e-3) / precision
    return shares, np.sqrt(1.0 / precision)
