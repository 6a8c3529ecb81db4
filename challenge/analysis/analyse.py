"""The whole analysis of one client: diary and plan in, one `Analysis` out."""

from __future__ import annotations

from dataclasses import replace

from challenge.analysis.days import completeness
from challenge.analysis.evidence import Evidence, day_records, gather
from challenge.analysis.group import group_result
from challenge.analysis.result import Analysis, GroupResult
from challenge.diary.model import Diary
from challenge.model.fit_check import check_fit
from challenge.protocol.plan import Plan
from challenge.protocol.settings import Settings
from challenge.statistics.multiplicity import holm
from challenge.terms import CONTROL


def analyse(diary: Diary, plan: Plan, settings: Settings | None = None) -> Analysis:
    """Analyse a diary against its plan.

    Parameters
    ----------
    diary, plan
        As read from a client folder.
    settings
        As read from client.toml; defaults otherwise.

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
    results = [group_result(evidence, group) for group in plan.groups()]
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


def _cautions(evidence: Evidence) -> tuple[str, ...]:
    """Return what stands above every result."""
    sentences = []
    if evidence.settings.screening.asked_on is None:
        sentences.append(
            "No screening is on record (`challenge new`): whether this client may be challenged at "
            "all, coeliac testing and alarm signs included, has not been asked here."
        )
    checks = check_fit(
        evidence.fit,
        evidence.sessions.scores[evidence.fit.used],
        evidence.settings.analysis.seed,
    )
    for check in checks:
        if not check.fits:
            sentences.append(
                f"The model does not fit this diary well: {check.name} is {check.observed:.2f}, "
                f"where diaries drawn from it have {check.low:.2f} to {check.high:.2f}. "
                "Trust the days and the paired tests more than the probabilities."
            )
    if CONTROL not in evidence.doses:
        sentences.append(
            "There was no control challenge, so how much of a rise is expectation is assumed: "
            "about a quarter of people react to a glucose control."
        )
    sentences.append(
        "Doses rise from day to day, so a reaction to a high dose cannot be told from one that "
        "builds up over the days."
    )
    return tuple(sentences)
