"""The paired comparison again under changed assumptions, and whether they agree.

Each answer is the three-way verdict of an interval on the margin: wholly under it, above 0 with an
estimate beyond it, or undecided. It speaks of the primary symptom and of all steps together.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores
from challenge.analysis.evidence import Evidence
from challenge.analysis.pairs import dose_hour, pair_days
from challenge.analysis.result import Dose, Sensitivity, TestResult
from challenge.analysis.tests import Backdrop, overall_test
from challenge.statistics.equivalence import judge_margin
from challenge.statistics.two_sample import pooled_t
from challenge.terms import Outcome
from challenge.wording import Statement, statement

Floats = NDArray[np.float64]

MAIN = "paired-test"
_OUTCOMES: dict[str, Outcome] = {
    "within margin": "tolerated",
    "beyond margin": "reacted",
    "undecided": "unclear",
}
_JUST_AFTER_H = 1 / 60


def sensitivity_set(
    evidence: Evidence,
    doses: tuple[Dose, ...],
    main: TestResult,
    backdrop: Backdrop,
    *,
    stopped_early: bool,
) -> tuple[Sensitivity, ...]:
    """Answer the paired comparison of one group under one changed assumption at a time.

    Parameters
    ----------
    main
        The primary symptom over all steps together.
    stopped_early
        Whether every challenge of the group was stopped for symptoms, which is an outcome.
    """
    days = evidence.days

    def judge(code: str, difference: float | None, low: float | None, high: float | None) -> None:
        verdict = judge_margin(
            difference, low, high, evidence.settings.analysis.margin, stopped_early=stopped_early
        )
        answers.append(
            Sensitivity(
                name=statement(code),
                outcome=_OUTCOMES[verdict.finding],
                suggested_step=None,
                difference=difference,
                low=low,
                high=high,
            )
        )

    def again(
        code: str, days: DayScores, doses: tuple[Dose, ...], left_out: dict[int, str]
    ) -> None:
        references = [day for day in evidence.references if day not in left_out]
        pairs = pair_days(days, doses, references, left_out)
        test = overall_test(pairs, main.symptom, evidence.primary, main.confidence)
        judge(code, test.difference, test.low, test.high)

    answers: list[Sensitivity] = []
    excluded = dict(evidence.excluded)
    judge(MAIN, main.difference, main.low, main.high)
    if evidence.marks:
        marked = {day: ", ".join(marks) for day, marks in evidence.marks.items()}
        again("marked-days-out", days, doses, marked | excluded)
    challenge, reference = backdrop.days(evidence.primary)
    t = pooled_t(reference, challenge, confidence=main.confidence)
    judge("pooled", t.estimate, t.low, t.high)
    again("one-slot-later", days, tuple(_later(days, dose) for dose in doses), excluded)
    taken = [dose for dose in doses if dose.eaten_g is not None]
    worst = np.broadcast_to(np.nanmax(days.scores, axis=(0, 1), initial=0.0), evidence.levels.shape)
    for name, fill in (("worst", worst), ("usual", evidence.levels)):
        filled = _filled(days, taken, fill)
        if filled is not None:
            again(f"missing-as-{name}", filled, doses, excluded)
    return tuple(answers)


def disagreement(answers: Sequence[Sensitivity]) -> Statement | None:
    """Say which changed assumptions change the verdict; None when none does."""
    main = next((answer for answer in answers if answer.name.code == MAIN), None)
    if main is None:
        return None
    other = [answer for answer in answers if answer.outcome != main.outcome]
    if not other:
        return None
    others = tuple(
        statement("verdict-with", verdict=_verdict(answer), change=answer.name) for answer in other
    )
    return statement("verdicts-differ", main=_verdict(main), others=others)


def _verdict(answer: Sensitivity) -> Statement:
    return statement(f"verdict-{answer.outcome}")


def _later(days: DayScores, dose: Dose) -> Dose:
    """Return the dose as if eaten just after the first slot that follows it on that day."""
    after = [days.slot_hours[s] for s in days.slots_kept if days.slot_hours[s] > dose_hour(dose)]
    if not after:
        return dose
    hour = min(float(min(after)) + _JUST_AFTER_H, 23.98)
    moved = dt.datetime.combine(dose.date, dt.time()) + dt.timedelta(hours=hour)
    return replace(dose, time=moved)


def _filled(days: DayScores, doses: list[Dose], fill: Floats) -> DayScores | None:
    """Fill the missing scores of the challenge days' windows; None when none is missing."""
    scores = np.array(days.scores)
    for dose in doses:
        day, hour = days.number(dose.date), dose_hour(dose)
        for slot in days.slots_kept:
            row = day if days.slot_hours[slot] > hour else day + 1
            if 0 <= row < days.n_days:
                missing = np.isnan(scores[row, slot])
                scores[row, slot, missing] = fill[slot, missing]
    if np.array_equal(scores, days.scores, equal_nan=True):
        return None
    return replace(days, scores=scores)
