"""What the other groups say of one: whoever reacts to one is likelier to react to another.

Each client has a leaning, the same for all groups (a Gaussian copula of the reactions). What is
learned of it from the other groups' diaries shifts the probability of a reaction to this one,
before this one's own diary is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp, ndtr, ndtri

from challenge.model.posterior import GroupLikelihood
from challenge.model.priors import GroupPrior
from challenge.terms import CONTROL, FodmapGroup

Floats = NDArray[np.float64]

_LEANING = np.linspace(-4.0, 4.0, 41)
_LOG_WEIGHT = -0.5 * _LEANING**2


def log_evidence(
    likelihood: GroupLikelihood, prior: GroupPrior, shape_weights: Floats
) -> tuple[float, float]:
    """Log likelihood of a reaction, and of none or only a mild rise, all else integrated out."""
    top = float(likelihood.table.max())
    table = np.exp(likelihood.table - top)
    per_size = shape_weights @ np.tensordot(prior.course_weights, table, axes=1)
    yes = top + float(np.log(per_size @ prior.reaction_sizes + 1e-300))
    mild = top + float(np.log(per_size @ prior.mild_sizes + 1e-300))
    no = np.logaddexp(np.log1p(-prior.mild) + likelihood.null, np.log(prior.mild) + mild)
    return yes, float(no)


def reaction_given_others(yes: Floats, no: Floats, prior: Floats, correlation: float) -> Floats:
    """(g,) probability of a reaction to each group, given the diaries of all the others.

    Parameters
    ----------
    yes, no
        (g,) log likelihood of each group's diary with and without a reaction.
    prior
        (g,) probability of a reaction before any diary.
    correlation
        Of the leanings behind the reactions, 0 (each group for itself) to 1.
    """
    given = ndtr(
        (np.sqrt(correlation) * _LEANING + ndtri(prior)[:, None]) / np.sqrt(1.0 - correlation)
    )
    logs = np.logaddexp(np.log(given) + yes[:, None], np.log1p(-given) + no[:, None])
    others = _LOG_WEIGHT + logs.sum(axis=0) - logs
    weights = np.exp(others - logsumexp(others, axis=1, keepdims=True))
    probability: Floats = (weights * given).sum(axis=1)
    return np.clip(probability, 0.01, 0.99)


def priors_given_others(
    likelihoods: Mapping[FodmapGroup, GroupLikelihood],
    shape_weights: Mapping[FodmapGroup, Floats],
    priors: Mapping[str, GroupPrior],
    correlation: float,
) -> dict[FodmapGroup, GroupPrior]:
    """Return each group's prior with the probability of a reaction that the others suggest.

    The control stays as it is: it says nothing of what FODMAPs do.
    """
    own = {group: priors[group] for group in likelihoods}
    groups = [group for group in likelihoods if group != CONTROL]
    if len(groups) < 2:
        return own
    pairs = [log_evidence(likelihoods[g], own[g], shape_weights[g]) for g in groups]
    yes, no = np.array(pairs).T
    before = np.array([own[group].reaction for group in groups])
    after = reaction_given_others(yes, no, before, correlation)
    return own | {
        group: replace(own[group], reaction=float(p))
        for group, p in zip(groups, after, strict=True)
    }
