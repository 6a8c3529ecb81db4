"""``challenge freeze``: fix the analysis of a blinded challenge before anybody knows the order."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from challenge.commands.app import app
from challenge.commands.clock import now
from challenge.commands.screen import say, say_json, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.files.blinding import StoredTrial
    from challenge.protocol.blinding import Trial
    from challenge.protocol.plan import Plan
    from challenge.protocol.record import Record


@app.command()
def freeze(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    early: Annotated[
        str, typer.Option(metavar="REASON", help="End it before its last sachet, and why.")
    ] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Fix settings and values of a blinded challenge; only then can it be opened.

    What is compared is measured now, while nobody knows which sachets held what, and stored with
    digests of the diary. It can be done again as long as the challenge is sealed.

    Example: challenge freeze juniper
    """
    from challenge.files.blinding import add_frozen, digest, read_frozen
    from challenge.files.folder import client_folder

    folder = client_folder(client)
    stored, document = measured(folder, early)
    files = stored.frozen_files()
    latest = read_frozen(files[-1]) if files else None
    if latest is not None and _same(latest, document):
        path = files[-1]
    else:
        path = add_frozen(stored, document)
    if as_json:
        say_json({"schema": 1, "file": str(path), "digest": digest(path.read_bytes()), **document})
        return
    for line in lines(stored.trial, document):
        say(wrapped(line))
    say(f"Fixed: {path}")
    say(f"Digest of it, for the person who keeps the key:\n  {digest(path.read_bytes())}")
    say("Nothing of the order is known yet. Next: challenge unblind CLIENT --key FILE")


def _same(earlier: dict[str, Any], document: dict[str, Any]) -> bool:
    return all(
        earlier.get(name) == value for name, value in document.items() if name != "frozen_at"
    )


def measured(folder: Path, early: str = "") -> tuple[StoredTrial, dict[str, Any]]:
    """Return the sealed trial of a folder and its analysis as it stands, ready to be fixed.

    Raises
    ------
    ChallengeError
        If nothing is sealed, sachets are still to come, or nothing can be measured.
    """
    import challenge
    from challenge.analysis.blinded import frozen_document, period_values
    from challenge.files.blinding import diary_digests, read_trials, sealed_trial
    from challenge.files.folder import PLAN
    from challenge.files.reading import read_diary, read_plan, read_settings
    from challenge.protocol.record import record_of

    stored = sealed_trial(read_trials(folder))
    if stored is None:
        raise ChallengeError(
            f"No blinded challenge of {folder.name} is sealed. Draw one with `challenge blind`."
        )
    settings, plan = read_settings(folder), read_plan(folder / PLAN)
    diary = read_diary(folder, settings=settings)
    moment = now()
    waiting = to_come(plan, record_of(diary), moment.date())
    if waiting and not early:
        raise ChallengeError(
            f"{waiting[0]} is still to come, and {len(waiting) - 1} more after it. "
            "Fix the analysis when all is written down, or end the challenge with --early REASON."
        )
    values = period_values(diary, plan, settings, stored.trial.letters)
    return stored, {
        "frozen_at": moment.isoformat(timespec="minutes"),
        "ended_early": early if waiting else "",
        "program": f"challenge {challenge.__version__}",
        **frozen_document(values, stored.trial, settings),
        "sha256": diary_digests(folder),
    }


def to_come(plan: Plan, record: Record, today: dt.date) -> list[str]:
    """Return the sachets of today and later that were not taken yet."""
    from challenge.protocol.progress import dose_eaten

    return [
        day.food for day in plan if day.sealed and day.date >= today and not dose_eaten(day, record)
    ]


def lines(trial: Trial, document: dict[str, Any]) -> list[str]:
    """Return what was fixed, as text."""
    symptom = document["primary_symptom"]
    column = document["symptoms"].index(symptom)
    found = [
        f"Blinded challenge of {trial.fodmap_group} against {trial.control}: {symptom}, margin "
        f"{document['margin']:g} points, {document['method']} ({trial.n_orders} orders).",
        f"{'sachet':<8}{'days':>5}{'left out':>10}{symptom:>12}",
    ]
    for period in document["periods"]:
        value = period["values"][column]
        shown = "-" if value is None else f"{value:.2f}"
        found.append(
            f"{period['letter']:<8}{len(period['days']):>5}{period['days_left_out']:>10}{shown:>12}"
        )
    return found
