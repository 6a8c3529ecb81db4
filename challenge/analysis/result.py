"""What an analysis says: frozen values, full precision, nothing rounded and nothing invented.

A number that could not be estimated is None. ``to_json`` gives the form of the contract
(``challenge analyse --json``); ``Analysis.tolerance`` and ``Analysis.tests`` give tables.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from challenge.terms import FodmapGroup, Outcome, Phase
from challenge.wording import Statement

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class TestResult:
    """One comparison of challenge with reference days.

    Attributes
    ----------
    symptom
        The symptom compared.
    step
        Dose step, or None for all steps of the group together.
    n_pairs, n_missing
        Pairs of days compared; challenge days lost for want of scores or of a reference day.
    baseline_mean, challenge_mean
        Means of the day values [points]; None without any.
    difference, low, high, confidence
        Challenge minus baseline [points] with its interval at that confidence level.
    method
        Name of the test and of the interval.
    statistic, pvalue, min_pvalue, pvalue_adjusted
        Test statistic, two-sided p, smallest p that this number of pairs can reach (None for a
        prediction t, which has no such floor), and p after
        Holm over the groups (only on the primary symptom with all steps together, else None).
    """

    symptom: str
    step: int | None
    n_pairs: int
    n_missing: int
    baseline_mean: float | None
    challenge_mean: float | None
    difference: float | None
    low: float | None
    high: float | None
    confidence: float
    method: Statement
    statistic: float | None
    pvalue: float | None
    min_pvalue: float | None
    pvalue_adjusted: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SecondaryTest:
    """A further test of the primary symptom over all steps: adjusted for nothing, decides nothing.

    Attributes
    ----------
    name
        ``day-permutation``, ``signed-rank``, ``serial-t``, ``equivalence`` or ``page``.
    method
        What was compared, how, and what that assumes.
    n
        Challenge days, pairs of days or cycles that were counted.
    estimate, low, high, confidence
        Challenge minus reference [points] with its interval and the confidence that this has; None
        where the test estimates nothing or so few cannot give an interval.
    statistic, pvalue, min_pvalue
        Test statistic, p (two-sided but for ``equivalence`` and ``page``), and the smallest p that
        these numbers can reach (None for the t tests, which have no such floor).
    """

    name: str
    method: Statement
    n: int
    estimate: float | None
    low: float | None
    high: float | None
    confidence: float | None
    statistic: float | None
    pvalue: float | None
    min_pvalue: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class DayPair:
    """A challenge day and the reference day it is compared with, on the primary symptom."""

    cycle: int
    step: int
    challenge_date: dt.date
    reference_date: dt.date
    challenge_value: float
    reference_value: float


@dataclass(frozen=True, kw_only=True, slots=True)
class DayLeftOut:
    """A day that could not be used, and why."""

    date: dt.date
    reason: Statement


@dataclass(frozen=True, kw_only=True, slots=True)
class Dose:
    """One challenge dose as planned and as eaten.

    ``eaten_g`` is None when the day is planned but nothing was logged as eaten.
    """

    date: dt.date
    cycle: int
    step: int
    food: str
    planned_g: float | None
    eaten_g: float | None
    portion_g: float | None
    time: dt.datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class StepResult:
    """What the model says of one dose step.

    Attributes
    ----------
    step, fodmap_g
        The step and its grams.
    n_days
        Days on which it was eaten.
    rise, low, high
        Expected rise of the most affected symptom over the 24 h in which the dose acts, and its
        credible interval at the analysis' confidence level [points].
    p_over_margin
        Probability that the rise is at least the margin.
    """

    step: int
    fodmap_g: float
    n_days: int
    rise: float | None
    low: float | None
    high: float | None
    p_over_margin: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class EarlyStop:
    """A challenge that ended before its last step, because of symptoms as far as can be told."""

    cycle: int
    date: dt.date
    step: int
    words: Statement


@dataclass(frozen=True, kw_only=True, slots=True)
class Sensitivity:
    """The same question answered under one changed assumption.

    Those named after priors or a margin are the suggestion itself; the others are the three-way
    verdict of the paired comparison on the primary symptom, which names no step.
    """

    name: Statement
    outcome: Outcome
    suggested_step: int | None
    difference: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class GroupResult:
    """Everything about one group.

    Attributes
    ----------
    outcome
        ``tolerated``, ``reacted`` or ``unclear``, of the dose range tested as a whole.
    suggested_step, suggested_g
        Highest step tolerated and its grams; 0 when not even the lowest; None when unclear.
    probability
        Of each step (from 0) being the highest tolerated; sums to 1.
    p_reaction
        Probability of a rise of at least the margin at some tested step.
    reasons, next
        What speaks for it, most important first; what would settle it.
    why_unclear
        Why no step is suggested; empty unless unclear. Also among the reasons.
    double_margin
        The same suggestion at twice the margin.
    secondary_tests
        Further tests of the primary symptom over all steps together.
    """

    fodmap_group: FodmapGroup
    outcome: Outcome
    suggested_step: int | None
    suggested_g: float | None
    probability: Mapping[int, float]
    p_reaction: float | None
    reasons: tuple[Statement, ...]
    next: Statement
    steps: tuple[StepResult, ...]
    tests: tuple[TestResult, ...]
    pairs: tuple[DayPair, ...]
    doses: tuple[Dose, ...]
    days_left_out: tuple[DayLeftOut, ...]
    why_unclear: tuple[Statement, ...] = ()
    stops: tuple[EarlyStop, ...] = ()
    sensitivity: tuple[Sensitivity, ...] = ()
    double_margin: Sensitivity | None = None
    secondary_tests: tuple[SecondaryTest, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class BlindedResult:
    """A blinded challenge that was opened.

    Attributes
    ----------
    fodmap_group, control
        What was compared.
    letters, holding
        Periods in order, and those that held the group.
    block, n_orders
        Periods in a block of the draw; orders that could have been drawn.
    drawn_on, fixed_at, opened_at
        When the order was drawn, the analysis fixed and the key shown.
    ended_early
        Why it ended before its last sachet; empty if it did not.
    as_fixed
        Whether settings and values are those that were fixed before the opening.
    test, tests
        The randomisation test on the symptom that was fixed, and on every symptom; ``baseline``
        and ``reference`` are the control's periods.
    """

    fodmap_group: FodmapGroup
    control: FodmapGroup
    letters: tuple[str, ...]
    holding: tuple[str, ...]
    block: int
    n_orders: int
    drawn_on: dt.date
    fixed_at: dt.datetime
    opened_at: dt.datetime
    ended_early: str
    as_fixed: bool
    test: TestResult
    tests: tuple[TestResult, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class DayValue:
    """One day as the analysis saw it: the slot-matched mean of each symptom, and what marks it."""

    date: dt.date
    phase: Phase | None
    fodmap_group: FodmapGroup | None
    step: int | None
    cycle: int | None
    n_scores: int
    values: Mapping[str, float]
    marks: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Drift:
    """How the primary symptom moved over the reference days; nothing is decided by it.

    Attributes
    ----------
    n_days
        Reference days with a value.
    slope, low, high, confidence
        Change [points per week] with its interval at that confidence level.
    correlation
        Of one reference day with the next, about the slope, corrected for the bias of short series.
    words
        The same as a sentence.
    """

    n_days: int
    slope: float
    low: float
    high: float
    confidence: float
    correlation: float | None
    words: Statement


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """The result of analysing one diary against its plan.

    Attributes
    ----------
    client
        Client code.
    settings
        The settings that decided anything, as plain values.
    primary_symptom
        The symptom on which tests are adjusted and pairs are shown.
    groups
        One result per group challenged (the glucose control included, as ``glucose``).
    days
        Every day of plan and diary as analysed.
    completeness
        Share of the expected scores that were given, 0 to 1, per phase and as ``all``.
    cautions
        What stands above every result (no screening on record, model does not fit ...).
    blinded
        Blinded challenges that were opened, oldest first.
    drift
        How the usual level moved; None with too few reference days.
    """

    client: str
    settings: Mapping[str, Any]
    primary_symptom: str
    groups: tuple[GroupResult, ...]
    days: tuple[DayValue, ...] = field(repr=False)
    completeness: Mapping[str, float]
    cautions: tuple[Statement, ...]
    blinded: tuple[BlindedResult, ...] = ()
    drift: Drift | None = None

    def group(self, fodmap_group: str) -> GroupResult:
        """Return the result of one group.

        Raises
        ------
        KeyError
            If that group was not challenged.
        """
        for result in self.groups:
            if result.fodmap_group == fodmap_group:
                return result
        raise KeyError(fodmap_group)

    @cached_property
    def tolerance(self) -> pd.DataFrame:
        """One row per group: outcome, suggested step and grams, probability of each step."""
        import pandas as pd

        top = max((step for g in self.groups for step in g.probability), default=0)
        rows = [
            {
                "fodmap_group": g.fodmap_group,
                "outcome": g.outcome,
                "suggested_step": g.suggested_step,
                "suggested_g": g.suggested_g,
                "p_reaction": g.p_reaction,
                **{f"p{step}": g.probability.get(step) for step in range(top + 1)},
                "next": str(g.next),
            }
            for g in self.groups
        ]
        return pd.DataFrame(rows)

    @cached_property
    def tests(self) -> pd.DataFrame:
        """One row per group x step x symptom."""
        import pandas as pd

        rows = [
            {"fodmap_group": g.fodmap_group, **_fields(test), "method": str(test.method)}
            for g in self.groups
            for test in g.tests
        ]
        return pd.DataFrame(rows)

    def to_json(self) -> dict[str, Any]:
        """Return the contract's form: plain values, dates as ISO text, None where unknown."""
        return {
            "schema": SCHEMA,
            "client": self.client,
            "settings": dict(self.settings),
            "primary_symptom": self.primary_symptom,
            "completeness": dict(self.completeness),
            "cautions": [str(caution) for caution in self.cautions],
            "groups": [_group_json(g) for g in self.groups],
            "blinded": [_plain(trial) for trial in self.blinded],
            "drift": _plain(self.drift),
        }


def _fields(value: Any) -> dict[str, Any]:
    return {name: getattr(value, name) for name in value.__dataclass_fields__}


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Statement):
        return str(value)
    if hasattr(value, "__dataclass_fields__"):
        return {name: _plain(item) for name, item in _fields(value).items()}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    return value


def _group_json(group: GroupResult) -> dict[str, Any]:
    # why it is unclear as data: for programs, which should not have to read sentences
    return {
        name: [why.as_data() for why in value] if name == "why_unclear" else _plain(value)
        for name, value in _fields(group).items()
    }
