"""Linear mixed models over many clients.

statsmodels gives Wald z only, and far too small a p-value for a few clients. So this gives
estimates and standard errors, no p-value, and is meant for many clients.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from challenge.statistics.inputs import Values, as_values, is_constant


@dataclass(frozen=True, kw_only=True, slots=True)
class MixedModel:
    """A fitted linear mixed model.

    Attributes
    ----------
    n, n_groups
        Values; groups (clients).
    estimates, standard_errors
        One per column of ``fixed``, in the units of the response; empty without a fit.
    random_covariance
        Of the random effects, one row per column of ``random``; empty without a fit.
    residual_variance, log_likelihood
        Within groups; restricted log-likelihood if the fit was by REML.
    reason
        Why there is no fit, or what the optimiser warned of; else None.
    """

    n: int
    n_groups: int
    estimates: tuple[float, ...] = ()
    standard_errors: tuple[float, ...] = ()
    random_covariance: tuple[tuple[float, ...], ...] = ()
    residual_variance: float | None = None
    log_likelihood: float | None = None
    reason: str | None = None


def fit_mixed(
    response: Values,
    fixed: ArrayLike,
    groups: Sequence[str],
    random: ArrayLike | None = None,
    *,
    reml: bool = True,
) -> MixedModel:
    """Fit a linear mixed model.

    Parameters
    ----------
    response
        Shape (n,), finite.
    fixed
        Design of the fixed effects with its column of ones, shape (n, p), finite.
    groups
        Group of each value.
    random
        Design of the random effects, shape (n, q); a random intercept by default.
    reml
        Restricted maximum likelihood (unbiased variances) instead of maximum likelihood.
    """
    y = as_values(response, "response")
    x = np.asarray(fixed, dtype=np.float64)
    z = np.ones((y.size, 1)) if random is None else np.asarray(random, dtype=np.float64)
    if x.shape[:1] != y.shape or z.shape[:1] != y.shape or len(groups) != y.size:
        raise ValueError("response, fixed, random and groups must have the same length")
    n_groups = len(set(groups))
    reason = _why_not(y, x, n_groups)
    if reason:
        return MixedModel(n=y.size, n_groups=n_groups, reason=reason)

    from statsmodels.regression.mixed_linear_model import MixedLM

    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        fit = MixedLM(y, x, groups=np.asarray(groups), exog_re=z).fit(reml=reml)
        estimates, errors = np.asarray(fit.fe_params), np.asarray(fit.bse_fe)
        covariance = np.asarray(fit.cov_re)
    if not (np.isfinite(estimates).all() and np.isfinite(errors).all()):
        return MixedModel(n=y.size, n_groups=n_groups, reason="the fit did not converge")

    return MixedModel(
        n=y.size,
        n_groups=n_groups,
        estimates=tuple(estimates.tolist()),
        standard_errors=tuple(errors.tolist()),
        random_covariance=tuple(tuple(row) for row in covariance.tolist()),
        residual_variance=float(fit.scale),
        log_likelihood=float(fit.llf),
        reason=str(caught[0].message) if caught else None,
    )


def _why_not(y: NDArray[np.float64], x: NDArray[np.float64], n_groups: int) -> str | None:
    if n_groups < 2:
        return "fewer than two groups"
    if n_groups >= y.size:
        return "no group with two values"
    if is_constant(y):
        return "all values are equal"
    if np.linalg.matrix_rank(x) < x.shape[1] or x.shape[1] >= y.size:
        return "too few values to tell the effects apart"
    return None
