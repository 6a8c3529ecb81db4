"""The model of the whole diary, fitted: noise from every day, then each group in turn.

Groups share the noise, the level, the symptoms' shares and the expectation shift; given those, a
group's reaction is integrated over time course, dose-response, size and a possible flare, with
the expected effects of the other groups taken out. A few rounds suffice because challenges are
separated by washout.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.model.design import Design, build_design
from challenge.model.doses import GroupDoses
from challenge.model.likelihoods import NoiseFit, TwoSeries, fit_noise, group_likelihoods
from challenge.model.posterior import GroupLikelihood, GroupPosterior, group_posterior
from challenge.model.priors import Priors
from challenge.model.series import (
    NoisePattern,
    Series,
    Shares,
    build_series,
    equal_shares,
    learn_shares,
    noise_pattern,
    slot_deviations,
)
from challenge.model.sessions import Sessions
from challenge.model.start import first_effects
from challenge.model.together import priors_given_others
from challenge.terms import CONTROL, FodmapGroup

Floats = NDArray[np.float64]

ROUNDS = 3
NOISE_POINTS = 2


@dataclass(frozen=True, kw_only=True)
class DiaryFit:
    """The fitted model.

    Attributes
    ----------
    design
        Columns over the used sessions.
    used, quiet
        (n,) of all sessions: whether it has a score; whether no dose came in the 40 h before.
    deviations
        (m, k) scores of the used sessions less each slot's usual level [points].
    common
        The series that all symptoms share.
    expected
        (m,) expected rise of the most affected symptom, all groups together [points].
    likelihoods, posteriors
        Per group, the latter under the published priors.
    """

    design: Design
    used: NDArray[np.bool_]
    quiet: NDArray[np.bool_]
    deviations: Floats
    pattern: NoisePattern
    shares: Shares
    common: Series
    expected: Floats
    noise: NoiseFit
    likelihoods: Mapping[FodmapGroup, GroupLikelihood]
    posteriors: Mapping[FodmapGroup, GroupPosterior]

    @property
    def residual(self) -> Floats:
        """(m,) common series less everything expected [points]."""
        left: Floats = self.common.values - self.common.loading * self.expected
        return left


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
    whole = build_design(sessions, doses, priors)
    used: NDArray[np.bool_] = np.asarray(np.isfinite(sessions.scores).any(axis=1))
    design = whole.at(used)
    deviations = slot_deviations(sessions, whole.quiet)[used]
    pattern = noise_pattern(deviations[design.quiet] if design.quiet.sum() > 20 else deviations)
    shares = equal_shares(deviations.shape[1], priors.symptom_sd)
    effects, shares = first_effects(design, deviations, pattern, shares, priors)
    for number in range(ROUNDS):
        series = TwoSeries(*build_series(deviations, pattern, shares.values))
        keep = NOISE_POINTS if number == ROUNDS - 1 else 1
        noise = fit_noise(design, series, effects, priors, keep)
        likelihoods = group_likelihoods(design, series, effects, noise, priors)
        posteriors = _posteriors(design, likelihoods, priors)
        # the control acts by expectation alone, which has a column of its own
        effects = {
            group: design.groups[group].effect(posterior.mean_effect * (group != CONTROL))
            for group, posterior in posteriors.items()
        }
        expected = sum(effects.values(), np.zeros(len(deviations)))
        pattern = noise_pattern(deviations - np.outer(expected, shares.values))
        final = shares
        shares = learn_shares(deviations, pattern, series.common, expected, priors.symptom_sd)
    return DiaryFit(
        design=design,
        used=used,
        quiet=whole.quiet,
        deviations=deviations,
        pattern=pattern,
        shares=final,
        common=series.common,
        expected=expected,
        noise=noise,
        likelihoods=likelihoods,
        posteriors=posteriors,
    )


def _posteriors(
    design: Design, likelihoods: Mapping[FodmapGroup, GroupLikelihood], priors: Priors
) -> dict[FodmapGroup, GroupPosterior]:
    informed = priors_given_others(
        likelihoods,
        {group: design.groups[group].shape_weights for group in likelihoods},
        priors.groups,
        priors.together,
    )
    return {
        group: group_posterior(
            likelihood,
            informed[group],
            design.groups[group].shapes,
            design.groups[group].shape_weights,
            priors.sizes,
        )
        for group, likelihood in likelihoods.items()
    }
