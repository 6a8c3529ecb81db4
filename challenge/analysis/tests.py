"""The tests of one group: estimate and interval first, exact p-value second.

All steps together are tested on pairs of distinct days, or on one difference per cycle from three
cycles on; where the order of group and control was drawn at random and stored, on the periods of
that draw against every order that could have been drawn. The interval allows for serial correlation
from four differences on. A step eaten once has a single pair, which no paired test can judge; it is
set against all reference days instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores, window_values
from challenge.analysis.pairs import PairedDays, dose_hour
from challenge.analysis.result import DayPair, Dose, TestResult
from challenge.statistics.paired_t import PairedT, paired_t
from challenge.statistics.randomisation import block_assignments, randomisation_test
from challenge.statistics.serial import SerialT, serial_level
from challenge.statistics.sign_flip import sign_flip
from challenge.statistics.student import TEstimate
from challenge.statistics.two_sample import pooled_t, single_day
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

    def days(self, column: int) -> tuple[Floats, Floats]:
        """Challenge days, and reference days measured from the time of the first dose on."""
        challenge = self.challenge[:, column]
        seen = np.isfinite(challenge)
        if not seen.any():
            return np.empty(0), np.empty(0)
        reference = self.reference[int(np.flatnonzero(seen)[0]), :, column]
        return challenge[seen], reference[np.isfinite(reference)]


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


def randomised_tests(
    values: Floats,
    treated: Bools,
    block: int,
    symptoms: tuple[str, ...],
    confidence: float,
) -> tuple[TestResult, ...]:
    """Test each symptom by the draw itself: group periods against control periods.

    A period without a value is left out of the sums and of every order alike, which keeps the
    test exact as long as what is missing does not depend on what was in the sachet. The interval
    rests on one difference per block, or on the periods where there is only one block.

    Parameters
    ----------
    values
        (periods, symptoms) one value per period [points], NaN where there is none.
    treated
        (periods,) the order that was drawn: True where a period held the group.
    block
        Periods in a block of the draw.
    """
    orders = block_assignments(len(treated), block)
    return tuple(
        _randomised(values[:, column], treated, orders, block, symptom, confidence)
        for column, symptom in enumerate(symptoms)
    )


def with_randomised(
    tests: tuple[TestResult, ...], randomised: tuple[TestResult, ...]
) -> tuple[TestResult, ...]:
    """Put tests by the draw in the place of paired ones of all steps together."""
    drawn = {test.symptom: test for test in randomised}
    return tuple(drawn.get(t.symptom, t) if t.step is None else t for t in tests)


def _randomised(
    values: Floats,
    treated: Bools,
    orders: Bools,
    block: int,
    symptom: str,
    confidence: float,
) -> TestResult:
    seen = np.isfinite(values)
    given, held, possible = values[seen], treated[seen], orders[:, seen]
    group, control = given[held], given[~held]
    sums = possible.sum(axis=1)
    testable = len(given) > 0 and not ((sums == 0) | (sums == len(given))).any()
    exact = randomisation_test(given, held, possible) if testable else None
    t = _over_blocks(values, treated, block, confidence)
    return TestResult(
        symptom=symptom,
        step=None,
        n_pairs=min(len(group), len(control)),
        n_missing=int((~seen).sum()),
        baseline_mean=float(control.mean()) if len(control) else None,
        challenge_mean=float(group.mean()) if len(group) else None,
        difference=float(group.mean() - control.mean()) if len(group) and len(control) else None,
        low=t.low,
        high=t.high,
        confidence=confidence,
        method=statement("method-randomisation", orders=len(orders)),
        statistic=exact.statistic if exact else None,
        pvalue=exact.pvalue if exact else None,
        min_pvalue=exact.min_pvalue if exact else None,
        pvalue_adjusted=None,
    )


def _over_blocks(values: Floats, treated: Bools, block: int, confidence: float) -> TEstimate:
    """The t interval of one difference per block; of the periods themselves in a single block."""
    if len(values) == block:
        seen = np.isfinite(values)
        return pooled_t(values[~treated & seen], values[treated & seen], confidence=confidence)
    differences = []
    for start in range(0, len(values), block):
        part, held = values[start : start + block], treated[start : start + block]
        group, control = part[held & np.isfinite(part)], part[~held & np.isfinite(part)]
        if len(group) and len(control):
            differences.append(group.mean() - control.mean())
    return paired_t(differences, confidence=confidence)


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
    differences, unit = by_unit(
        challenge - reference, pairs.cycle[rows][complete], alike=pairs.alike and step is None
    )
    t = mean_of_units(differences, confidence)
    serial = isinstance(t, SerialT)
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


def mean_of_units(differences: Floats, confidence: float) -> PairedT | SerialT:
    """Estimate the mean difference, allowing for serial correlation where it can be estimated."""
    estimate = serial_level if len(differences) >= SERIAL_FROM else paired_t
    return estimate(differences, confidence=confidence)


def by_unit(differences: Floats, cycle: NDArray[np.int64], *, alike: bool) -> tuple[Floats, str]:
    """Return the differences by their proper unit: days, or cycles if alike and enough of them."""
    cycles = np.unique(cycle)
    if alike and len(cycles) >= CYCLES_AS_UNITS:
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
