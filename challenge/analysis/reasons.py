"""Why a suggestion is as it is, in sentences with days and numbers."""

from __future__ import annotations

from collections.abc import Sequence

from challenge.analysis.next_step import Option
from challenge.analysis.result import DayPair, EarlyStop, StepResult, TestResult
from challenge.analysis.suggestion import Suggestion
from challenge.model.rises import StepRises
from challenge.terms import CONTROL, FodmapGroup


def build_reasons(
    suggestion: Suggestion,
    rises: StepRises,
    steps: Sequence[StepResult],
    overall: TestResult,
    pairs: Sequence[DayPair],
    stops: Sequence[EarlyStop],
    margin: float,
    n_cycles: int,
    secondary: Sequence[str] = (),
) -> tuple[str, ...]:
    """Return the sentences, most important first; empty ones of ``secondary`` are dropped."""
    sentences = [_headline(suggestion, rises, steps)]
    sentences += [_unclear(why) for why in suggestion.why_unclear]
    sentences += [_step(step, margin) for step in steps if step.n_days]
    sentences += [
        _capital(
            f"{stop.words}; this counts as a reaction at that dose, and it is strong "
            "evidence but not proof: repeat it first."
        )
        for stop in stops
    ]
    sentences.append(_test(overall))
    worst = _worst_day(pairs)
    if worst:
        sentences.append(worst)
    sentences += [sentence for sentence in secondary if sentence]
    apart = _disagreement(suggestion, overall, margin)
    if apart:
        sentences.append(apart)
    if n_cycles == 1:
        sentences.append("All of this rests on one challenge.")
    return tuple(sentences)


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _headline(suggestion: Suggestion, rises: StepRises, steps: Sequence[StepResult]) -> str:
    likely = int(rises.p_highest.argmax())
    if suggestion.step is None:
        return (
            f"Unclear: the likeliest answer, {_name(likely, steps)}, has a probability of "
            f"{_percent(float(rises.p_highest[likely]))}."
        )
    beyond = _percent(float(rises.p_highest[: suggestion.step].sum()))
    eaten = max(s.step for s in steps if s.n_days)
    if suggestion.step == eaten and eaten < len(rises.p_highest) - 1:
        enough = _percent(float(rises.p_highest[suggestion.step :].sum()))
        return (
            f"Tolerated at least up to {_name(suggestion.step, steps)}, with a probability of "
            f"{enough}; no higher step was eaten. The probability that this is already too much "
            f"is {beyond}."
        )
    chance = _percent(float(rises.p_highest[suggestion.step]))
    return (
        f"Highest dose tolerated: {_name(suggestion.step, steps)}, with a probability of {chance}; "
        f"the probability that this is already too much is {beyond}."
    )


def _name(step: int, steps: Sequence[StepResult]) -> str:
    if step == 0:
        return "not even the lowest step"
    grams = next((s.fodmap_g for s in steps if s.step == step), None)
    return f"step {step}" + (f" ({grams:g} g)" if grams is not None else "")


def _percent(p: float) -> str:
    if p < 0.01:
        return "under 1 %"
    return "over 99 %" if p > 0.99 else f"{p:.0%}".replace("%", " %")


def _unclear(why: str) -> str:
    return _capital(f"{why}.")


def _step(step: StepResult, margin: float) -> str:
    days = "1 day" if step.n_days == 1 else f"{step.n_days} days"
    if step.rise is None or step.p_over_margin is None:
        return f"Step {step.step} ({step.fodmap_g:g} g), eaten on {days}: could not be estimated."
    return (
        f"Step {step.step} ({step.fodmap_g:g} g), eaten on {days}: expected rise "
        f"{step.rise:.1f} points ({step.low:.1f} to {step.high:.1f}); probability of "
        f"{margin:g} or more {_percent(step.p_over_margin)}."
    )


def _test(test: TestResult) -> str:
    if test.difference is None:
        return f"No pair of days could be compared on {test.symptom}."
    days = "1 pair" if test.n_pairs == 1 else f"{test.n_pairs} pairs"
    interval = (
        f" ({test.low:.1f} to {test.high:.1f})"
        if test.low is not None and test.high is not None
        else ""
    )
    floor = (
        f"; p {test.pvalue:.2g}, and {days} of days cannot give less than {test.min_pvalue:.2g}"
        if test.pvalue is not None and test.min_pvalue is not None
        else ""
    )
    return (
        f"Paired test on {test.symptom}: {days} of days, challenge minus reference "
        f"{test.difference:+.1f} points{interval}{floor}."
    )


def _worst_day(pairs: Sequence[DayPair]) -> str:
    if not pairs:
        return ""
    worst = max(pairs, key=lambda pair: pair.challenge_value - pair.reference_value)
    if worst.challenge_value <= worst.reference_value:
        return "On no challenge day was it higher than on the day it is compared with."
    return (
        f"The largest difference was after step {worst.step} on {worst.challenge_date}: "
        f"{worst.challenge_value:.1f} against {worst.reference_value:.1f} "
        f"on {worst.reference_date}."
    )


def _disagreement(suggestion: Suggestion, test: TestResult, margin: float) -> str:
    if test.high is None or test.low is None or suggestion.step is None:
        return ""
    if suggestion.outcome == "reacted" and test.high < margin:
        return (
            "The paired test points the other way (its interval stays below the margin); it looks "
            "at whole days of one symptom, the model at when each dose acted."
        )
    if suggestion.outcome == "tolerated" and test.low > 0 and (test.difference or 0) >= margin:
        return (
            "The paired test points the other way (worse by the margin or more); a flare or the "
            "background may explain it, so look at the days."
        )
    return ""


def next_sentence(
    group: FodmapGroup, suggestion: Suggestion, option: Option | None, has_control: bool
) -> str:
    """Return what would settle it, in one or two sentences."""
    if group == CONTROL:
        return (
            "The control needs no repeat unless it was reacted to and other results depend on it."
        )
    if option is None:
        if suggestion.step is None:
            return "Repeat the whole challenge after washout; part of it would not settle it."
        return "No repeat is worth its days now. Tolerance changes: test again in 3 to 6 months."
    which = " and ".join(str(step) for step in option.steps)
    steps = f"step {which}" if len(option.steps) == 1 else f"steps {which}"
    if len(option.steps) > 2:
        steps = f"steps {option.steps[0]} to {option.steps[-1]}"
    text = (
        f"Most informative next: eat {steps} again after washout ({option.days} days); expected "
        f"gain in certainty {option.per_day * 100:.1f} points in 100 per day."
    )
    if suggestion.outcome == "reacted" and not has_control:
        text += " A glucose control challenge would show how much is expectation."
    return text
