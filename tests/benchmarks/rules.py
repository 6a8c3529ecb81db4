"""Simple rules, to stand beside the analysis on the same invented clients.

Each takes an invented client and the margin and gives an audit record with a suggested step per
group. They are the yardstick of ``compare_rules.py``, nothing that the package offers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from challenge.analysis.evidence import Evidence, gather
from challenge.analysis.result import Dose
from challenge.model.priors import load_priors
from challenge.model.series import Shares
from challenge.practice.experiment import by_analysis
from challenge.practice.records import Record
from challenge.protocol.settings import AnalysisSettings, Settings
from challenge.simulation.clients import SimulatedClient
from challenge.simulation.response import Course
from challenge.simulation.world import World
from challenge.statistics.multiplicity import holm
from challenge.statistics.paired_t import paired_t
from challenge.terms import CONTROL

Floats = NDArray[np.float64]
Steps = Mapping[str, int | None]

_ALPHA = 0.05
_BY_EYE = 2.0


def _record(client: SimulatedClient, steps: Steps) -> Record:
    blank = {"rise": None, "low": None, "high": None}
    groups = [
        {
            "fodmap_group": told.fodmap_group,
            "suggested_step": steps[told.fodmap_group],
            "probability": [float("nan")] * (len(told.rises) + 1),
            "steps": [blank] * len(told.rises),
        }
        for told in client.truth
    ]
    return {"client": client.code, "groups": groups}


def _evidence(client: SimulatedClient, margin: float) -> Evidence:
    settings = Settings(client=client.code, analysis=AnalysisSettings(margin=margin))
    return gather(client.diary, client.plan, settings)


def _below_first(doses: tuple[Dose, ...], reacted: Callable[[Dose], bool]) -> int | None:
    """Step below the lowest that reacted on any occasion, else the highest eaten."""
    eaten = [dose for dose in doses if dose.eaten_g is not None]
    if not eaten:
        return None
    hit = [dose.step for dose in eaten if reacted(dose)]
    return min(hit) - 1 if hit else max(dose.step for dose in eaten)


def _window(evidence: Evidence, dose: Dose) -> Floats:
    """(slots, symptoms) scores in the 24 h after a dose."""
    hour = dose.time.hour + dose.time.minute / 60 if dose.time else 8.0
    return evidence.days.window(evidence.days.number(dose.date), hour)


def always_largest(client: SimulatedClient, margin: float) -> Record:
    """Everybody tolerates everything."""
    return _record(client, {told.fodmap_group: len(told.rises) for told in client.truth})


def by_eye(client: SimulatedClient, margin: float) -> Record:
    """Reacted when the worst score after a dose is two points above the usual worst of a day."""
    evidence = _evidence(client, margin)
    days = evidence.references or list(range(evidence.days.n_days))
    worst = evidence.days.scores[days].reshape(len(days), -1)
    given = worst[np.isfinite(worst).any(axis=1)]
    usual = float(np.nanmax(given, axis=1).mean())

    def reacted(dose: Dose) -> bool:
        window = _window(evidence, dose)
        return bool(np.isfinite(window).any() and np.nanmax(window) >= usual + _BY_EYE)

    return _record(client, {g: _below_first(d, reacted) for g, d in evidence.doses.items()})


def slot_pairs(client: SimulatedClient, margin: float) -> Record:
    """Reacted when a paired t test of all scores after a dose has p < 0.05, upward."""
    evidence = _evidence(client, margin)

    def reacted(dose: Dose) -> bool:
        off = (_window(evidence, dose) - evidence.levels).ravel()
        off = off[np.isfinite(off)]
        test = paired_t(off) if len(off) > 1 else None
        return bool(test and test.pvalue is not None and test.pvalue < _ALPHA and off.mean() > 0)

    return _record(client, {g: _below_first(d, reacted) for g, d in evidence.doses.items()})


def printed_tests(client: SimulatedClient, margin: float) -> Record:
    """Unclear unless the test of the whole challenge, after Holm, is under 0.05 or flat.

    Where it is under 0.05, the step below the first whose mean difference reaches the margin;
    where the interval of the whole challenge stays under the margin, the highest step.
    """
    from challenge.analysis.analyse import analyse

    settings = Settings(client=client.code, analysis=AnalysisSettings(margin=margin))
    analysis = analyse(client.diary, client.plan, settings)
    steps: dict[str, int | None] = {}
    mine = {
        group.fodmap_group: [t for t in group.tests if t.symptom == analysis.primary_symptom]
        for group in analysis.groups
    }
    whole = {g: next(t for t in tests if t.step is None) for g, tests in mine.items()}
    adjusted = dict(zip(whole, holm([t.pvalue for t in whole.values()]), strict=True))
    for group in analysis.groups:
        name = group.fodmap_group
        p, test = adjusted[name], whole[name]
        eaten = [dose.step for dose in group.doses if dose.eaten_g is not None]
        over = [
            t.step
            for t in mine[name]
            if t.step is not None and t.difference is not None and t.difference >= margin
        ]
        if p is not None and p < _ALPHA and (test.difference or 0) > 0:
            steps[name] = (min(over) - 1) if over else max(eaten, default=0)
        elif test.high is not None and test.high < margin and eaten:
            steps[name] = max(eaten)
        else:
            steps[name] = None
    return _record(client, steps)


def kernel_regression(client: SimulatedClient, margin: float) -> Record:
    """Least squares on each dose's usual time course, all groups at once, rising over the steps."""
    evidence = _evidence(client, margin)
    fit, priors = evidence.fit, evidence.priors
    groups = {g: d for g, d in fit.design.groups.items() if g != CONTROL}
    columns = {g: d.coarse(priors.groups[g].course_weights) for g, d in groups.items()}
    x = np.hstack([fit.design.levels, *columns.values()])
    rises = np.full((fit.deviations.shape[1], x.shape[1]), np.nan)
    for symptom, y in enumerate(fit.deviations.T):
        seen = np.isfinite(y)
        rises[symptom] = np.linalg.lstsq(x[seen], y[seen], rcond=None)[0]
    doses = slice(fit.design.levels.shape[1], None)
    most = int(np.argmax(rises[:, doses].sum(axis=1)))
    steps: dict[str, int | None] = {told.fodmap_group: None for told in client.truth}
    start = fit.design.levels.shape[1]
    for group, block in columns.items():
        found = rises[most, start : start + groups[group].n_steps]
        start += block.shape[1]
        eaten = [d.step for d in evidence.doses.get(group, ()) if d.eaten_g is not None]
        if eaten and groups[group].n_steps:
            under = int((isotonic_regression(found[: max(eaten)]).x < margin).sum())
            steps[group] = under
    return _record(client, steps)


def likeliest_step(client: SimulatedClient, margin: float) -> Record:
    """The analysis of this package without "unclear": the likeliest of the steps eaten."""
    return _likeliest(by_analysis(client, margin), _top)


def likeliest_of_all(client: SimulatedClient, margin: float) -> Record:
    """The same, of all steps: also of those not eaten, which the analysis never suggests."""
    return _likeliest(by_analysis(client, margin), lambda group: len(group["probability"]) - 1)


def _likeliest(record: Record, highest: Callable[[Mapping[str, Any]], int]) -> Record:
    groups = [
        {**group, "suggested_step": int(np.argmax(group["probability"][: highest(group) + 1]))}
        if group["probability"] and _top(group)
        else group
        for group in record["groups"]
    ]
    return {**record, "groups": groups}


def _top(group: Mapping[str, object]) -> int:
    steps = group["steps"]
    assert isinstance(steps, list)
    return max((entry["step"] for entry in steps if entry["n_days"]), default=0)


@dataclass(frozen=True)
class _TrueCourse:
    """A time course of an invented client, as the model asks for one."""

    course: Course
    recall: float

    def at(self, hours: Floats) -> Floats:
        return self.course.at(hours, self.recall) * (hours >= 0)


def knows_the_body(client: SimulatedClient, margin: float) -> Record:
    """The analysis, told the client's true time courses and symptom weights: a bound.

    It still has to learn level, noise, expectation, flares, thresholds and sizes from the diary.
    """
    priors, person = load_priors(), client.person
    groups = list(person.courses)
    recall = World().recall_hours
    courses = tuple(_TrueCourse(person.courses[group], recall) for group in groups)
    told = {
        group: replace(
            prior, course_weights=np.maximum(np.eye(len(groups))[groups.index(group)], 1e-9)
        )
        for group, prior in priors.groups.items()
        if group in groups
    }
    vague = {group: told[group] for group in told}
    known = replace(priors, courses=courses, groups=told, vague=vague)
    by_name = dict(zip(World().symptoms, person.weights[0], strict=True))
    followed = [name for name in Settings().diary.symptoms if name in by_name]
    shares = Shares(values=np.array([by_name[name] for name in followed]), log_sd=0.0)
    with (
        patch("challenge.analysis.evidence.load_priors", lambda: known),
        patch("challenge.model.fit.learn_shares", lambda *_: shares),
        patch("challenge.model.fit.equal_shares", lambda *_: shares),
        patch("challenge.model.start.learn_shares", lambda *_: shares),
    ):
        return by_analysis(client, margin)


RULES: Mapping[str, Callable[[SimulatedClient, float], Record]] = {
    "always the largest step": always_largest,
    "by eye": by_eye,
    "paired t, all scores of a dose day": slot_pairs,
    "printed tests, Holm": printed_tests,
    "regression on a time course": kernel_regression,
    "this model, likeliest step": likeliest_step,
    "this model, likeliest step, eaten or not": likeliest_of_all,
    "this analysis": by_analysis,
    "this analysis, told the body": knows_the_body,
}
