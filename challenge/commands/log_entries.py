"""What `challenge log` does around its entries: today's plan, storing, and what comes after."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import signal
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.commands.client_lines import doctor_lines, portion_words, tomorrow_line, what_now
from challenge.errors import ChallengeError
from challenge.logbook.entries import Dose
from challenge.logbook.questions import Today

if TYPE_CHECKING:
    from challenge.files.ledger import Added
    from challenge.logbook.entries import Entries
    from challenge.protocol.alarms import Alarm
    from challenge.protocol.guidance import Guidance


def guidance_on(folder: Path, date: dt.date) -> Guidance:
    """Return what a day is for the client.

    Raises
    ------
    ChallengeError
        If there is no plan, or the screening holds it up.
    """
    from challenge.commands.diary_record import read_record
    from challenge.files.reading import read_plan, read_settings
    from challenge.protocol.guidance import guide

    return guide(read_plan(folder), read_record(folder), read_settings(folder), date)


def today_by_the_plan(folder: Path, date: dt.date) -> Today:
    """Return the lines and the food of a day; no food where anything holds it up."""
    try:
        guidance = guidance_on(folder, date)
    except ChallengeError as error:
        return Today(lines=(_held(error),))
    if guidance.alarms:
        return Today(lines=tuple(doctor_lines(guidance.alarms)))
    dose = _dose(guidance) if guidance.situation == "dose" else None
    if dose is None:
        return Today(lines=tuple(what_now(guidance)))
    return Today(
        lines=(f"Challenge food of this day: {dose.words}, {guidance.eat_at}.",), dose=dose
    )


def _held(error: ChallengeError) -> str:
    return f"No challenge food is shown. {error.message} Ask your dietitian."


def dose_on(folder: Path, date: dt.date) -> Dose | None:
    """Return the challenge food of a day, whether it is eaten already or not.

    Raises
    ------
    ChallengeError
        If there is no plan, or the screening holds it up.
    """
    guidance = guidance_on(folder, date)
    return None if guidance.alarms else _dose(guidance)


def _dose(guidance: Guidance) -> Dose | None:
    day = guidance.day
    if day is None or guidance.situation not in {"dose", "dose-eaten"} or not day.food:
        return None
    from challenge.foods import find_food

    food = find_food(day.food)
    return Dose(
        food=day.food,
        # a sachet is stirred into a glass and drunk whole
        portion_g=None if day.sealed else day.portion_g,
        unit=food.unit if food is not None else "g",
        fodmap_group=day.fodmap_group,
        fodmap_g=day.fodmap_g,
        words=portion_words(guidance.portion) if guidance.portion is not None else day.food,
    )


def store(folder: Path, entries: Entries, now: dt.datetime) -> Added:
    """Store entries: first what is taken out or moved, then what is new; each wholly or not at all.

    Ctrl-C, or a closed window, has to wait: it would leave the client in doubt.

    Raises
    ------
    ChallengeError
        With every problem; what was stored by then is taken off ``entries``.
    """
    from challenge.files.imports import record_entries
    from challenge.files.ledger import Added
    from challenge.files.rewriting import Change, change_entries

    entries.written_at(now)
    added = Added(name=None)
    with _uninterrupted():
        if entries.changed:
            changes = [Change(kind=k, row=row, time=time) for k, row, time in entries.changed]
            added = change_entries(folder, changes, when=now)
            entries.changed = []
        if entries.new:
            before = added.corrected
            added = record_entries(
                folder,
                foods=entries.foods,
                symptoms=entries.symptoms,
                events=entries.events,
                source="log",
                correct=entries.correct,
                when=now,
            )
            added = dataclasses.replace(added, corrected=added.corrected + before)
    return added


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    signals = [signal.SIGINT, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
    before = [(number, signal.signal(number, signal.SIG_IGN)) for number in signals]
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def alarms_in(entries: Entries, date: dt.date) -> tuple[Alarm, ...]:
    """Return what belongs before a doctor in what was just written."""
    from challenge.protocol.alarms import Alarm, find_sign

    found = []
    for text in entries.notes():
        sign = find_sign(text)
        if sign is not None:
            found.append(Alarm(date=date, sign=sign, text=text, file=""))
    return tuple(found)


def lines_after(folder: Path, date: dt.date, alarms: Sequence[Alarm], *, advise: bool) -> list[str]:
    """Return what the client reads when all is stored.

    Parameters
    ----------
    folder, date
        Whose diary, which day.
    alarms
        What was just written and belongs before a doctor; then only that is said.
    advise
        Say as well what to eat or not to eat from here on; otherwise only that a challenge is to
        be stopped, or a doctor to be asked.
    """
    if alarms:
        return doctor_lines(alarms)
    lines = [missing_line(folder, date)]
    try:
        guidance = guidance_on(folder, date)
    except ChallengeError as error:
        return [*lines, *([_held(error)] if advise else [])]
    if guidance.alarms:
        return [*lines, *doctor_lines(guidance.alarms)]
    if not advise and guidance.stop is None:
        return lines
    return [*lines, *what_now(guidance), *filter(None, [tomorrow_line(guidance)])]


def missing_line(folder: Path, date: dt.date) -> str:
    """Say which ratings a day still wants."""
    from challenge.files.log_start import read_log_start
    from challenge.logbook.written import missing_words, written_on

    start = read_log_start(folder, date)
    written = written_on(start.foods, start.symptoms_given, date)
    return missing_words(written, start.wanted, date)


def clock_change_lines(entries: Entries, zone: str) -> list[str]:
    """Say of which times the client can no longer be sure what they mean."""
    from challenge.logbook.answers import clock_change

    times = {entry["time"] for entry in (*entries.foods, *entries.symptoms)}
    return [
        f"The clocks went back that night, so {time:%H:%M} occurred twice."
        for time in sorted(times)
        if clock_change(time, zone) == "time-twice"
    ]
