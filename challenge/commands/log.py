"""``challenge log``: the client's entries of a day, asked at the prompt or given as options."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.client_lines import day_words
from challenge.commands.clock import now as now_by_the_clock
from challenge.commands.screen import list_problems, say, say_json, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.files.ledger import Added
    from challenge.files.log_start import LogStart
    from challenge.logbook.entries import Entries
    from challenge.protocol.alarms import Alarm


@app.command()
def log(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    score: Annotated[
        list[str] | None, typer.Option(metavar="SYMPTOM=0-10", help="A score; repeat.")
    ] = None,
    ate: Annotated[bool, typer.Option("--ate", help="The challenge food of the day.")] = False,
    amount: Annotated[
        float | None,
        typer.Option(metavar="AMOUNT", help="How much of it [g or mL]; by default all."),
    ] = None,
    food: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME[=AMOUNT]", help="Another food [g or mL]; repeat."),
    ] = None,
    stool: Annotated[
        list[int] | None, typer.Option(metavar="1-7", help="A stool, Bristol type; repeat.")
    ] = None,
    event: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Something unusual, such as illness; repeat."),
    ] = None,
    until: Annotated[
        dt.datetime | None,
        typer.Option(formats=["%Y-%m-%d"], metavar="DATE", help="Last day of what was unusual."),
    ] = None,
    note: Annotated[str, typer.Option(metavar="TEXT", help="In your own words.")] = "",
    at: Annotated[str, typer.Option(metavar="TIME", help="When, like 08:10; else now.")] = "",
    on: Annotated[
        str, typer.Option("--on", metavar="DAY", help="yesterday, or a date; else today.")
    ] = "",
    correct: Annotated[
        bool, typer.Option("--correct", help="Replace what is written at that time.")
    ] = False,
    remove: Annotated[
        str, typer.Option(metavar="TIME", help="Take out what is written at that time.")
    ] = "",
    move: Annotated[
        str, typer.Option(metavar="TIME", help="Move what is written at that time to --at.")
    ] = "",
    lines: Annotated[
        bool, typer.Option("--lines", help="At the prompt: every answer ends with Enter.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Write down scores, challenge food, stools and what was unusual.

    Without any of them it asks, at the prompt. All options of one call are of one time. What is
    written before 04:00 belongs to the day before. What a correction replaces is kept.

    Example: challenge log juniper --score pain=3 --score bloating=2 --at 08:10
    """
    from challenge.diary.day import diary_day

    now = now_by_the_clock()
    date = _day(on, diary_day(now))
    given = bool(score or ate or food or stool or event or note)
    if move and (given or remove or not at):
        raise typer.BadParameter("--move goes with --at, and with nothing else.")
    if not (given or remove or move):
        if amount is not None or at or until or correct or as_json:
            raise typer.BadParameter("There is nothing to write down: give --score, --ate ...")
        from challenge.commands.talk import talk

        talk(client, date, lines=lines)
        return
    if amount is not None and not ate:
        raise typer.BadParameter("--amount goes with --ate; write --food NAME=AMOUNT for others.")
    from challenge.commands.log_entries import store
    from challenge.files.folder import client_folder
    from challenge.files.log_start import read_log_start
    from challenge.logbook.from_options import Options, entries_from

    folder = client_folder(client)
    start = read_log_start(folder, date)
    if ate and not at and now.date() != date:
        raise ChallengeError("Say at what time it was eaten: --at 08:10. Nothing was stored.")
    time = _time(at, date, now, start.zone) if given or move else now
    options = Options(
        scores=score or (),
        foods=food or (),
        stools=stool or (),
        events=event or (),
        until=until.date() if until else None,
    )
    entries, wrong = entries_from(options, time, date, start.symptoms, start.plan)
    entries.correct = correct
    if ate:
        _add_dose(entries, folder, date, time, amount, wrong)
    if note.strip():
        entries.add_note(note.strip(), date)
    if wrong:
        raise ChallengeError("\n".join([*wrong, "Nothing was stored."]))
    for text, right in ((remove, None), (move, time)):
        if text:
            entries.changed += _rows_at(start, date, _time(text, date, now, start.zone), right)
    changes = entries.changes()
    added = store(folder, entries, now)
    _report(folder, date, start, entries, changes, added, as_json)


def _day(text: str, today: dt.date) -> dt.date:
    if not text or text == "today":
        return today
    if text == "yesterday":
        return today - dt.timedelta(days=1)
    try:
        date = dt.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(
            f"{text!r} is no day: yesterday, or a date like 2026-03-01."
        ) from None
    if date > today:
        raise ChallengeError(f"{day_words(date)} {date.year} has not come yet.")
    return date


def _time(at: str, date: dt.date, now: dt.datetime, zone: str) -> dt.datetime:
    from challenge.diary.day import diary_day
    from challenge.logbook.answers import UnclearError, read_time

    if not at:
        if diary_day(now) != date:
            raise ChallengeError("Say at what time it was: --at 08:10. Nothing was stored.")
        return now
    try:
        return read_time(at, date, now, zone)
    except UnclearError as error:
        raise ChallengeError(f"{error} Nothing was stored.") from None


def _rows_at(
    start: LogStart, date: dt.date, time: dt.datetime, right: dt.datetime | None
) -> list[tuple[str, tuple[str, ...], dt.datetime | None]]:
    from challenge.logbook.written import written_on

    written = written_on(start.foods, start.symptoms_given, date)
    found = [
        ("foods" if line.kind == "food" else "symptoms", row, right)
        for line in written.lines
        if line.time == time
        for row in line.rows
    ]
    if not found:
        raise ChallengeError(f"Nothing is written at {time:%H:%M}. Nothing was stored.")
    return found


def _add_dose(
    entries: Entries,
    folder: Path,
    date: dt.date,
    time: dt.datetime,
    amount: float | None,
    wrong: list[str],
) -> None:
    from challenge.commands.log_entries import dose_on, today_by_the_plan
    from challenge.logbook.entries import dose_entry

    today = today_by_the_plan(folder, date)
    # a correction is of a dose that is eaten already
    dose = today.dose if today.dose or not entries.correct else dose_on(folder, date)
    if dose is None:
        all_the_same = "If it was eaten all the same, write --food NAME=AMOUNT."
        wrong.append("\n".join(["--ate is not for this day.", *today.lines, all_the_same]))
    elif amount is not None and (dose.portion_g is None or not 0 < amount <= 5000):
        wrong.append(f"--amount {amount:g}: this is eaten whole, or the number is out of range.")
    else:
        portion = amount if amount is not None else dose.portion_g
        entries.foods.append(dose_entry(time, dose, portion))


def _report(
    folder: Path,
    date: dt.date,
    start: LogStart,
    entries: Entries,
    changes: list[str],
    added: Added,
    as_json: bool,
) -> None:
    from challenge.commands.log_entries import (
        alarms_in,
        clock_change_lines,
        lines_after,
        missing_line,
    )

    alarms = alarms_in(entries, date)
    if as_json:
        say_json(
            _as_json(
                date, [*changes, *entries.sentences()], added, missing_line(folder, date), alarms
            )
        )
        return
    list_problems(added.problems)
    new = added.foods + added.symptoms + added.events + added.corrected
    say("Stored:" if new else "All of it is on record already:")
    for line in (*changes, *entries.sentences()):
        say(wrapped(line, "  ", "    "))
    for line in clock_change_lines(entries, start.zone):
        say(wrapped(line))
    for line in lines_after(folder, date, alarms, advise=False):
        say(wrapped(line))


def _as_json(
    date: dt.date, told: list[str], added: Added, missing: str, alarms: tuple[Alarm, ...]
) -> dict[str, object]:
    return {
        "schema": 1,
        "date": date.isoformat(),
        "import": added.name,
        "new": {"foods": added.foods, "symptoms": added.symptoms, "events": added.events},
        "known": added.known,
        "corrected": added.corrected,
        "entries": told,
        "missing": missing,
        "alarms": [{"sign": alarm.sign, "text": alarm.text} for alarm in alarms],
        "problems": [problem.sentence() for problem in added.problems],
    }
