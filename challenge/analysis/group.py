"""The result of one group: tests, model, suggestion, reasons, what next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.doses import early_stops
from challenge.analysis.evidence import Evidence
from challenge.analysis.next_step import Option, best_option
from challenge.analysis.pairs import PairedDays, pair_days
from challenge.analysis.reasons import build_reasons, next_sentence
from challenge.analysis.result import (
    Dose,
    EarlyStop,
    GroupResult,
    Sensitivity,
    StepResult,
    TestResult,
)
from challenge.analysis.suggestion import Suggestion, probabilities, suggest
from challenge.analysis.tests import day_pairs, group_tests
from challenge.model.posterior import GroupPosterior, group_posterior
from challenge.model.rises import StepRises, step_rises
from challenge.terms import CONTROL, FodmapGroup

Floats = NDArray[np.float64]

_MIN_REFERENCE_DAYS = 3
_UNSETTLED_MARGINS = 2.0


@dataclass(frozen=True, kw_only=True)
class ModelView:
    """What the model says of one group, under both sets of priors."""

    posterior: GroupPosterior
    shapes: Floats
    log_sd: float
    rises: StepRises
    vague: StepRises


def group_result(evidence: Evidence, group: FodmapGroup) -> GroupResult:
    """Analyse one group."""
    analysis = evidence.settings.analysis
    doses = evidence.doses[group]
    symptom = evidence.days.symptoms[evidence.primary]
    pairs = pair_days(evidence.days, doses, evidence.references, dict(evidence.excluded))
    planned = tuple(sorted({dose.step for dose in doses}))
    tests = group_tests(pairs, evidence.days.symptoms, planned, analysis.confidence)
    overall = next(t for t in tests if t.symptom == symptom and t.step is None)
    usual = float(evidence.usual[evidence.primary])
    stops = early_stops(
        doses, evidence.days, evidence.values[:, evidence.primary], usual, analysis.margin
    )
    eaten = tuple(sorted({dose.step for dose in doses if dose.eaten_g is not None}))
    view = _model_view(evidence, group, analysis.margin)
    if view is None:
        return _nothing_eaten(group, evidence, pairs, tests, doses)
    obstacles = _obstacles(evidence, doses, pairs)
    suggestion = suggest(view.rises.p_highest, view.vague.p_highest, eaten, obstacles)
    grams = evidence.plan.steps(group)
    steps = _steps(view.rises, grams, doses)
    shown = day_pairs(pairs, evidence.days, evidence.primary)
    cycles = {dose.cycle for dose in doses if dose.eaten_g is not None}
    option = _option(evidence, view, eaten)
    return GroupResult(
        fodmap_group=group,
        outcome=suggestion.outcome,
        suggested_step=suggestion.step,
        suggested_g=_grams(suggestion.step, grams),
        probability=probabilities(view.rises.p_highest),
        p_reaction=float(view.rises.p_over[max(eaten) - 1]),
        reasons=build_reasons(
            suggestion, view.rises, steps, overall, shown, stops, analysis.margin, len(cycles)
        ),
        next=next_sentence(group, suggestion, option, CONTROL in evidence.doses),
        steps=steps,
        tests=tests,
        pairs=shown,
        doses=doses,
        days_left_out=pairs.left_out,
        stops=stops,
        sensitivity=_sensitivity(view, eaten, obstacles, overall),
        double_margin=_double_margin(evidence, group, eaten, obstacles, overall),
    )


def _grams(step: int | None, grams: dict[int, float]) -> float | None:
    if step is None:
        return None
    return 0.0 if step == 0 else grams.get(step)


def _model_view(evidence: Evidence, group: FodmapGroup, margin: float) -> ModelView | None:
    fit, priors = evidence.fit, evidence.priors
    posterior = fit.posteriors.get(group)
    if posterior is None:
        return None
    design = fit.design.groups[group]
    shapes = design.shapes[:, : design.n_steps]
    occasions = max(len({dose.cycle for dose in evidence.doses[group] if dose.eaten_g}), 1)
    log_sd = float(np.hypot(fit.composite.scale_log_sd, priors.occasion_log_sd / occasions**0.5))
    confidence = evidence.settings.analysis.confidence
    vague = group_posterior(
        fit.likelihoods[group],
        priors.vague[group],
        design.shapes,
        design.shape_weights,
        priors.sizes,
    )
    return ModelView(
        posterior=posterior,
        shapes=shapes,
        log_sd=log_sd,
        rises=step_rises(posterior, shapes, priors.sizes, log_sd, margin, confidence),
        vague=step_rises(vague, shapes, priors.sizes, log_sd, margin, confidence),
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


def _obstacles(evidence: Evidence, doses: tuple[Dose, ...], pairs: PairedDays) -> tuple[str, ...]:
    """Return the data conditions that forbid a suggestion."""
    found = []
    if len(evidence.references) < _MIN_REFERENCE_DAYS:
        found.append(
            f"only {len(evidence.references)} days can serve as reference; at least "
            f"{_MIN_REFERENCE_DAYS} are needed"
        )
    taken = [dose for dose in doses if dose.eaten_g is not None]
    scored = [d for d in taken if _scored(evidence, d)]
    if taken and 2 * len(scored) < len(taken):
        found.append(f"only {len(scored)} of {len(taken)} challenge days have enough scores")
    top = max(taken, key=lambda dose: (dose.cycle, dose.step), default=None)
    if top is not None and evidence.days.number(top.date) in evidence.excluded:
        reason = evidence.excluded[evidence.days.number(top.date)]
        found.append(f"the decisive day, {top.date}, is left out: {reason}")
    found += _unsettled(evidence, doses)
    return tuple(found)


def _scored(evidence: Evidence, dose: Dose) -> bool:
    hour = dose.time.hour + dose.time.minute / 60 if dose.time else 8.0
    window = evidence.days.window(evidence.days.number(dose.date), hour)
    return bool(2 * np.isfinite(window).any(axis=1).sum() >= len(evidence.days.slots_kept))


def _unsettled(evidence: Evidence, doses: tuple[Dose, ...]) -> list[str]:
    """Say whether every challenge began before symptoms were back at their usual level."""
    raised = []
    starts = {c: min(d.date for d in doses if d.cycle == c) for c in {d.cycle for d in doses}}
    for start in starts.values():
        before = evidence.days.number(start) - 1
        if before < 0:
            continue
        rise = float(np.mean(evidence.values[before] - evidence.usual))
        limit = _UNSETTLED_MARGINS * evidence.settings.analysis.margin
        if np.isfinite(rise) and rise >= limit:
            raised.append(
                f"symptoms were {rise:.1f} points above their usual level on the day before the "
                f"challenge began ({evidence.days.date(before)})"
            )
    return raised if len(raised) == len(starts) else []


def _option(evidence: Evidence, view: ModelView, eaten: tuple[int, ...]) -> Option | None:
    posterior, sizes = view.posterior, evidence.priors.sizes
    n_steps = view.shapes.shape[1]
    rises = (view.shapes[:, None, :] * sizes[None, :, None]).reshape(-1, n_steps)
    rises = np.vstack([np.zeros((1, n_steps)), rises])
    mass = np.concatenate([[posterior.none], posterior.mass.ravel()])
    noise, variance = evidence.fit.noise.points[0], evidence.fit.noise.rating_variance[0]
    ratings = max(len(evidence.days.slots_kept), 1)
    day_sd = np.sqrt(variance * (noise.q + 1.0 / ratings)) / evidence.fit.composite.scale
    return best_option(
        mass,
        rises,
        evidence.settings.analysis.margin,
        float(day_sd),
        _washout_days(evidence),
        eaten,
    )


def _washout_days(evidence: Evidence) -> int:
    """Shortest washout between two challenges of the plan [days]."""
    runs, length = [], 0
    for day in evidence.plan:
        if day.phase == "washout":
            length += 1
        elif length:
            runs.append(length)
            length = 0
    return min(runs, default=3)


def _as_sensitivity(name: str, suggestion: Suggestion, test: TestResult) -> Sensitivity:
    return Sensitivity(
        name=name,
        outcome=suggestion.outcome,
        suggested_step=suggestion.step,
        difference=test.difference,
        low=test.low,
        high=test.high,
    )


def _double_margin(
    evidence: Evidence,
    group: FodmapGroup,
    eaten: tuple[int, ...],
    obstacles: tuple[str, ...],
    overall: TestResult,
) -> Sensitivity | None:
    margin = 2 * evidence.settings.analysis.margin
    view = _model_view(evidence, group, margin)
    if view is None:
        return None
    suggestion = suggest(view.rises.p_highest, view.vague.p_highest, eaten, obstacles)
    return _as_sensitivity(f"margin {margin:g} points", suggestion, overall)


def _sensitivity(
    view: ModelView, eaten: tuple[int, ...], obstacles: tuple[str, ...], overall: TestResult
) -> tuple[Sensitivity, ...]:
    vague = suggest(view.vague.p_highest, view.vague.p_highest, eaten, obstacles)
    return (_as_sensitivity("vague priors", vague, overall),)


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
        reasons=("Unclear: no dose of this challenge was logged as eaten.",),
        next="Do the challenge, and log each dose with its time and amount.",
        steps=tuple(
            StepResult(
                step=step, fodmap_g=g, n_days=0, rise=None, low=None, high=None, p_over_margin=None
            )
            for step, g in evidence.plan.steps(group).items()
        ),
        tests=tests,
        pairs=(),
        doses=doses,
        days_left_out=pairs.left_out,
        stops=stops,
    )
