"""``challenge unblind``: open a blinded challenge whose analysis was fixed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import now
from challenge.commands.screen import say, say_json, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.files.blinding import StoredTrial
    from challenge.problems import Problem
    from challenge.protocol.blinding import Key


@app.command()
def unblind(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    key: Annotated[Path, typer.Option(metavar="FILE", help="The sealed key.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Open a blinded challenge with its key and test it by the order that was drawn.

    Refused as long as the analysis is not fixed (`challenge freeze`), when diary or settings were
    changed since, and when the key is not the one that was drawn.

    Example: challenge unblind juniper --key /media/stick/juniper.key
    """
    from challenge.commands.blind import write_days
    from challenge.commands.client import load_analysed
    from challenge.files.blinding import read_key, read_trials, write_opened
    from challenge.files.folder import PLAN, client_folder
    from challenge.files.reading import read_plan
    from challenge.protocol.blinding import open_plan

    folder = client_folder(client)
    shown, moment = read_key(key), now()
    plan = read_plan(folder / PLAN)
    trials = read_trials(folder)
    sealed_days = any(day.sealed for day in plan)
    # a challenge that was opened, but whose plan was not written before the power went
    half_open = next((s for s in reversed(trials) if s.opened is not None and sealed_days), None)
    stored = next((s for s in trials if s.opened is None), half_open)
    if stored is None:
        raise ChallengeError(f"No blinded challenge of {folder.name} is sealed.")
    _check(folder, stored, shown, key)
    opened = moment
    if stored.opened is None:
        write_opened(stored, shown, stored.frozen_files()[-1], moment)
    else:
        opened = stored.opened.on
    write_days(folder, open_plan(plan, stored.trial, shown, opened.date()))
    result = load_analysed(client).analysis
    if as_json:
        say_json({"schema": 1, "blinded": result.to_json()["blinded"][-1]})
        return
    _tell(stored, shown)
    from challenge.analysis.reasons import blinded_test

    say(wrapped(str(blinded_test(result.blinded[-1]))))
    say("Open and blinded days together: challenge analyse CLIENT")


def _check(folder: Path, stored: StoredTrial, key: Key, file: Path) -> None:
    """Refuse with everything that stands in the way."""
    from challenge.files.folder import client_code
    from challenge.problems import Problem
    from challenge.protocol.blinding import key_problems

    problems = [
        Problem(
            code="key-wrong",
            severity="error",
            file=file.name,
            message=message,
            remedy="Ask the person who keeps the key for the file as it was written.",
        )
        for message in key_problems(stored.trial, key, client_code(folder))
    ]
    if stored.opened is None:
        problems += _not_fixed(folder, stored)
    if problems:
        raise ChallengeError("The blinded challenge stays sealed; nothing was changed.", problems)


def _not_fixed(folder: Path, stored: StoredTrial) -> list[Problem]:
    from challenge.analysis.blinded import differs
    from challenge.commands.freeze import measured
    from challenge.files.blinding import read_frozen
    from challenge.problems import Problem

    files = stored.frozen_files()
    if not files:
        return [
            Problem(
                code="not-frozen",
                severity="error",
                message="The analysis is not fixed yet.",
                remedy="Run `challenge freeze` first; it measures without knowing the order.",
            )
        ]
    frozen = read_frozen(files[-1])
    _, current = measured(folder, str(frozen.get("ended_early", "")))
    # the moment and the program may be others, and entries may follow that bear on no period
    for name in ("frozen_at", "program", "ended_early", "sha256"):
        current.pop(name)
    changed = differs(frozen, current)
    if not changed:
        return []
    return [
        Problem(
            code="changed-since-frozen",
            severity="error",
            file=files[-1].name,
            message="Diary or settings were changed since the analysis was fixed: "
            f"{', '.join(name.replace('_', ' ') for name in changed)}.",
            remedy="Run `challenge freeze` again; nobody knows the order yet.",
        )
    ]


def _tell(stored: StoredTrial, key: Key) -> None:
    trial = stored.trial
    others = [letter for letter in trial.letters if letter not in key.holding]
    say(wrapped(f"Sachets {', '.join(key.holding)} held {trial.fodmap_group}."))
    say(wrapped(f"Sachets {', '.join(others)} held {trial.control}."))
