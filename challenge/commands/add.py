"""``challenge add``: bring in the diary files that a client sent."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal

import typer

from challenge.commands.app import app
from challenge.commands.clock import now
from challenge.commands.screen import list_problems, say, say_json, warn, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.diary.options import DateOrder
    from challenge.files.ledger import Added

_ORDERS: Final[dict[str, DateOrder]] = {
    "dmy": "day-first",
    "mdy": "month-first",
    "ymd": "year-first",
}


@app.command()
def add(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="CSV, XLSX or ODS files of the diary.")
    ],
    encoding: Annotated[
        str | None, typer.Option(help="Character encoding, for example windows-1250.")
    ] = None,
    date_order: Annotated[
        Literal["dmy", "mdy", "ymd"] | None,
        typer.Option(help="Which of day, month and year comes first in the files' dates."),
    ] = None,
    skip_bad_rows: Annotated[
        bool,
        typer.Option("--skip-bad-rows", help="Store the good rows, keep the others in a file."),
    ] = False,
    correct: Annotated[
        bool,
        typer.Option("--correct", help="Where the record differs, the files are right."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Read diary files, check all of them, then merge them into the client's diary.

    All or nothing: while one row is wrong, nothing is stored. Every file is kept as it came, and
    the same file twice changes nothing.

    Example: challenge add juniper march.xlsx scores.csv --date-order dmy
    """
    from challenge.files.imports import add_files

    try:
        added = add_files(
            client,
            files,
            encoding=encoding,
            date_order=_ORDERS[date_order] if date_order else None,
            skip_bad_rows=skip_bad_rows,
            correct=correct,
            when=now(),
        )
    except ChallengeError as error:
        if not as_json or not error.problems:
            raise
        say_json({"error": error.message, "problems": _plain(error.problems)})
        raise typer.Exit(1) from None
    if as_json:
        say_json(_result(added))
        return
    list_problems(added.problems)
    _tell(added)


def _plain(problems: tuple[object, ...]) -> list[dict[str, object]]:
    return [dataclasses.asdict(problem) for problem in problems]  # type: ignore[call-overload]


def _result(added: Added) -> dict[str, object]:
    return {
        "import": added.name,
        "new": {"foods": added.foods, "symptoms": added.symptoms, "events": added.events},
        "known": added.known,
        "fuller": added.fuller,
        "corrected": added.corrected,
        "outdated": added.outdated,
        "refused": added.refused,
        "refused_files": [str(path) for path in added.refused_files],
        "preserved": list(added.preserved),
        "problems": _plain(added.problems),
    }


def _tell(added: Added) -> None:
    if added.preserved:
        warn(
            wrapped(
                "Tables made or changed by hand were kept first as an import of their own: "
                f"{', '.join(added.preserved)}."
            )
        )
    if added.name is None:
        say("All of it was on record already; nothing was changed.")
        return
    new = (
        _count(added.foods, "food", "foods"),
        _count(added.symptoms, "score", "scores"),
        _count(added.events, "event", "events"),
    )
    say(wrapped(f"Added as import {added.name}: {', '.join(new)}."))
    if added.known:
        say(f"On record already: {_count(added.known, 'entry', 'entries')}.")
    if added.fuller:
        told = f"Further notes, or earlier times of writing, kept beside those: at {added.fuller}"
        say(f"{told} time{'s' * (added.fuller > 1)}.")
    if added.corrected:
        told = f"Replaced: {_count(added.corrected, 'entry', 'entries')}"
        say(wrapped(f"{told}; what was on record stays in its import."))
    if added.outdated:
        told = f"Left out: {_count(added.outdated, 'entry', 'entries')}"
        say(wrapped(f"{told} that had been corrected or removed earlier."))
    if added.refused:
        say(f"Could not be read and was left out: {_count(added.refused, 'row', 'rows')}, kept in")
        for path in added.refused_files:
            say(f"  {path}")


def _count(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}"
