"""What the diary says about one group: likelihood over time course, dose-response and size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.priors import GroupPrior

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class GroupLikelihood:
    """Log likelihood of one group's reaction, relative to no reaction and no flare.

    Attributes
    ----------
    table
        (c, s, a) over time courses, dose-response shapes and sizes.
    null
        Log likelihood of no reaction.
    """

    table: Floats
    null: float


@dataclass(frozen=True, kw_only=True)
class Blocks:
    """Cross products of one group's columns, noise and nuisance integrated out.

    ``xx`` (c, m, m), ``xy`` (c, m), ``xf`` (c, m, f), ``ff`` (f,), ``fy`` (f,): time courses c,
    dose levels m, flare candidates f, data y.
    """

    xx: Floats
    xy: Floats
    xf: Floats
    ff: Floats
    fy: Floats


def group_likelihood(
    blocks: Blocks, shapes: Floats, sizes: Floats, flare_sd: float, flare_log_prior: Floats
) -> GroupLikelihood:
    """Evaluate every combination, with at most one flare of unknown size in the window.

    Parameters
    ----------
    shapes
        (s, m) relative rise of each dose level.
    sizes
        (a,) rise at the largest planned dose, on the scale of the data [points].
    flare_sd
        Prior standard deviation of a flare [points].
    flare_log_prior
        (f + 1,) log prior of no flare and of each candidate.
    """
    info = ((shapes @ blocks.xx) * shapes).sum(axis=2)
    score = blocks.xy @ shapes.T
    cross = shapes @ blocks.xf
    precision = blocks.ff + flare_sd**-2
    gain = 0.5 * blocks.fy**2 / precision - 0.5 * np.log(precision * flare_sd**2)
    gain += flare_log_prior[1:]
    plain = score[:, :, None] * sizes - info[:, :, None] * (0.5 * sizes**2) + flare_log_prior[0]
    # what each flare changes, (c, s, f, a), in single precision: this is where the time goes, and
    # a difference of two log likelihoods is small enough for it
    shift = (-cross * (blocks.fy / precision)).astype(np.float32)
    bend = (cross**2 / precision).astype(np.float32)
    size = sizes.astype(np.float32)
    change = shift[..., None] * size
    change += bend[..., None] * (np.float32(0.5) * size**2)
    change += (gain - flare_log_prior[0]).astype(np.float32)[:, None]
    top = np.maximum(change.max(axis=2, initial=0.0), 0.0)
    change -= top[:, :, None, :]
    np.exp(change, out=change)
    more = np.log(change.sum(axis=2) + np.exp(-top)) + top
    return GroupLikelihood(
        table=plain + more,
        null=float(flare_log_prior[0] + np.logaddexp.reduce([0.0, *(gain - flare_log_prior[0])])),
    )


def mix_likelihoods(parts: list[GroupLikelihood], log_weights: Floats) -> GroupLikelihood:
    """Average likelihoods over noise settings with posterior weights."""
    if len(parts) == 1:
        return parts[0]
    tables = np.stack([part.table for part in parts]) + log_weights[:, None, None, None]
    nulls = np.array([part.null for part in parts]) + log_weights
    top = max(float(tables.max()), float(nulls.max()))
    return GroupLikelihood(
        table=np.log(np.exp(tables - top).sum(axis=0) + 1e-300) + top,
        null=float(np.log(np.exp(nulls - top).sum() + 1e-300) + top),
    )


@dataclass(frozen=True, kw_only=True)
class GroupPosterior:
    """Posterior of one group under one set of priors.

    Attributes
    ----------
    none
        Probability of no reaction at all.
    mass
        (s, a) probability of each dose-response shape and size.
    mean_effect
        (c, m) expected rise per time course and dose level, weighted by probability [points].
    course
        (c,) probability of each time course, given a reaction.
    """

    none: float
    mass: Floats
    mean_effect: Floats
    course: Floats


def group_posterior(
    likelihood: GroupLikelihood, prior: GroupPrior, shapes: Floats, weights: Floats, sizes: Floats
) -> GroupPosterior:
    """Combine a likelihood with priors.

    Parameters
    ----------
    shapes, weights
        (s, m) relative rises and (s,) prior weights of the shapes.
    sizes
        (a,) rise at the largest planned dose [points].
    """
    joint = (
        likelihood.table
        + np.log(prior.course_weights)[:, None, None]
        + np.log(weights)[None, :, None]
        + np.log(prior.size_weights)[None, None, :]
        + np.log(prior.any_rise)
    )
    none = likelihood.null + np.log1p(-prior.any_rise)
    top = max(float(joint.max()), none)
    full = np.exp(joint - top)
    p_none = float(np.exp(none - top))
    total = full.sum() + p_none
    full /= total
    per_shape = full @ sizes
    course = full.sum(axis=(1, 2))
    return GroupPosterior(
        none=p_none / total,
        mass=full.sum(axis=0),
        mean_effect=per_shape @ shapes,
        course=course / max(float(course.sum()), 1e-300),
    )
