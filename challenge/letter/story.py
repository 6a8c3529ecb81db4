"""What a letter says of each group: the decision where there is one, else the suggestion."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from challenge.analysis.decision import Decision, Standing, standings
from challenge.analysis.result import Analysis, Dose, GroupResult, TestResult
from challenge.diary.sachets import find_sachet
from challenge.protocol.portion import amount_in_words, food_in_words
from challenge.terms import CONTROL
from challenge.wording import Words

_FEW = 3

Verdict = Literal["all", "some", "none", "unclear", "held"]
"""Largest dose eaten tolerated; a smaller one; not even the lowest; cannot be told; held up."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Story:
    """One group as a letter tells it.

    Attributes
    ----------
    result
        The analysis of the group.
    step, grams
        Highest step to use, decided or else suggested; None when unclear.
    verdict
        What that means.
    decision
        The decision, when one holds.
    outdated
        There is a decision, but made before the evidence changed.
    """

    result: GroupResult
    step: int | None
    grams: float | None
    verdict: Verdict
    decision: Decision | None
    outdated: bool

    @property
    def is_control(self) -> bool:
        """Whether this is the control challenge."""
        return self.result.fodmap_group == CONTROL

    @property
    def overridden(self) -> bool:
        """Whether the dietitian decided otherwise than suggested."""
        return self.decision is not None and self.decision.is_override

    def eaten(self) -> tuple[Dose, ...]:
        """Return the doses that were eaten."""
        return tuple(dose for dose in self.result.doses if dose.eaten_g is not None)

    def top_step(self) -> int:
        """Return the highest step eaten; 0 when nothing was."""
        return max((dose.step for dose in self.eaten()), default=0)

    def when(self, words: Words) -> str:
        """Write the days of each challenge of the group; from four on, the first and the last."""
        by_cycle: dict[int, list[dt.date]] = {}
        for dose in self.result.doses:
            by_cycle.setdefault(dose.cycle, []).append(dose.date)
        spans = sorted((min(days), max(days)) for days in by_cycle.values())
        if not spans:
            return words("format.none")
        if len(spans) > _FEW:
            whole = words.span(spans[0][0], spans[-1][1])
            return words("letter.many_times", dates=whole, n=len(spans))
        return ", ".join(words.span(*span) for span in spans)

    def dose(self, step: int) -> Dose | None:
        """Return the latest dose of a step: with a portion and eaten, if there is such a one.

        A sachet comes last: nobody can buy what is written on it.
        """
        of_step = [dose for dose in self.result.doses if dose.step == step]
        return max(
            of_step,
            key=lambda dose: (
                find_sachet(dose.food) is None,
                dose.portion_g is not None,
                dose.eaten_g is not None,
                dose.date,
            ),
            default=None,
        )

    def overall(self, symptom: str) -> TestResult | None:
        """Return the test of all steps together on one symptom."""
        tests = (test for test in self.result.tests if test.step is None)
        return next((test for test in tests if test.symptom == symptom), None)


def tell(
    analysis: Analysis, decisions: Iterable[Decision], held: Collection[str] = ()
) -> tuple[Story, ...]:
    """Return the story of every group, in the order of the analysis.

    Groups in ``held`` are held up by screening: their verdict is that, whatever was decided.
    """
    found = standings(analysis, decisions)
    return tuple(
        _story(group, found[group.fodmap_group], group.fodmap_group in held)
        for group in analysis.groups
    )


def _story(group: GroupResult, standing: Standing, is_held: bool) -> Story:
    holds = standing.decision if standing.current else None
    step = holds.decided_step if holds else group.suggested_step
    grams = holds.decided_g if holds else group.suggested_g
    top = max((dose.step for dose in group.doses if dose.eaten_g is not None), default=0)
    verdict: Verdict
    if is_held:
        verdict = "held"
    elif step is None:
        verdict = "unclear"
    elif step == 0:
        verdict = "none"
    else:
        verdict = "all" if step >= top else "some"
    return Story(
        result=group, step=step, grams=grams, verdict=verdict, decision=holds,
        outdated=standing.decision is not None and not standing.current,
    )  # fmt: skip


def portion(dose: Dose | None, words: Words) -> str:
    """Write a portion in metric and, where the food is known, household measure.

    ``250 mL (1 cup) of milk``; where no portion is on record, the grams of the carbohydrate, so
    that an amount always stands beside the food.
    """
    if dose is None:
        return words("format.none")
    name = food_in_words(dose.food, words) or words("format.none")
    if dose.portion_g is None:
        grams = dose.eaten_g if dose.eaten_g is not None else dose.planned_g
        return words("letter.portion_unknown", food=name, grams=words.grams(grams))
    amount = amount_in_words(dose.food, dose.portion_g, words)
    return words("letter.portion", food=name, amount=amount)


def months_later(day: dt.date, months: int) -> dt.date:
    """Return the first of the month that many months later."""
    index = day.year * 12 + day.month - 1 + months
    return dt.date(index // 12, index % 12 + 1, 1)
