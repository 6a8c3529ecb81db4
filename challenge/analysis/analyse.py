"""The whole analysis of one client: diary and plan in, one `Analysis` out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from challenge.analysis.blinded import OpenedTrial, blinded_result
from challenge.analysis.days import completeness
from challenge.analysis.drift import reference_drift
from challenge.analysis.evidence import SEALED, Evidence, day_records, gather
from challenge.analysis.group import group_result
from challenge.analysis.result import Analysis, GroupResult
from challenge.diary.model import Diary
from challenge.model.fit_check import check_fit
from challenge.protocol.plan import Plan
from challenge.protocol.settings import Settings
from challenge.statistics.multiplicity import holm
from challenge.terms import CONTROL
from challenge.wording import Statement, statement


def analyse(
    diary: Diary,
    plan: Plan,
    settings: Settings | None = None,
    opened: Sequence[OpenedTrial] = (),
) -> Analysis:
    """Analyse a diary against its plan.

    Parameters
    ----------
    diary, plan
        As read from a client folder.
    settings
        As read from client.toml; defaults otherwise.
    opened
        Blinded challenges whose order is known, oldest first.

    Returns
    -------
    Analysis
        One result per group challenged, in the order of the plan.

    Raises
    ------
    ChallengeError
        If the plan has no challenge day or the diary no score within the plan.
    """
    settings = settings if settings is not None else Settings()
    evidence = gather(diary, plan, settings)
    symptoms = evidence.days.symptoms
    blinded = tuple(blinded_result(diary, plan, settings, trial) for trial in opened)
    latest = {result.fodmap_group: result for result in blinded}
    results = [group_result(evidence, group, latest.get(group)) for group in plan.groups()]
    return Analysis(
        client=diary.client or settings.client,
        settings={
            "margin": settings.analysis.margin,
            "confidence": settings.analysis.confidence,
            "seed": settings.analysis.seed,
            "symptoms": list(symptoms),
        },
        primary_symptom=symptoms[evidence.primary],
        groups=_adjusted(results, symptoms[evidence.primary]),
        days=day_records(evidence),
        completeness=completeness(evidence.days, settings.diary.ratings_per_day),
        cautions=_cautions(evidence),
        blinded=blinded,
        drift=reference_drift(evidence),
    )


def _adjusted(results: list[GroupResult], primary: str) -> tuple[GroupResult, ...]:
    """Adjust the p-values of the primary symptom over the six groups by Holm's method."""
    family = [result for result in results if result.fodmap_group != CONTROL]
    raw = [
        next(t.pvalue for t in result.tests if t.symptom == primary and t.step is None)
        for result in family
    ]
    adjusted = dict(zip((result.fodmap_group for result in family), holm(raw), strict=True))
    return tuple(
        replace(
            result,
            tests=tuple(
                replace(test, pvalue_adjusted=adjusted.get(result.fodmap_group))
                if test.symptom == primary and test.step is None
                else test
                for test in result.tests
            ),
        )
        for result in results
    )


def _cautions(evidence: Evidence) -> tuple[Statement, ...]:
    """Return what stands above every result."""
    found = []
    if SEALED in evidence.excluded.values():
        found.append(statement("blinded-sealed"))
    if evidence.settings.screening.asked_on is None:
        found.append(statement("no-screening"))
    checks = check_fit(
        evidence.fit,
        evidence.sessions.scores[evidence.fit.used],
        evidence.priors,
        evidence.settings.analysis.seed,
    )
    found += [
        statement(
            "misfit",
            property=statement(f"fit-{check.name}"),
            observed=check.observed,
            low=check.low,
            high=check.high,
        )
        for check in checks
        if not check.fits
    ]
    if CONTROL not in evidence.doses:
        found.append(statement("no-control"))
    found.append(statement("dose-or-day"))
    return tuple(found)
