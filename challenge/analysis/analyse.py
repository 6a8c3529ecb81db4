"""The whole analysis of one client: diary and plan in, one `Analysis` out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from challenge.analysis.blinded import OpenedTrial, blinded_result
from challenge.analysis.days import completeness
from challenge.analysis.drift import reference_drift
from challenge.analysis.evidence import SEALED, Evidence, day_records, gather
from challenge.analysis.group import group_result
from challenge.analysis.result import Analysis, GroupResult
from challenge.diary.model import Diary
from challenge.errors import ChallengeError
from challenge.model.fit_check import check_fit
from challenge.protocol.alarms import alarms
from challenge.protocol.follow import followed
from challenge.protocol.plan import Plan
from challenge.protocol.record import Record, record_of
from challenge.protocol.settings import Settings
from challenge.protocol.so_far import plan_so_far
from challenge.statistics.multiplicity import holm
from challenge.terms import CONTROL
from challenge.wording import Statement, statement


def analyse(
    diary: Diary,
    plan: Plan,
    settings: Settings | None = None,
    opened: Sequence[OpenedTrial] = (),
    today: dt.date | None = None,
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
    today
        A day within the plan: challenges that have not begun by then are not judged, only named.
        None takes the whole plan as over.

    Returns
    -------
    Analysis
        One result per group challenged, in the order of the plan.

    Raises
    ------
    ChallengeError
        If the plan has no challenge day, none has begun, or the diary has no score within the plan.
    """
    settings = settings if settings is not None else Settings()
    record = record_of(diary)
    plan = followed(plan, record, settings, today or dt.date.max)
    whole, plan = plan, plan if today is None else _begun(plan, record, today)
    evidence = gather(diary, plan, settings)
    symptoms = evidence.days.symptoms
    blinded = tuple(blinded_result(diary, whole, settings, trial) for trial in opened)
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
        cautions=(*_first_of_all(record, settings, whole, plan), *_cautions(evidence)),
        blinded=blinded,
        drift=reference_drift(evidence),
    )


def _begun(plan: Plan, record: Record, today: dt.date) -> Plan:
    eaten = {(date, group) for date, groups in record.eaten.items() for group in groups}
    entered = max((*record.scores, *record.eaten), default=None)
    so_far = plan_so_far(plan, today, eaten, entered)
    first = min((day.date for day in plan if day.phase == "challenge"), default=None)
    if first is not None and not any(day.phase == "challenge" for day in so_far):
        raise ChallengeError(
            f"No challenge has begun yet; the first is planned for {first}. Until then "
            "`challenge check` and `challenge today` say how the diary stands."
        )
    return so_far


def _first_of_all(
    record: Record, settings: Settings, whole: Plan, so_far: Plan
) -> tuple[Statement, ...]:
    """Return what a doctor must hear, and what is still to come."""
    found = []
    waiting = alarms(record, dt.date.max, settings.screening.doctor_asked)
    if waiting:
        dates = tuple(dict.fromkeys(alarm.date for alarm in waiting))
        found.append(statement("diary-alarm", dates=dates))
    to_come = tuple(group for group in whole.groups() if group not in so_far.groups())
    if to_come:
        found.append(statement("still-to-come", groups=to_come))
    return tuple(found)


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
