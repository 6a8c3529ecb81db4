"""The tests of one group: estimate and interval first, exact p-value second.

All steps together are tested on pairs of distinct days, or on one difference per cycle from three
cycles on. The interval allows for serial correlation from four differences on. A step eaten once
has a single pair, which no paired test can judge; it is set against all reference days instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores, window_values
from challenge.analysis.pairs import PairedDays, dose_hour
from challenge.analysis.result import DayPair, Dose, TestResult
from challenge.statistics.paired_t import paired_t
from challenge.statistics.serial import serial_level
from challenge.statistics.sign_flip import sign_flip
from challenge.statistics.two_sample import single_day
from challenge.wording import statement

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CYCLES_AS_UNITS = 3
"""From so many cycles on, the cycle is the unit: one difference per cycle."""
SERIAL_FROM = 4
"""Fewer differences tell nothing of their correlation."""


@dataclass(frozen=True, kw_only=True)
class Backdrop:
    """Each challenge day of one group that has a pair, and every reference day, in one measure.

    Attributes
    ----------
    challenge
        (n, symptoms) slot-matched values of the 24 h after each dose [points].
    reference
        (n, r, symptoms) the same of every reference day, from the same clock time on.
    """

    challenge: Floats
    reference: Floats


def build_backdrop(
    days: DayScores,
    levels: Floats,
    pairs: PairedDays,
    doses: tuple[Dose, ...],
    references: list[int],
) -> Backdrop:
    """Measure challenge and reference days alike."""
    hours = {days.number(dose.date): dose_hour(dose) for dose in doses}
    cache: dict[tuple[bool, ...], Floats] = {}
    challenge, reference = [], []
    for day in pairs.challenge_day:
        hour = hours[int(day)]
        key = tuple(bool(start <= hour) for start in days.slot_hours)
        if key not in cache:
            cache[key] = window_values(days, levels, hour)
        challenge.append(cache[key][day])
        reference.append(cache[key][references])
    k = len(days.symptoms)
    return Backdrop(
        challenge=np.array(challenge).reshape(len(challenge), k),
        reference=np.array(reference).reshape(len(reference), len(references), k),
    )


def group_tests(
    pairs: PairedDays,
    symptoms: tuple[str, ...],
    steps: tuple[int, ...],
    confidence: float,
    backdrop: Backdrop | None = None,
) -> tuple[TestResult, ...]:
    """Compare challenge with reference days: per symptom over all steps, then step by step."""
    results = []
    for column, symptom in enumerate(symptoms):
        results.append(overall_test(pairs, symptom, column, confidence))
        for step in steps:
            rows = pairs.step == step
            alone = None
            if backdrop is not None and rows.sum() == 1:
                alone = _single(pairs, backdrop, symptom, step, column, confidence)
            results.append(alone or _compare(pairs, symptom, step, rows, column, confidence))
    return tuple(results)


def overall_test(pairs: PairedDays, symptom: str, column: int, confidence: float) -> TestResult:
    """Compare all steps of the group together on one symptom."""
    return _compare(pairs, symptom, None, np.ones(len(pairs.step), bool), column, confidence)


def _compare(
    pairs: PairedDays,
    symptom: str,
    step: int | None,
    rows: Bools,
    column: int,
    confidence: float,
) -> TestResult:
    challenge, reference = pairs.challenge[rows, column], pairs.reference[rows, column]
    complete = np.isfinite(challenge) & np.isfinite(reference)
    challenge, reference = challenge[complete], reference[complete]
    differences, unit = by_unit(challenge - reference, pairs.cycle[rows][complete], step)
    serial = len(differences) >= SERIAL_FROM
    t = (serial_level if serial else paired_t)(differences, confidence=confidence)
    exact = sign_flip(differences)
    return TestResult(
        symptom=symptom,
        step=step,
        n_pairs=int(complete.sum()),
        n_missing=int((~complete).sum()) + (pairs.n_missing if step is None else 0),
        baseline_mean=float(reference.mean()) if len(reference) else None,
        challenge_mean=float(challenge.mean()) if len(challenge) else None,
        difference=float(differences.mean()) if len(differences) else None,
        low=t.low,
        high=t.high,
        confidence=confidence,
        method=statement(f"method-{unit}-serial" if serial else f"method-{unit}"),
        statistic=exact.statistic,
        pvalue=exact.pvalue,
        min_pvalue=exact.min_pvalue,
        pvalue_adjusted=None,
    )


def _single(
    pairs: PairedDays,
    backdrop: Backdrop,
    symptom: str,
    step: int,
    column: int,
    confidence: float,
) -> TestResult | None:
    """Ask whether the only day of a step is unusual; None when that cannot be asked."""
    row = int(np.flatnonzero(pairs.step == step)[0])
    value = float(backdrop.challenge[row, column])
    reference = backdrop.reference[row, :, column]
    reference = reference[np.isfinite(reference)]
    if not np.isfinite(value) or not np.isfinite(pairs.challenge[row, column]):
        return None
    t = single_day(reference, value, confidence=confidence)
    if t.low is None:
        return None
    return TestResult(
        symptom=symptom,
        step=step,
        n_pairs=1,
        n_missing=0,
        baseline_mean=float(reference.mean()),
        challenge_mean=value,
        difference=t.estimate,
        low=t.low,
        high=t.high,
        confidence=confidence,
        method=statement("method-one-day"),
        statistic=t.statistic,
        pvalue=t.pvalue,
        min_pvalue=None,
        pvalue_adjusted=None,
    )


def by_unit(differences: Floats, cycle: NDArray[np.int64], step: int | None) -> tuple[Floats, str]:
    """Return the differences by their proper unit: days, or cycles where there are enough."""
    cycles = np.unique(cycle)
    if step is None and len(cycles) >= CYCLES_AS_UNITS:
        means = np.array([differences[cycle == c].mean() for c in cycles])
        return means, "cycles"
    return differences, "pairs"


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
