"""``challenge plan``: lay the schedule, or lay its rest again from the diary."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from challenge.commands.app import app
from challenge.commands.clock import today as today_by_the_clock
from challenge.commands.screen import list_problems, say, say_json, warn, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from challenge.problems import Problem
    from challenge.protocol.plan import Plan
    from challenge.protocol.settings import Settings

_DATE = ["%Y-%m-%d"]
_KEPT = (
    "The background diet is kept throughout; a group that went well is not put back before all are "
    "tested."
)


@app.command()
def plan(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    start: Annotated[
        dt.datetime | None,
        typer.Option(formats=_DATE, help="First day of the baseline; by default tomorrow."),
    ] = None,
    ics: Annotated[bool, typer.Option("--ics", help="Write plan.ics for a calendar too.")] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show the plan and write nothing.")
    ] = False,
    repeat: Annotated[
        list[str] | None,
        typer.Option(
            metavar="GROUP[=STEPS]",
            help="Lay a challenge again, or some of its steps; repeat for more groups.",
        ),
    ] = None,
    control: Annotated[
        bool, typer.Option("--control", help="Lay a control challenge with glucose, too.")
    ] = False,
    power: Annotated[
        bool,
        typer.Option("--power", help="Say what the plan will be able to tell; write nothing."),
    ] = False,
    clients: Annotated[
        int,
        typer.Option(min=10, max=100_000, metavar="N", help="With --power: invented clients."),
    ] = 200,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Lay the schedule on dates, or lay its rest again from the diary.

    The rules stand in client.toml; what is to be repeated is written there. Days that have passed
    are never changed.

    Examples: challenge plan juniper --start 2026-03-02 --ics

    challenge plan juniper --repeat fructose=2 --repeat lactose
    """
    from challenge.files.folder import PLAN, client_code, client_folder
    from challenge.files.reading import read_plan, read_settings

    folder = client_folder(client)
    settings = read_settings(folder)
    old = read_plan(folder / PLAN) if (folder / PLAN).exists() else None
    today = today_by_the_clock()
    document = None
    if repeat or control:
        document, settings = _with_repeats(folder, repeat or (), control, old, settings, today)
    if power:
        from challenge.commands.plan_power import show_power

        # a plan on file can be judged without a screening; it is only not laid
        screened = settings.screening.asked_on is not None
        judged = old if old and not screened else _lay(folder, old, start, settings, today)[0]
        show_power(folder, judged, settings, clients, as_json)
        return
    new, reasons = _lay(folder, old, start, settings, today)
    from challenge.commands.plan_table import table
    from challenge.protocol.schedule import left_out

    problems = left_out(settings)
    if start is not None and start.date() < today:
        told = f"The first day, {start.date()}, has passed"
        warn(wrapped(f"{told}: days without entries count as missing."))
    written = _write(folder, document, new, client_code(folder), ics) if not dry_run else []
    if as_json:
        say_json(_as_json(new, reasons, problems, written))
        return
    for line in table(new, today):
        say(line)
    say()
    say(wrapped(_KEPT))
    list_problems(problems)
    for reason in reasons:
        say(wrapped(reason))
    for path in written:
        say(f"Written: {path}")


def _lay(
    folder: Path,
    old: Plan | None,
    start: dt.datetime | None,
    settings: Settings,
    today: dt.date,
) -> tuple[Plan, tuple[str, ...]]:
    """Lay the plan anew, or its rest if it has begun, with the reasons why it moved."""
    _require_screening(settings)
    if old is not None and len(old) and old.days[0].date < today:
        moved = start is not None and start.date() != old.days[0].date
        if not moved:
            return _again(folder, old, settings, today)
        if _written_since(folder, old):
            raise ChallengeError(
                f"This plan began on {old.days[0].date}, and the diary has begun, too; its past "
                "cannot be moved. Leave --start out to lay the rest again."
            )
    from challenge.protocol.blinding import sealed_periods
    from challenge.protocol.schedule import build_plan

    sealed = sealed_periods(old, settings) if old is not None else ()
    return build_plan(settings, _first_day(start, old, settings, today), sealed), ()


def _written_since(folder: Path, old: Plan) -> bool:
    """Whether anything hangs on a plan: without a diary a mistyped start can be put right."""
    from challenge.commands.diary_record import read_record

    return old.trial is not None or not read_record(folder).empty


def _require_screening(settings: Settings) -> None:
    if settings.screening.asked_on is None:
        raise ChallengeError(
            "No screening is on record, and some people must not be challenged at all. "
            "Run `challenge new` first; it asks the questions."
        )


def _first_day(
    start: dt.datetime | None, old: Plan | None, settings: Settings, today: dt.date
) -> dt.date:
    if start is not None:
        return start.date()
    if old is not None and len(old):
        return old.days[0].date
    return settings.protocol.start or today + dt.timedelta(days=1)


def _again(
    folder: Path, old: Plan, settings: Settings, today: dt.date
) -> tuple[Plan, tuple[str, ...]]:
    from challenge.commands.diary_record import read_record
    from challenge.protocol.follow import followed
    from challenge.protocol.replan import replan

    record = read_record(folder)
    laid = replan(followed(old, record, settings, today), record, settings, today)
    if not laid.progress.alarms:
        return laid.plan, laid.reasons
    from challenge.commands.waiting import alarm_sentences, answer_command

    # first of all, and whatever the dates say
    return laid.plan, (
        *alarm_sentences(laid.progress.alarms),
        f"No challenge before the doctor has answered; then: {answer_command(folder)}",
        *laid.reasons,
    )


def _with_repeats(
    folder: Path,
    wanted: Sequence[str],
    control: bool,
    old: Plan | None,
    settings: Settings,
    today: dt.date,
) -> tuple[dict[str, Any], Settings]:
    """Return client.toml with what is to be eaten again, and the settings in it."""
    from challenge.commands.diary_record import read_record
    from challenge.commands.repeats import with_repeats
    from challenge.files.client_toml import dumps, read_document
    from challenge.files.folder import SETTINGS
    from challenge.files.settings_file import parse_settings

    _require_screening(settings)
    if old is None:
        raise ChallengeError(
            f"There is no plan yet, so nothing can be repeated. First: challenge plan {folder}"
        )
    laid, _ = _lay(folder, old, None, settings, today)
    document = with_repeats(
        read_document(folder / SETTINGS),
        wanted,
        control,
        laid,
        read_record(folder),
        settings,
        today,
    )
    changed, problems = parse_settings(dumps(document), SETTINGS, settings.client)
    if changed is None:
        raise ChallengeError(f"{SETTINGS} cannot be used; nothing was written.", problems)
    return document, changed


def _write(
    folder: Path, document: dict[str, Any] | None, new: Plan, client: str, ics: bool
) -> list[Path]:
    from challenge.files.client_toml import write_document
    from challenge.files.writing import write_plan

    # the rules before what follows from them: a plan laid again tomorrow would lose its repeats
    written = [write_document(folder, document)] if document is not None else []
    written.append(Path(write_plan(folder, new)))
    if ics:
        from challenge.files.calendar import write_calendar

        written.append(write_calendar(folder, new, client))
    return written


def _as_json(
    new: Plan, reasons: tuple[str, ...], problems: list[Problem], written: list[Path]
) -> dict[str, Any]:
    from challenge.protocol.plan import PLAN_COLUMNS

    days = [
        {name: getattr(day, name) for name in PLAN_COLUMNS} | {"date": day.date.isoformat()}
        for day in new
    ]
    return {
        "schema": 1,
        "days": days,
        "reasons": list(reasons),
        "left_out": [problem.sentence() for problem in problems],
        "files": [str(path) for path in written],
    }
