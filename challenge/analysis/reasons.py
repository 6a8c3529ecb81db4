"""Why a suggestion is as it is, with days and numbers, as statements that any language can word."""

from __future__ import annotations

from collections.abc import Sequence

from challenge.analysis.next_step import Option
from challenge.analysis.result import (
    BlindedResult,
    DayPair,
    EarlyStop,
    StepResult,
    TestResult,
)
from challenge.analysis.suggestion import Suggestion
from challenge.model.rises import StepRises
from challenge.terms import CONTROL, FodmapGroup
from challenge.wording import Statement, statement


def build_reasons(
    suggestion: Suggestion,
    rises: StepRises,
    steps: Sequence[StepResult],
    overall: TestResult,
    pairs: Sequence[DayPair],
    stops: Sequence[EarlyStop],
    stopped_at: int | None,
    margin: float,
    n_cycles: int,
    secondary: Sequence[Statement | None] = (),
) -> tuple[Statement, ...]:
    """Return the statements, most important first; None among ``secondary`` is dropped."""
    said: list[Statement | None] = [_headline(suggestion, rises, steps), *suggestion.why_unclear]
    said.append(_prudence(suggestion, rises))
    said += [_step(step, margin) for step in steps if step.n_days]
    said += [_stop(stop, stopped_at) for stop in stops]
    said += [_test(overall), _worst_day(pairs), *secondary]
    said.append(_disagreement(suggestion, overall, margin))
    if n_cycles == 1:
        said.append(statement("one-challenge"))
    return tuple(reason for reason in said if reason is not None)


def _stop(stop: EarlyStop, stopped_at: int | None) -> Statement:
    """Say what a stop counts for: nothing by itself where another challenge went as far well."""
    stands = stopped_at is not None and stop.step >= stopped_at
    return statement("stop-counts" if stands else "stop-outweighed", stop=stop.words)


def _headline(suggestion: Suggestion, rises: StepRises, steps: Sequence[StepResult]) -> Statement:
    if suggestion.step is None:
        likely = int(rises.p_highest.argmax())
        p = float(rises.p_highest[likely])
        return statement("unclear", likeliest=_name(likely, steps), p=p)
    step = _name(suggestion.step, steps)
    beyond = float(rises.p_highest[: suggestion.step].sum())
    eaten = max(s.step for s in steps if s.n_days)
    if suggestion.step == eaten and eaten < len(rises.p_highest) - 1:
        enough = float(rises.p_highest[suggestion.step :].sum())
        return statement("tolerated-at-least", step=step, enough=enough, beyond=beyond)
    p = float(rises.p_highest[suggestion.step])
    return statement("highest-tolerated", step=step, p=p, beyond=beyond)


def _prudence(suggestion: Suggestion, rises: StepRises) -> Statement | None:
    """Say why a step below the likeliest is suggested."""
    likely = int(rises.p_highest.argmax())
    if suggestion.outcome != "reacted" or suggestion.step is None or likely <= suggestion.step:
        return None
    return statement(
        "prudence",
        step=likely,
        p=float(rises.p_highest[likely]),
        beyond=float(rises.p_highest[:likely].sum()),
    )


def _name(step: int, steps: Sequence[StepResult]) -> Statement:
    if step == 0:
        return statement("step-none")
    grams = next((s.fodmap_g for s in steps if s.step == step), None)
    if grams is None:
        return statement("step-only", step=step)
    return statement("step-grams", step=step, grams=grams)


def _step(step: StepResult, margin: float) -> Statement:
    if step.rise is None or step.p_over_margin is None:
        return statement(
            "step-not-estimated", step=step.step, grams=step.fodmap_g, n=step.n_days
        )  # fmt: skip
    return statement(
        "step-result",
        step=step.step,
        grams=step.fodmap_g,
        n=step.n_days,
        rise=step.rise,
        low=step.low,
        high=step.high,
        margin=margin,
        p=step.p_over_margin,
    )


def _test(test: TestResult) -> Statement:
    if test.difference is None:
        return statement("test-none", symptom=test.symptom)
    interval: Statement | str = ""
    if test.low is not None and test.high is not None:
        interval = statement("test-interval", low=test.low, high=test.high)
    floor: Statement | str = ""
    if test.pvalue is not None and test.min_pvalue is not None:
        floor = statement("test-floor", p=test.pvalue, n=test.n_pairs, least=test.min_pvalue)
    return statement(
        "test",
        symptom=test.symptom,
        n=test.n_pairs,
        difference=test.difference,
        interval=interval,
        floor=floor,
    )


def blinded_test(result: BlindedResult) -> Statement:
    """Tell the randomisation test of a blinded challenge, and whether it was fixed beforehand."""
    test = result.test
    if test.difference is None or test.pvalue is None or test.min_pvalue is None:
        return statement("blinded-none", control=result.control)
    return statement(
        "blinded-test" if result.as_fixed else "blinded-test-changed",
        control=result.control,
        symptom=test.symptom,
        n=len(result.letters),
        difference=test.difference,
        p=test.pvalue,
        orders=result.n_orders,
        least=test.min_pvalue,
        fixed=result.fixed_at.date(),
        opened=result.opened_at.date(),
    )


def _worst_day(pairs: Sequence[DayPair]) -> Statement | None:
    if not pairs:
        return None
    worst = max(pairs, key=lambda pair: pair.challenge_value - pair.reference_value)
    if worst.challenge_value <= worst.reference_value:
        return statement("worst-day-none")
    return statement(
        "worst-day",
        step=worst.step,
        day=worst.challenge_date,
        value=worst.challenge_value,
        reference=worst.reference_value,
        reference_day=worst.reference_date,
    )


def _disagreement(suggestion: Suggestion, test: TestResult, margin: float) -> Statement | None:
    if test.high is None or test.low is None or suggestion.step is None:
        return None
    if suggestion.outcome == "reacted" and test.high < margin:
        return statement("test-within")
    if suggestion.outcome == "tolerated" and test.low > 0 and (test.difference or 0) >= margin:
        return statement("test-beyond")
    return None


def what_next(group: FodmapGroup, suggestion: Suggestion, option: Option | None) -> Statement:
    """Return what would settle it."""
    if group == CONTROL:
        return statement("next-control")
    if option is None:
        return statement("next-whole" if suggestion.step is None else "next-enough")
    if option.kind == "control":
        return statement("next-control-challenge", n=option.days, gain=option.per_day * 100)
    if option.beyond and len(option.steps) == 1:
        found = "next-step-beyond"
    else:
        found = "next-steps-beyond" if option.beyond else "next-steps"
    code = {1: "steps-one", 2: "steps-two"}.get(len(option.steps), "steps-range")
    steps = statement(code, first=option.steps[0], last=option.steps[-1])
    repeat = statement(
        found,
        steps=steps,
        first=option.steps[0],
        last=option.steps[-1],
        n=option.days,
        gain=option.per_day * 100,
    )
    if any(why.code == "unsettled" for why in suggestion.why_unclear):
        return statement("next-longer-washout", next=repeat)
    return repeat
