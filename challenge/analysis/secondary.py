"""Secondary tests and views of one group: the primary symptom over all steps together.

They stand beside the paired test for readers who expect them, are adjusted for nothing and decide
nothing. What each assumes is said in its words.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.pairs import PairedDays
from challenge.analysis.result import SecondaryTest
from challenge.analysis.tests import Backdrop, by_unit, mean_of_units
from challenge.statistics.counting import MOST_STEPS
from challenge.statistics.equivalence import equivalence
from challenge.statistics.overlap import overlap
from challenge.statistics.serial import SerialT
from challenge.statistics.signed_rank import signed_rank
from challenge.statistics.student import TEstimate
from challenge.statistics.trend import page_trend
from challenge.statistics.two_sample import N_DRAWS, day_permutation, welch_t
from challenge.statistics.walsh import hodges_lehmann
from challenge.wording import Statement, statement

Floats = NDArray[np.float64]

_BLOCKS = 2
_UNRELIABLE_BELOW = 10
"""So few differences tell their correlation badly (Shadish and Sullivan 2011, from memory)."""
_FRACTIONS = 60
"""Day values are taken to the 60th of a point, so that every arrangement can be counted: exact for
means of up to six scores, and off by less than 0.01 points where a missing score was matched."""


def secondary_tests(
    pairs: PairedDays, backdrop: Backdrop, column: int, margin: float, confidence: float
) -> tuple[SecondaryTest, ...]:
    """Return the secondary tests that can be made of one symptom over all steps together.

    Parameters
    ----------
    column
        The symptom.
    margin
        Smallest rise that matters [points].
    confidence
        Of every interval; where only certain levels exist, the least.
    """
    differences, unit = _differences(pairs, column)
    t = mean_of_units(differences, confidence)
    found = (
        _days(backdrop, column, confidence),
        _ranks(differences, unit, confidence),
        _serial(t, unit),
        _equivalence(t, len(differences), margin),
        _page(pairs, column),
    )
    return tuple(test for test in found if test is not None)


def secondary_views(
    tests: tuple[SecondaryTest, ...], backdrop: Backdrop, column: int, symptom: str
) -> tuple[Statement, ...]:
    """Return what is told among the reasons: overlap of days, trend over the doses."""
    shared = _overlap(backdrop, column, symptom)
    trends = tuple(
        statement("trend", symptom=symptom, n=test.n, p=test.pvalue, least=test.min_pvalue)
        for test in tests
        if test.name == "page"
    )
    return trends if shared is None else (shared, *trends)


def _differences(pairs: PairedDays, column: int) -> tuple[Floats, str]:
    """Return the differences by their unit, as in the test that they stand beside."""
    differences = pairs.challenge[:, column] - pairs.reference[:, column]
    complete = np.isfinite(differences)
    return by_unit(differences[complete], pairs.cycle[complete], alike=pairs.alike)


def _days(backdrop: Backdrop, column: int, confidence: float) -> SecondaryTest | None:
    """Exchange the labels of challenge and reference days; Welch's interval beside it."""
    challenge, reference = (
        np.rint(values * _FRACTIONS) / _FRACTIONS for values in backdrop.days(column)
    )
    exchanged = day_permutation(reference, challenge)
    if exchanged.pvalue is None:
        return None
    t = welch_t(reference, challenge, confidence=confidence)
    code = "secondary-days" if exchanged.exact else "secondary-days-drawn"
    return SecondaryTest(
        name="day-permutation",
        method=statement(code, n=len(challenge), reference=len(reference), draws=N_DRAWS),
        n=len(challenge),
        estimate=exchanged.statistic,
        low=t.low,
        high=t.high,
        confidence=confidence if t.low is not None else None,
        statistic=exchanged.statistic,
        pvalue=exchanged.pvalue,
        min_pvalue=exchanged.min_pvalue,
    )


def _ranks(differences: Floats, unit: str, confidence: float) -> SecondaryTest | None:
    """Signed ranks, with the estimate and interval that belong to them."""
    if not 0 < len(differences) <= MOST_STEPS:
        return None
    ranks = signed_rank(differences, zeros="pratt")
    centre = hodges_lehmann(differences, confidence=confidence)
    return SecondaryTest(
        name="signed-rank",
        method=statement("secondary-ranks", unit=_unit(unit)),
        n=ranks.n,
        estimate=centre.estimate,
        low=centre.low,
        high=centre.high,
        confidence=centre.attained_confidence,
        statistic=ranks.statistic,
        pvalue=ranks.pvalue,
        min_pvalue=ranks.min_pvalue,
    )


def _serial(t: TEstimate, unit: str) -> SecondaryTest | None:
    """The t test behind the interval, where that allows for serial correlation."""
    if not isinstance(t, SerialT) or t.pvalue is None:
        return None
    code = "secondary-serial-few" if t.n < _UNRELIABLE_BELOW else "secondary-serial"
    return SecondaryTest(
        name="serial-t",
        method=statement(code, unit=_unit(unit), estimated=t.rho, used=t.rho_used),
        n=t.n,
        estimate=t.estimate,
        low=t.low,
        high=t.high,
        confidence=t.confidence,
        statistic=t.statistic,
        pvalue=t.pvalue,
        min_pvalue=None,
    )


def _equivalence(t: TEstimate, n: int, margin: float) -> SecondaryTest | None:
    """Two one-sided tests against the margin; the smaller distance from it is the statistic."""
    within = equivalence(t, -margin, margin)
    if within.statistic_low is None or within.statistic_high is None:
        return None
    return SecondaryTest(
        name="equivalence",
        method=statement("secondary-equivalence", margin=margin, below=within.pvalue_below),
        n=n,
        estimate=t.estimate,
        low=t.low,
        high=t.high,
        confidence=t.confidence,
        statistic=min(within.statistic_low, within.statistic_high, key=abs),
        pvalue=within.pvalue,
        min_pvalue=None,
    )


def _page(pairs: PairedDays, column: int) -> SecondaryTest | None:
    """Page's test over the cycles in which every step has a pair."""
    differences = pairs.challenge[:, column] - pairs.reference[:, column]
    steps = np.unique(pairs.step)
    blocks = []
    for cycle in np.unique(pairs.cycle):
        row = [
            differences[(pairs.cycle == cycle) & (pairs.step == step)].tolist() for step in steps
        ]
        if all(len(days) and np.isfinite(days).all() for days in row):
            blocks.append([float(np.mean(days)) for days in row])
    if len(blocks) < _BLOCKS or len(steps) < 2:
        return None
    page = page_trend(np.array(blocks))
    return SecondaryTest(
        name="page",
        method=statement("secondary-page", n=len(blocks)),
        n=len(blocks),
        estimate=None,
        low=None,
        high=None,
        confidence=None,
        statistic=page.statistic,
        pvalue=page.pvalue,
        min_pvalue=page.min_pvalue,
    )


def _unit(unit: str) -> Statement:
    return statement(f"unit-{unit}")


def _overlap(backdrop: Backdrop, column: int, symptom: str) -> Statement | None:
    """Non-overlap of all pairs (Parker and Vannest 2009)."""
    challenge, reference = backdrop.days(column)
    share = overlap(reference, challenge).nap
    if share is None:
        return None
    return statement("overlap", n=len(reference), symptom=symptom, share=share)
