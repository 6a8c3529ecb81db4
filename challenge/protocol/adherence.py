"""Every check of a diary against its plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from challenge.problems import Problem
from challenge.protocol.adherence_case import Case, make_case
from challenge.protocol.day_checks import (
    baseline_short_or_unstable,
    days_with_too_few_scores,
    washouts_ended_early,
)
from challenge.protocol.dose_checks import (
    doses_after_a_stop,
    doses_eaten_late,
    doses_not_eaten,
    doses_of_another_amount,
    doses_while_held_up,
    other_groups,
    other_sachets,
)
from challenge.protocol.plan import Plan

if TYPE_CHECKING:
    from challenge.diary.model import Diary
    from challenge.protocol.settings import Settings

CHECKS: Final[tuple[Callable[[Case], list[Problem]], ...]] = (
    doses_not_eaten,
    doses_of_another_amount,
    other_sachets,
    doses_eaten_late,
    doses_after_a_stop,
    doses_while_held_up,
    other_groups,
    washouts_ended_early,
    baseline_short_or_unstable,
    days_with_too_few_scores,
)


def check_adherence(diary: Diary, plan: Plan, settings: Settings, today: dt.date) -> list[Problem]:
    """Return everything in which a diary departs from its plan, by date.

    Parameters
    ----------
    diary, plan, settings
        As read from a client folder.
    today
        The day of the check. Later days are not judged, today only by what was eaten.
    """
    case = make_case(diary, plan, settings, today)
    found = [problem for check in CHECKS for problem in check(case)]
    return sorted(found, key=lambda problem: problem.date or "")
