"""When a challenge ends early: symptoms by a fixed rule, or the client's wish."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from challenge.protocol.plan import Plan
from challenge.protocol.record import Record

if TYPE_CHECKING:
    from challenge.protocol.settings import StopRule

_WISH: Final = re.compile(
    r"^\W*stop(?:ped|ping)?\b"
    r"|\b(?:want(?:ed)?|wish(?:ed)?|decided|had|have|need) to stop\b"
    r"|\b(?:please|let me|let us|let's|can we|may I) stop\b"
    r"|\bstop(?:ped|ping)? (?:\w+ ){0,3}(?:challenge|test|trial|eating it|early)\b"
    r"|\bchallenge (?:was )?stopped\b",
    re.IGNORECASE,
)


FALSE_STOPS: Final = 0.14
"""Share of tolerated challenges that the default rule ends early (``StopRule`` says more)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Stop:
    """A reason to end a challenge.

    Attributes
    ----------
    date
        Day on which it arose; no further dose from then on.
    reason
        ``level``, ``rise`` or ``wish``.
    words
        The same with its numbers.
    """

    date: dt.date
    reason: str
    words: str


def baseline_days(plan: Plan, record: Record) -> dict[str, list[float]]:
    """Return each symptom's day means on the baseline days that were scored [points]."""
    values: dict[str, list[float]] = {}
    for day in plan:
        if day.phase != "baseline":
            continue
        for symptom in record.scores.get(day.date, {}):
            mean = record.day_mean(day.date, symptom)
            if mean is not None:
                values.setdefault(symptom, []).append(mean)
    return values


def wish_on(record: Record, date: dt.date) -> Stop | None:
    """Return the stop that the client asked for on a day, in a note or an event, or None."""
    texts = [words.text for words in record.words if words.date == date]
    texts += [
        text for event in record.events if event.start == date for text in (event.event, event.note)
    ]
    if any(_WISH.search(text) for text in texts):
        return Stop(date=date, reason="wish", words="the client wished to stop")
    return None


def stop_on(
    record: Record, date: dt.date, baseline: Mapping[str, float], rule: StopRule
) -> Stop | None:
    """Return why a challenge is to end because of this day, or None.

    Parameters
    ----------
    record
        The diary.
    date
        The day judged.
    baseline
        Mean of each symptom at baseline [points]; a symptom without one is judged by the level.
    rule
        The stop rule of the settings.
    """
    wish = wish_on(record, date)
    if wish is not None:
        return wish
    worst: Stop | None = None
    reaching = [
        (sorted(parts.values(), reverse=True)[rule.slots - 1], symptom, len(parts))
        for symptom, parts in record.scores.get(date, {}).items()
        if len(parts) >= rule.slots
    ]
    # the strongest symptom is the one to name
    for reached, symptom, n_parts in sorted(reaching, key=lambda one: (-one[0], one[1])):
        place = f"in {rule.slots} of {n_parts} parts of the day"
        if reached >= rule.level:
            words = f"{symptom} at {reached:g} or more {place} (limit {rule.level:g})"
            return Stop(date=date, reason="level", words=words)
        usual = baseline.get(symptom)
        if worst is None and usual is not None and reached - usual >= rule.rise:
            words = (
                f"{symptom} {reached - usual:.1f} or more above its baseline of {usual:.1f} "
                f"{place} (limit {rule.rise:g})"
            )
            worst = Stop(date=date, reason="rise", words=words)
    return worst
