"""What several commands start with: a client folder read and analysed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.commands.clock import today

if TYPE_CHECKING:
    from challenge.analysis.decision import Decision
    from challenge.analysis.result import Analysis
    from challenge.problems import Problem
    from challenge.protocol.alarms import Alarm
    from challenge.protocol.plan import Plan
    from challenge.protocol.record import Record
    from challenge.protocol.settings import Settings


@dataclass(frozen=True, kw_only=True)
class Analysed:
    """A client folder and what is known of it."""

    folder: Path
    settings: Settings
    plan: Plan
    record: Record
    analysis: Analysis
    problems: tuple[Problem, ...]
    alarms: tuple[Alarm, ...]
    decisions: tuple[Decision, ...]


def load_analysed(client: Path) -> Analysed:
    """Read and analyse a client folder.

    Raises
    ------
    ChallengeError
        If the folder cannot be read or holds nothing to analyse.
    """
    from challenge.analysis.analyse import analyse
    from challenge.files.blinding import opened_trials
    from challenge.files.decisions import read_decisions
    from challenge.files.folder import PLAN, client_folder
    from challenge.files.reading import read_diary, read_plan, read_settings
    from challenge.protocol.alarms import alarms
    from challenge.protocol.record import record_of

    folder = client_folder(client)
    settings = read_settings(folder)
    diary = read_diary(folder, settings=settings)
    plan = read_plan(folder / PLAN)
    record = record_of(diary)
    return Analysed(
        folder=folder,
        settings=settings,
        plan=plan,
        record=record,
        analysis=analyse(diary, plan, settings, opened_trials(folder), today()),
        alarms=alarms(record, dt.date.max, settings.screening.doctor_asked),
        problems=tuple(diary.problems),
        decisions=read_decisions(folder),
    )
