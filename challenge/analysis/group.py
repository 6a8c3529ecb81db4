"""The result of one group: tests, model, suggestion, reasons, what next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.conditions import obstacles, unsettled
from challenge.analysis.doses import CycleEnd, cycle_ends, early_stops, stopped_at
from challenge.analysis.evidence import Evidence
from challenge.analysis.next_step import Known, Option, best_option
from challenge.analysis.pairs import PairedDays, pair_days
from challenge.analysis.reasons import blinded_test, build_reasons, what_next
from challenge.analysis.result import (
    BlindedResult,
    Dose,
    EarlyStop,
    GroupResult,
    Sensitivity,
    StepResult,
    TestResult,
)
from challenge.analysis.secondary import secondary_tests, secondary_views
from challenge.analysis.sensitivity import disagreement, sensitivity_set
from challenge.analysis.suggestion import GAIN_UNCLEAR, Suggestion, probabilities, suggest
from challenge.analysis.tests import (
    build_backdrop,
    day_pairs,
    group_tests,
    with_randomised,
)
from challenge.model.posterior import GroupPosterior, group_posterior
from challenge.model.rises import StepRises, highest_tolerated, step_rises
from challenge.protocol.schedule import washout_lengths
from challenge.terms import CONTROL, FodmapGroup
from challenge.wording import Statement, statement

Floats = NDArray[np.float64]

_NEGLIGIBLE = 1e-4  # truths less likely than this share of the likeliest do not steer what is next


@dataclass(frozen=True, kw_only=True)
class ModelView:
    """What the model says of one group under both sets of priors, and what may be said of it."""

    posterior: GroupPosterior
    vague: GroupPosterior
    shapes: Floats
    sizes: Floats
    log_sd: float
    eaten: tuple[int, ...]
    obstacles: tuple[Statement, ...]
    stopped_at: int | None
    unsettled: tuple[Statement, ...]

    def highest(self, margin: float) -> tuple[Floats, Floats]:
        """Probability of each step being the highest tolerated, published and vague priors."""
        published, vague = (
            highest_tolerated(posterior, self.shapes, self.sizes, self.log_sd, margin)
            for posterior in (self.posterior, self.vague)
        )
        return published, vague

    def suggest(self, margin: float, *, vague: bool = False) -> Suggestion:
        """Apply the decision rule at a margin."""
        published, vaguely = self.highest(margin)
        return suggest(
            vaguely if vague else published,
            vaguely,
            self.eaten,
            self.obstacles,
            self.stopped_at,
            self.unsettled,
        )


def group_result(
    evidence: Evidence, group: FodmapGroup, blinded: BlindedResult | None = None
) -> GroupResult:
    """Analyse one group; the draw of a blinded challenge goes before pairs of days."""
    margin, confidence = evidence.settings.analysis.margin, evidence.settings.analysis.confidence
    doses = evidence.doses[group]
    symptom = evidence.days.symptoms[evidence.primary]
    pairs = pair_days(evidence.days, doses, evidence.references, dict(evidence.excluded))
    planned = tuple(sorted({dose.step for dose in doses}))
    backdrop = build_backdrop(evidence.days, evidence.levels, pairs, doses, evidence.references)
    tests = group_tests(pairs, evidence.days.symptoms, planned, confidence, backdrop)
    overall = next(t for t in tests if t.symptom == symptom and t.step is None)
    if blinded is not None:
        tests = with_randomised(tests, blinded.tests)
    ends = cycle_ends(
        doses, evidence.days, evidence.values, evidence.usual, evidence.primary, margin
    )
    stops = early_stops(ends, _whole_steps(evidence, group))
    view = _model_view(evidence, group, doses, ends, stops)
    if view is None:
        return _nothing_eaten(group, evidence, pairs, tests, doses)
    suggestion = view.suggest(margin)
    answers = sensitivity_set(
        evidence, doses, overall, backdrop, stopped_early=view.stopped_at is not None
    )
    rises = step_rises(view.posterior, view.shapes, view.sizes, view.log_sd, margin, confidence)
    grams = evidence.grams[group]
    steps = _steps(rises, grams, doses)
    shown = day_pairs(pairs, evidence.days, evidence.primary)
    further = secondary_tests(pairs, backdrop, evidence.primary, margin, confidence)
    return GroupResult(
        fodmap_group=group,
        outcome=suggestion.outcome,
        suggested_step=suggestion.step,
        suggested_g=_grams(suggestion.step, grams),
        probability=probabilities(rises.p_highest),
        p_reaction=float(rises.p_over[max(view.eaten) - 1]),
        reasons=build_reasons(
            suggestion,
            rises,
            steps,
            overall,
            shown,
            stops,
            view.stopped_at,
            margin,
            _n_cycles(doses),
            secondary=(
                *secondary_views(further, backdrop, evidence.primary, symptom),
                disagreement(answers),
                blinded_test(blinded) if blinded is not None else None,
            ),
        ),
        why_unclear=suggestion.why_unclear,
        next=what_next(group, suggestion, _option(evidence, view, suggestion)),
        steps=steps,
        tests=tests,
        pairs=shown,
        doses=doses,
        days_left_out=pairs.left_out,
        stops=stops,
        sensitivity=(
            _as_sensitivity(statement("vague-priors"), view.suggest(margin, vague=True), overall),
            *answers,
        ),
        double_margin=_as_sensitivity(
            statement("other-margin", margin=2 * margin), view.suggest(2 * margin), overall
        ),
        secondary_tests=further,
    )


def _whole_steps(evidence: Evidence, group: FodmapGroup) -> dict[int, int]:
    """Cycle -> its last step: as set for the group or its repeat, else the most of any group."""
    protocol = evidence.settings.protocol
    own = protocol.doses.get(group)
    if own is not None and own.grams:
        most = len(own.grams)
    else:
        most = max(dose.step for doses in evidence.doses.values() for dose in doses)
    whole = {dose.cycle: most for dose in evidence.doses[group]}
    for again in protocol.repeats:
        if again.fodmap_group == group and again.steps:
            whole[again.cycle] = again.steps[-1]
    return whole


def _n_cycles(doses: Sequence[Dose]) -> int:
    return len({dose.cycle for dose in doses if dose.eaten_g is not None})


def _grams(step: int | None, grams: dict[int, float]) -> float | None:
    if step is None:
        return None
    return 0.0 if step == 0 else grams.get(step)


def _model_view(
    evidence: Evidence,
    group: FodmapGroup,
    doses: tuple[Dose, ...],
    ends: tuple[CycleEnd, ...],
    stops: tuple[EarlyStop, ...],
) -> ModelView | None:
    fit, priors = evidence.fit, evidence.priors
    posterior = fit.posteriors.get(group)
    eaten = tuple(sorted({dose.step for dose in doses if dose.eaten_g is not None}))
    if posterior is None or not eaten:
        return None
    design = fit.design.groups[group]
    # occasions differ; the highest step has had the fewest
    n_occasions = _n_cycles([dose for dose in doses if dose.step == eaten[-1]])
    return ModelView(
        posterior=posterior,
        vague=group_posterior(
            fit.likelihoods[group],
            priors.vague[group],
            design.shapes,
            design.shape_weights,
            priors.sizes,
        ),
        shapes=design.shapes[:, : design.n_steps],
        sizes=priors.sizes,
        log_sd=float(np.hypot(fit.shares.log_sd, priors.occasion_log_sd / n_occasions**0.5)),
        eaten=eaten,
        obstacles=obstacles(evidence, doses, stops, stopped_at(ends, stops)),
        unsettled=unsettled(evidence, doses),
        stopped_at=stopped_at(ends, stops),
    )


def _steps(
    rises: StepRises, grams: dict[int, float], doses: tuple[Dose, ...]
) -> tuple[StepResult, ...]:
    return tuple(
        StepResult(
            step=step,
            fodmap_g=g,
            n_days=sum(dose.step == step and dose.eaten_g is not None for dose in doses),
            rise=float(rises.mean[i]),
            low=float(rises.low[i]),
            high=float(rises.high[i]),
            p_over_margin=float(rises.p_over[i]),
        )
        for i, (step, g) in enumerate(grams.items())
    )


def _option(evidence: Evidence, view: ModelView, suggestion: Suggestion) -> Option | None:
    posterior, sizes = view.posterior, evidence.priors.sizes
    n_steps = view.shapes.shape[1]
    rises = (view.shapes[:, None, :] * sizes[None, :, None]).reshape(-1, n_steps)
    noise, variance = evidence.fit.noise.points[0], evidence.fit.noise.rating_variance[0]
    ratings = max(len(evidence.days.slots_kept), 1)
    loading = float(np.mean(evidence.fit.common.loading))
    mass = np.concatenate([[posterior.none], posterior.mass.ravel()])
    rises = np.vstack([np.zeros((1, n_steps)), rises])
    likely = mass > _NEGLIGIBLE * mass.max()
    known = Known(
        mass=mass[likely] / mass[likely].sum(),
        rises=rises[likely],
        margin=evidence.settings.analysis.margin,
        day_sd=float(np.sqrt(variance * (noise.q + 1.0 / ratings)) / loading),
        eaten=view.eaten,
        stopped_at=view.stopped_at,
        worth=GAIN_UNCLEAR if suggestion.step is None else suggestion.gain,
        expectation_sd=None if CONTROL in evidence.doses else evidence.priors.expectation_sd,
    )
    return best_option(known, _washout_days(evidence))


def _washout_days(evidence: Evidence) -> int:
    """Washout before a repeat [days]: the shortest that is over, but no less than is set."""
    lengths = washout_lengths(evidence.plan)
    if evidence.plan.days[-1].phase in ("washout", "rest"):
        lengths = lengths[:-1]
    return max(min(lengths, default=0), evidence.settings.protocol.washout_days)


def _as_sensitivity(name: Statement, suggestion: Suggestion, test: TestResult) -> Sensitivity:
    return Sensitivity(
        name=name,
        outcome=suggestion.outcome,
        suggested_step=suggestion.step,
        difference=test.difference,
        low=test.low,
        high=test.high,
    )


def _nothing_eaten(
    group: FodmapGroup,
    evidence: Evidence,
    pairs: PairedDays,
    tests: tuple[TestResult, ...],
    doses: tuple[Dose, ...],
) -> GroupResult:
    stops: tuple[EarlyStop, ...] = ()
    return GroupResult(
        fodmap_group=group,
        outcome="unclear",
        suggested_step=None,
        suggested_g=None,
        probability={},
        p_reaction=None,
        reasons=(statement("unclear-not-eaten"),),
        why_unclear=(statement("not-eaten"),),
        next=statement("next-first"),
        steps=tuple(
            StepResult(
                step=step, fodmap_g=g, n_days=0, rise=None, low=None, high=None, p_over_margin=None
            )
            for step, g in evidence.grams[group].items()
        ),
        tests=tests,
        pairs=(),
        doses=doses,
        days_left_out=pairs.left_out,
        stops=stops,
    )
