"""Which challenge foods of a plan must not be given out: what the page and the sheet leave out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.commands.clock import today
from challenge.commands.screen import warn, wrapped

if TYPE_CHECKING:
    from challenge.protocol.plan import Plan, PlanDay
    from challenge.protocol.record import Record
    from challenge.protocol.settings import Settings


def held_days(
    folder: Path, plan: Plan, days: tuple[PlanDay, ...], settings: Settings
) -> Callable[[PlanDay], bool]:
    """Tell which challenge foods must not be eaten: held up by screening, or by the diary itself.

    Says on the screen what was left out, or that the plan no longer fits the diary.
    """
    from challenge.commands.diary_record import read_record
    from challenge.foods import find_food
    from challenge.protocol.alarms import alarms
    from challenge.protocol.blinding import trial_held
    from challenge.protocol.screening import screen

    record, now = read_record(folder), today()
    alarming = bool(alarms(record, now, settings.screening.doctor_asked))
    clearance = screen(settings.screening)

    def held(day: PlanDay) -> bool:
        if day.sealed:
            return alarming or plan.trial is None or bool(trial_held(plan.trial, settings))
        return alarming or bool(clearance.because(day.fodmap_group, find_food(day.food)))

    if any(day.phase == "challenge" and held(day) for day in days):
        why = "what the diary says and a doctor should hear" if alarming else "the screening"
        warn(wrapped(f"Challenge foods were left out because of {why}."))
    elif _moved(plan, record, settings, now):
        warn(
            wrapped(
                "The plan has moved since it was laid: run `challenge plan`, then make this again."
            )
        )
    return held


def _moved(plan: Plan, record: Record, settings: Settings, now: dt.date) -> bool:
    """Tell whether the diary so far asks for another plan from today on."""
    from challenge.protocol.replan import replan

    if record.empty or not plan.days[0].date <= now <= plan.days[-1].date:
        return False
    return replan(plan, record, settings, now).changed
