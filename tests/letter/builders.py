"""Invented results for tests of figures and letters: few words, sensible defaults, seeded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from challenge.analysis.result import (
    Analysis,
    DayLeftOut,
    DayPair,
    DayValue,
    Dose,
    EarlyStop,
    GroupResult,
    Sensitivity,
    StepResult,
    TestResult,
)
from challenge.terms import SYMPTOMS, FodmapGroup, Outcome
from challenge.wording import Statement, statement

START = dt.date(2026, 3, 2)
DAY = dt.timedelta(days=1)

FOODS: dict[str, tuple[str, tuple[float, ...], tuple[float, ...]]] = {
    "fructans": ("garlic", (3, 6, 9), (0.5, 1.0, 1.5)),
    "fructose": ("fructose powder in water", (2.5, 5, 10), (2.5, 5, 10)),
    "lactose": ("milk", (60, 125, 250), (3, 6, 12)),
    "gos": ("canned chickpeas", (40, 80, 160), (0.2, 0.4, 0.8)),
    "sorbitol": ("sorbitol powder", (2, 4, 6), (2, 4, 6)),
    "mannitol": ("button mushrooms", (40, 80, 150), (0.5, 1, 2)),
    "glucose": ("glucose powder in water", (2.5, 5, 10), (2.5, 5, 10)),
}


@dataclass(frozen=True)
class Told:
    """What the invented analysis says of one group."""

    group: FodmapGroup
    outcome: Outcome = "tolerated"
    step: int | None = 3
    rises: tuple[float, ...] = (0.1, 0.2, 0.4)
    stopped_at: int | None = None
    missing: tuple[int, ...] = ()
    why: str = "spread"


TYPICAL = (
    Told("fructans", "reacted", 1, (0.3, 1.6, 2.9)),
    Told("fructose", "tolerated", 3),
    Told("lactose", "reacted", 0, (1.5, 3.1), stopped_at=2),
    Told("gos", "unclear", None, (0.2, 0.9, 1.2), missing=(2,)),
    Told("sorbitol", "tolerated", 3, (0.0, -0.2, 0.3)),
    Told("mannitol", "tolerated", 2, (0.1, 0.5, 1.4)),
    Told("glucose", "tolerated", 3, (0.0, 0.1, 0.1)),
)
ALL_UNCLEAR = tuple(
    Told(g, "unclear", None, (0.4, 0.8, 1.1), missing=(1, 3))
    for g in ("fructans", "fructose", "lactose", "gos", "sorbitol", "mannitol")
)


EACH_REASON = tuple(
    Told(g, "unclear", None, why=why)
    for g, why in zip(
        ("fructans", "fructose", "lactose", "gos", "sorbitol", "mannitol"),
        ("few-scores", "decisive-day-left-out", "unsettled", "only-up-to", "spread",
         "prior-sensitive"),
        strict=True,
    )
)  # fmt: skip


def make_analysis(
    told: Sequence[Told] = TYPICAL,
    *,
    client: str = "juniper",
    cycles: int = 1,
    baseline: int = 7,
    washout: int = 3,
    start: dt.date = START,
    seed: int = 1,
    cautions: Sequence[Statement] = (),
    rest: int = 0,
) -> Analysis:
    """Lay baseline, challenges and washouts on dates and invent day values with noise."""
    rng = np.random.default_rng(seed)
    days: list[DayValue] = []
    eaten: dict[str, list[Dose]] = {t.group: [] for t in told}
    stops: dict[str, list[EarlyStop]] = {t.group: [] for t in told}
    today = start

    def add(
        phase: str, group: str | None, step: int | None, cycle: int | None, rise: float
    ) -> None:
        nonlocal today
        values = {
            symptom: float(np.clip(round(3 * (2.0 + rise + rng.normal(0, 0.8))) / 3, 0, 10))
            for symptom in SYMPTOMS
        }
        marks = ("alcohol",) if rng.random() < 0.04 else ()
        days.append(
            DayValue(
                date=today, phase=phase, fodmap_group=group, step=step, cycle=cycle,
                n_scores=15, values=values, marks=marks,
            )
        )  # fmt: skip
        today += DAY

    for _ in range(baseline):
        add("baseline", None, None, None, 0)
    for _ in range(rest):
        add("rest", None, None, None, 0)
    for cycle in range(1, cycles + 1):
        for t in told:
            food, portions, grams = FOODS[t.group]
            for step in range(1, 4):
                if t.stopped_at is not None and step > t.stopped_at:
                    break
                missed = step in t.missing
                eaten[t.group].append(
                    Dose(
                        date=today, cycle=cycle, step=step, food=food,
                        planned_g=grams[step - 1], eaten_g=None if missed else grams[step - 1],
                        portion_g=portions[step - 1],
                        time=None if missed else dt.datetime.combine(today, dt.time(8, 15)),
                    )
                )  # fmt: skip
                if step == t.stopped_at:
                    stops[t.group].append(
                        EarlyStop(
                            cycle=cycle, date=today, step=step,
                            words=statement(
                                "ended-early", step=step, day=today, symptom="pain", rise=2.5
                            ),
                        )
                    )  # fmt: skip
                add("challenge", t.group, step, cycle, 0 if missed else t.rises[step - 1])
            for _ in range(washout):
                add("washout", t.group, None, None, 0)
    return Analysis(
        client=client,
        settings={"margin": 1.0, "confidence": 0.9, "seed": 20260301, "symptoms": list(SYMPTOMS)},
        primary_symptom="pain",
        groups=tuple(_group(t, days, eaten[t.group], stops[t.group], rng) for t in told),
        days=tuple(days),
        completeness={"baseline": 1.0, "challenge": 0.94, "washout": 0.9, "all": 0.93},
        cautions=tuple(cautions),
    )


def empty_analysis(client: str = "empty") -> Analysis:
    """Return an analysis in which nothing was challenged and nothing scored."""
    return Analysis(
        client=client,
        settings={"margin": 1.0, "confidence": 0.9, "seed": 20260301, "symptoms": list(SYMPTOMS)},
        primary_symptom="pain",
        groups=(),
        days=(),
        completeness={},
        cautions=(statement("no-screening"),),
    )


def _group(
    t: Told,
    days: Sequence[DayValue],
    doses: Sequence[Dose],
    stops: Sequence[EarlyStop],
    rng: np.random.Generator,
) -> GroupResult:
    reference = [d for d in days if d.phase == "baseline"]
    own = [d for d in days if d.phase == "challenge" and d.fodmap_group == t.group]
    left = tuple(
        DayLeftOut(date=d.date, reason=statement("dose-not-eaten"))
        for d in own
        if d.step in t.missing
    )
    used = [d for d in own if d.step not in t.missing]
    pairs = tuple(
        DayPair(
            cycle=d.cycle or 1, step=d.step or 1, challenge_date=d.date, reference_date=r.date,
            challenge_value=d.values["pain"], reference_value=r.values["pain"],
        )
        for d, r in zip(used, reference * 40, strict=False)
    )  # fmt: skip
    _, _, grams = FOODS[t.group]
    steps = []
    for step in range(1, 4):
        n = sum(d.step == step for d in used)
        rise = t.rises[step - 1] if n and step <= len(t.rises) else None
        half = 0.9 / max(n, 1) ** 0.5
        steps.append(
            StepResult(
                step=step, fodmap_g=grams[step - 1], n_days=n, rise=rise,
                low=None if rise is None else rise - half,
                high=None if rise is None else rise + half,
                p_over_margin=None if rise is None else min(max(rise / 2, 0.01), 0.99),
            )
        )  # fmt: skip
    raw = rng.dirichlet(np.ones(4))
    if t.step is not None:
        raw = 0.25 * raw
        raw[t.step] += 0.75
    sensitivity = tuple(
        Sensitivity(
            name=statement(code),
            outcome=t.outcome,
            suggested_step=t.step,
            difference=0.4,
            low=-0.3,
            high=1.1,
        )
        for code in ("marked-days-out", "pooled")
    )
    return GroupResult(
        fodmap_group=t.group,
        outcome=t.outcome,
        suggested_step=t.step,
        suggested_g=None if t.step is None else ((0.0, *grams)[t.step]),
        probability={k: float(p) for k, p in enumerate(raw)},
        p_reaction=0.2,
        reasons=(statement("one-challenge"),),
        why_unclear=(statement(t.why),) if t.outcome == "unclear" else (),
        next=statement("next-enough" if t.outcome == "tolerated" else "next-whole"),
        steps=tuple(steps),
        tests=_tests(pairs, len(own)),
        pairs=pairs,
        doses=tuple(doses),
        days_left_out=left,
        stops=tuple(stops),
        sensitivity=sensitivity,
        double_margin=sensitivity[0],
    )


def _tests(pairs: Sequence[DayPair], n_days: int) -> tuple[TestResult, ...]:
    out = []
    for step in (None, 1, 2, 3):
        some = [p for p in pairs if step is None or p.step == step]
        n = len(some)
        challenge = fmean(p.challenge_value for p in some) if n else None
        base = fmean(p.reference_value for p in some) if n else None
        difference = challenge - base if challenge is not None and base is not None else None
        out.append(
            TestResult(
                symptom="pain", step=step, n_pairs=n,
                n_missing=(n_days - n) if step is None else 0,
                baseline_mean=base, challenge_mean=challenge, difference=difference,
                low=None if difference is None else difference - 1.2345,
                high=None if difference is None else difference + 1.2345,
                confidence=0.90, method=statement("method-pairs"),
                statistic=difference, pvalue=None if n == 0 else 0.25,
                min_pvalue=None if n == 0 else 2 / 2**n,
                pvalue_adjusted=1.0 if step is None and n else None,
            )
        )  # fmt: skip
    return tuple(out)
