"""One client's audit record: plain values that go to a line of JSON and to rows of CSV."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from challenge.practice.unclear import kind_of_unclear
from challenge.terms import CONTROL

if TYPE_CHECKING:
    from challenge.analysis.decision import Decision
    from challenge.analysis.result import Analysis, GroupResult, TestResult
    from challenge.protocol.plan import Plan

Record = dict[str, Any]

SCHEMA: Final = 1
_BEFORE: Final = ("client", "fodmap_group", "suggested_step", "suggested_g", "outcome")
_AFTER: Final = (
    "n_pairs",
    "difference",
    "low",
    "high",
    "pvalue_adjusted",
    "completeness",
    "problem",
)
_LEAST_DAYS: Final = 3
_MAD_TO_SD: Final = 1.4826
"""A normal distribution's standard deviation over its median absolute deviation."""


def record_of(
    client: str, analysis: Analysis, plan: Plan, decisions: Iterable[Decision] = ()
) -> Record:
    """Return the record of a client whose analysis succeeded.

    No food, score, note or date of the diary is in it, only counts and results; of a decision its
    step, never its reason or by whom.
    """
    decided = {decision.fodmap_group: decision for decision in decisions}
    return {
        "schema": SCHEMA,
        "client": client,
        "problem": None,
        "completeness": dict(analysis.completeness),
        "days_planned": len(plan),
        "days_taken": _days_taken(analysis, plan),
        "finished": _finished(analysis, plan),
        "cycles": max((day.cycle or 0 for day in plan), default=0),
        "day_spread": _day_spread(analysis),
        "groups": [
            {**_group(analysis.primary_symptom, group), **_decided(decided.get(group.fodmap_group))}
            for group in analysis.groups
        ],
    }


def problem_record(client: str, problem: str) -> Record:
    """Return the record of a client whose folder could not be analysed."""
    return {"schema": SCHEMA, "client": client, "problem": problem, "groups": []}


def _group(primary_symptom: str, group: GroupResult) -> Record:
    test = _main_test(primary_symptom, group)
    differences = {t.step: t.difference for t in group.tests if t.symptom == primary_symptom}
    planned = [dose for dose in group.doses if dose.planned_g is not None]
    eaten = [dose for dose in planned if dose.eaten_g is not None]
    exact = [d for d in eaten if d.planned_g and abs((d.eaten_g or 0) / d.planned_g - 1) <= 0.1]
    return {
        "fodmap_group": group.fodmap_group,
        "control": group.fodmap_group == CONTROL,
        "suggested_step": group.suggested_step,
        "suggested_g": group.suggested_g,
        "outcome": group.outcome,
        "probability": [group.probability[step] for step in sorted(group.probability)],
        "p_reaction": group.p_reaction,
        "n_pairs": test.n_pairs if test else None,
        "difference": test.difference if test else None,
        "low": test.low if test else None,
        "high": test.high if test else None,
        "pvalue_adjusted": test.pvalue_adjusted if test else None,
        "steps": [
            {
                "step": step.step,
                "fodmap_g": step.fodmap_g,
                "n_days": step.n_days,
                "rise": step.rise,
                "low": step.low,
                "high": step.high,
                "difference": differences.get(step.step),
            }
            for step in group.steps
        ],
        "unclear_because": kind_of_unclear(group.why_unclear),
        "doses_planned": len(planned),
        "doses_eaten": len(eaten),
        "doses_as_planned": len(exact),
        "stopped": len(group.stops),
        "days_left_out": len(group.days_left_out),
    }


def _decided(decision: Decision | None) -> Record:
    return {
        "decided": decision is not None,
        "decided_step": decision.decided_step if decision else None,
        "overridden": decision.is_override if decision else False,
    }


def _days_taken(analysis: Analysis, plan: Plan) -> int | None:
    """Days from the first of the plan to the last dose eaten."""
    eaten = [d.date for group in analysis.groups for d in group.doses if d.eaten_g is not None]
    if not eaten or not len(plan):
        return None
    return (max(eaten) - plan.days[0].date).days + 1


def _finished(analysis: Analysis, plan: Plan) -> bool:
    """Whether something was eaten in every open challenge that is planned."""
    planned = {
        (day.fodmap_group, day.cycle)
        for day in plan
        if day.phase == "challenge" and day.fodmap_group
    }
    eaten = {
        (group.fodmap_group, dose.cycle)
        for group in analysis.groups
        for dose in group.doses
        if dose.eaten_g is not None
    }
    return bool(planned) and planned <= eaten


def _day_spread(analysis: Analysis) -> float | None:
    """Spread of the primary symptom from day to day [points], challenge days aside.

    From the median absolute deviation, which the days after a reaction hardly move; None with
    fewer than three days.
    """
    values = [
        day.values[analysis.primary_symptom]
        for day in analysis.days
        if day.phase in ("baseline", "washout") and analysis.primary_symptom in day.values
    ]
    if len(values) < _LEAST_DAYS:
        return None
    middle = statistics.median(values)
    return _MAD_TO_SD * statistics.median(abs(value - middle) for value in values)


def _main_test(primary_symptom: str, group: GroupResult) -> TestResult | None:
    for test in group.tests:
        if test.symptom == primary_symptom and test.step is None:
            return test
    return None


def csv_columns(n_steps: int) -> tuple[str, ...]:
    """Return the columns of the audit's CSV for that many dose steps."""
    return (*_BEFORE, *(f"p{step}" for step in range(n_steps + 1)), *_AFTER)


def csv_rows(record: Mapping[str, Any], n_steps: int) -> Iterator[list[str]]:
    """Give the CSV rows of one record: one per group, or one with the problem."""
    if record["problem"] is not None:
        empty = [""] * (len(csv_columns(n_steps)) - 2)
        yield [record["client"], *empty, record["problem"]]
        return
    everything = record["completeness"].get("all")
    for group in record["groups"]:
        chances: Sequence[float] = group["probability"]
        shown = [_text(chances[k]) if k < len(chances) else "" for k in range(n_steps + 1)]
        yield [
            record["client"],
            *(_text(group[name]) for name in _BEFORE[1:]),
            *shown,
            *(_text(group[name]) for name in _AFTER[:-2]),
            _text(everything),
            "",
        ]


def _text(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.6g}" if isinstance(value, float) else str(value)
