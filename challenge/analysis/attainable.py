"""The smallest p-value that a plan's tests can reach, whatever the diary will say.

Counted from the plan by the rule of the pairs, for a diary without gaps in which every dose is
eaten as planned; gaps make it larger. The floor of the sign-flip test is exact: of ``2**n`` sign
patterns two are the most extreme.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from challenge.analysis.pairs import SETTLED_AFTER_DAYS, steps_alike
from challenge.analysis.tests import CYCLES_AS_UNITS
from challenge.protocol.plan import Plan
from challenge.statistics.multiplicity import holm
from challenge.statistics.sign_flip import floor_pvalue
from challenge.terms import CONTROL, FodmapGroup


@dataclass(frozen=True, kw_only=True, slots=True)
class Attainable:
    """What the tests of one group can reach at best.

    Attributes
    ----------
    fodmap_group
        The group.
    n_pairs, n_cycles
        Pairs of challenge and reference days; cycles in which there are any.
    unit
        ``pairs of days`` or ``cycles``: what the test of all steps together counts.
    pvalue, pvalue_adjusted
        Smallest p of that test, and the same adjusted over the groups (Holm); None without pairs.
    steps
        Step -> smallest p of the test of that step alone; None where the step is eaten on a single
        day, which no exact test can judge.
    """

    fodmap_group: FodmapGroup
    n_pairs: int
    n_cycles: int
    unit: str
    pvalue: float | None
    pvalue_adjusted: float | None
    steps: Mapping[int, float | None]


def smallest_pvalues(plan: Plan) -> tuple[Attainable, ...]:
    """Return the smallest p-values of every group of a plan, in its order."""
    groups = plan.groups()
    n_family = sum(group != CONTROL for group in groups)
    return tuple(_of_group(plan, group, n_family) for group in groups)


def _of_group(plan: Plan, group: FodmapGroup, n_family: int) -> Attainable:
    steps = _paired_steps(plan, group)
    n_pairs = sum(len(of_cycle) for of_cycle in steps)
    n_cycles = sum(bool(of_cycle) for of_cycle in steps)
    alike = steps_alike(
        (day.cycle or 1, day.step or 1)
        for day in plan
        if day.phase == "challenge" and day.fodmap_group == group
    )
    by_cycle = alike and n_cycles >= CYCLES_AS_UNITS
    n_units = n_cycles if by_cycle else n_pairs
    smallest = floor_pvalue(n_units) if n_units else None
    others = [1.0] * (n_family - 1)
    together = [step for of_cycle in steps for step in of_cycle]
    return Attainable(
        fodmap_group=group,
        n_pairs=n_pairs,
        n_cycles=n_cycles,
        unit="cycles" if by_cycle else "pairs of days",
        pvalue=smallest,
        pvalue_adjusted=None if group == CONTROL else holm([smallest, *others])[0],
        steps={
            step: floor_pvalue(together.count(step)) if together.count(step) > 1 else None
            for step in plan.steps(group)
        },
    )


def _paired_steps(plan: Plan, group: FodmapGroup) -> list[list[int]]:
    """Steps that get a pair, per cycle: each reference day serves once, and only those before."""
    free = _reference_days(plan)
    courses: dict[int, list[tuple[dt.date, int]]] = {}
    for day in plan:
        if day.phase == "challenge" and day.fodmap_group == group:
            courses.setdefault(day.cycle or 1, []).append((day.date, day.step or 1))
    paired = []
    for _, doses in sorted(courses.items()):
        before = [date for date in free if date < doses[0][0]]
        used = before[::-1][: len(doses)]
        free = [date for date in free if date not in used]
        paired.append([step for _, step in doses[: len(used)]])
    return paired


def _reference_days(plan: Plan) -> list[dt.date]:
    """Baseline days, and washout days from the second after the last dose on."""
    found = []
    last: dt.date | None = None
    for day in plan:
        if day.phase == "challenge":
            last = day.date
        elif day.phase in ("baseline", "washout") and (
            last is None or (day.date - last).days >= SETTLED_AFTER_DAYS
        ):
            found.append(day.date)
    return found
