"""The paired tests of one group: estimate and interval first, exact p-value second."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores
from challenge.analysis.pairs import PairedDays
from challenge.analysis.result import DayPair, TestResult
from challenge.statistics.paired_t import paired_t
from challenge.statistics.sign_flip import sign_flip

Floats = NDArray[np.float64]

CYCLES_AS_UNITS = 3
"""From so many cycles on, the cycle is the unit: one difference per cycle."""


def group_tests(
    pairs: PairedDays, symptoms: tuple[str, ...], steps: tuple[int, ...], confidence: float
) -> tuple[TestResult, ...]:
    """Compare challenge with reference days: per symptom over all steps, then step by step."""
    results = []
    for column, symptom in enumerate(symptoms):
        for step in (None, *steps):
            mine = np.ones(len(pairs.step), dtype=bool) if step is None else pairs.step == step
            results.append(
                _compare(pairs, symptom, step, mine, column, confidence, pairs.n_missing)
            )
    return tuple(results)


def _compare(
    pairs: PairedDays,
    symptom: str,
    step: int | None,
    rows: NDArray[np.bool_],
    column: int,
    confidence: float,
    n_missing: int,
) -> TestResult:
    challenge, reference = pairs.challenge[rows, column], pairs.reference[rows, column]
    complete = np.isfinite(challenge) & np.isfinite(reference)
    challenge, reference = challenge[complete], reference[complete]
    differences, unit = by_unit(challenge - reference, pairs.cycle[rows][complete], step)
    t = paired_t(differences, confidence=confidence)
    exact = sign_flip(differences)
    return TestResult(
        symptom=symptom,
        step=step,
        n_pairs=int(complete.sum()),
        n_missing=int((~complete).sum()) + (n_missing if step is None else 0),
        baseline_mean=float(reference.mean()) if len(reference) else None,
        challenge_mean=float(challenge.mean()) if len(challenge) else None,
        difference=float(differences.mean()) if len(differences) else None,
        low=t.low,
        high=t.high,
        confidence=confidence,
        method=f"{unit}; exact sign-flip test, t interval",
        statistic=exact.statistic,
        pvalue=exact.pvalue,
        min_pvalue=exact.min_pvalue,
        pvalue_adjusted=None,
    )


def by_unit(differences: Floats, cycle: NDArray[np.int64], step: int | None) -> tuple[Floats, str]:
    """Return the differences by their proper unit: days, or cycles where there are enough."""
    cycles = np.unique(cycle)
    if step is None and len(cycles) >= CYCLES_AS_UNITS:
        means = np.array([differences[cycle == c].mean() for c in cycles])
        return means, "one difference per cycle"
    return differences, "pairs of distinct days"


def day_pairs(pairs: PairedDays, days: DayScores, column: int) -> tuple[DayPair, ...]:
    """Return the pairs on one symptom as plain values."""
    rows = []
    for i in range(len(pairs.step)):
        challenge, reference = pairs.challenge[i, column], pairs.reference[i, column]
        if np.isfinite(challenge) and np.isfinite(reference):
            rows.append(
                DayPair(
                    cycle=int(pairs.cycle[i]),
                    step=int(pairs.step[i]),
                    challenge_date=days.date(pairs.challenge_day[i]),
                    reference_date=days.date(pairs.reference_day[i]),
                    challenge_value=float(challenge),
                    reference_value=float(reference),
                )
            )
    return tuple(rows)
