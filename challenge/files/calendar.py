"""The plan as a calendar that a phone reads (RFC 5545): updates instead of doubles."""

from __future__ import annotations

import datetime as dt
import os
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from challenge.errors import ChallengeError
from challenge.files.atomic import write_atomic
from challenge.foods import find_food
from challenge.protocol.plan import Plan, PlanDay

if TYPE_CHECKING:
    from icalendar import Calendar, Event

CALENDAR: Final = "plan.ics"
_SPACE: Final = uuid.UUID("6d0f3c0a-4b0e-5d5e-9a2b-3f6d1c7e8a90")
_NEEDED: Final = frozenset({"UID", "SUMMARY", "DTSTART", "DTEND", "TRANSP", "CLASS", "STATUS"})
_EPOCH: Final = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)

_TITLES: Final = {
    "baseline": "Usual plan, write the diary",
    "washout": "Break, write the diary",
    "rest": "Rest day",
}


def write_calendar(folder: str | os.PathLike[str], plan: Plan, client: str) -> Path:
    """Write ``plan.ics`` into a client folder.

    Each day keeps its UID for good, so a phone that reads the file again moves and changes its
    entries instead of doubling them. Days that an earlier file held and the plan no longer has are
    written as cancelled. Nothing depends on the clock.

    Parameters
    ----------
    folder
        The client's folder.
    plan
        The plan.
    client
        The client's code; only a hash of it enters the UIDs.

    Raises
    ------
    ChallengeError
        If an earlier ``plan.ics`` is no calendar, or the plan has no days.
    """
    path = Path(folder) / CALENDAR
    earlier = read_calendar(path) if path.exists() else None
    return write_atomic(path, build_calendar(plan, client, earlier).to_ical())


def read_calendar(path: Path) -> Calendar:
    """Read a calendar file.

    Raises
    ------
    ChallengeError
        If it is none.
    """
    from icalendar import Calendar

    try:
        calendar = Calendar.from_ical(path.read_bytes())
        complete = all(set(event) >= _NEEDED for event in calendar.walk("VEVENT"))
    except (ValueError, OSError):
        complete = False
    if not complete:
        raise ChallengeError(
            f"{path.name} is not the calendar that was written here. Remove it and run again."
        )
    return calendar


def build_calendar(plan: Plan, client: str, earlier: Calendar | None = None) -> Calendar:
    """Return the plan as a calendar; ``earlier`` is the calendar that phones already have."""
    from icalendar import Calendar

    if not len(plan):
        raise ChallengeError("The plan has no days.")
    known = {str(event["UID"]): event for event in earlier.walk("VEVENT")} if earlier else {}
    calendar = Calendar()
    calendar.add("prodid", "-//challenge//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    for event in _events(plan, client):
        before = known.pop(str(event["UID"]), None)
        calendar.add_component(_numbered(event, before))
    for before in known.values():
        calendar.add_component(_cancelled(before))
    _check(calendar)
    return calendar


def _events(plan: Plan, client: str) -> Iterator[Event]:
    from icalendar import Event, vText

    for day in plan:
        event = Event()
        event.add("uid", f"{uuid.uuid5(_SPACE, f'{client}/{day.date}')}@challenge.invalid")
        event.add("summary", _title(day))
        event.add("dtstart", day.date)
        event.add("dtend", day.date + dt.timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        event["class"] = vText("PRIVATE")
        event.add("status", "CONFIRMED")
        yield event


def _title(day: PlanDay) -> str:
    """A title without diagnosis, group or dose step: calendars are seen by others."""
    if day.phase != "challenge" or day.portion_g is None:
        return _TITLES.get(day.phase, "Write the diary")
    if day.sealed:
        return f"Drink: {day.food}, write the diary"
    food = find_food(day.food)
    unit = food.unit if food is not None else "g"
    return f"Eat: {day.portion_g:g} {unit} {day.food}, write the diary"


def _numbered(event: Event, before: Any) -> Event:
    """Raise the sequence number where something changed, so that the phone takes the new one."""
    sequence = 0
    if before is not None:
        sequence = int(before.get("SEQUENCE", 0))
        same = all(
            event[name].to_ical() == before[name].to_ical()
            for name in ("SUMMARY", "DTSTART", "DTEND", "STATUS")
        )
        sequence += not same
    event.add("sequence", sequence)
    event.add("dtstamp", _EPOCH + dt.timedelta(minutes=sequence))
    return event


def _cancelled(before: Any) -> Event:
    from icalendar import Event

    event = Event()
    for name in ("UID", "SUMMARY", "DTSTART", "DTEND", "TRANSP", "CLASS"):
        event[name] = before[name]
    event.add("status", "CANCELLED")
    return _numbered(event, before)


def _check(calendar: Calendar) -> None:
    """Own checks for what the library's validation misses."""
    seen = set()
    events: list[Any] = calendar.walk("VEVENT")
    for event in events:
        uid = str(event["UID"])
        assert uid not in seen, f"two entries share the UID {uid}"
        assert event["DTEND"].dt > event["DTSTART"].dt
        seen.add(uid)
