"""``challenge new``: ask the screening questions, write client.toml, say what they mean."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Mapping
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated, Any

import typer

from challenge.commands.app import app
from challenge.commands.clock import today
from challenge.commands.screen import say, say_json, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.protocol.screening import Clearance
    from challenge.protocol.settings import Settings

_ANSWERS = {
    "diagnosed_by_doctor": "--diagnosed or --not-diagnosed",
    "coeliac_test": "--coeliac-test",
    "restriction_helped": "--helped or --did-not-help",
    "alarm_features": "--alarm (or --alarm none)",
    "conditions": "--condition (or --condition none)",
    "allergies": "--allergy (or --allergy none)",
}
"""What must be answered; silence is no answer."""


@app.command()
def new(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="Folder to make, a code.")],
    by: Annotated[str, typer.Option(help="Initials of the dietitian who asks.")] = "",
    from_file: Annotated[
        Path | None,
        typer.Option("--from", help="A TOML file with [screening], [diet], [protocol]."),
    ] = None,
    diagnosed: Annotated[
        bool | None,
        typer.Option("--diagnosed/--not-diagnosed", help="A doctor diagnosed it."),
    ] = None,
    coeliac_test: Annotated[
        str | None, typer.Option(help="negative, positive, not-done or unknown.")
    ] = None,
    on_gluten: Annotated[
        bool | None,
        typer.Option("--on-gluten/--off-gluten", help="The blood was taken while eating gluten."),
    ] = None,
    helped: Annotated[
        bool | None, typer.Option("--helped/--did-not-help", help="The restriction helped.")
    ] = None,
    measure: Annotated[str | None, typer.Option(help="By which measure it helped.")] = None,
    change: Annotated[
        float | None, typer.Option(help="By how many points that measure fell.")
    ] = None,
    weeks: Annotated[float | None, typer.Option(help="Weeks of restriction so far.")] = None,
    alarm: Annotated[list[str] | None, typer.Option(help="An alarm feature; repeat.")] = None,
    condition: Annotated[list[str] | None, typer.Option(help="A condition; repeat.")] = None,
    allergy: Annotated[list[str] | None, typer.Option(help="A food allergy; repeat.")] = None,
    medicine: Annotated[list[str] | None, typer.Option(help="A medicine; repeat.")] = None,
    exclusion: Annotated[
        list[str] | None, typer.Option(help="A diet such as vegan or nut-free; repeat.")
    ] = None,
    doctor: Annotated[
        list[str] | None,
        typer.Option(help="CONDITION=WHO: the doctor was asked and agreed; repeat."),
    ] = None,
    doctor_refused: Annotated[
        list[str] | None,
        typer.Option("--doctor-refused", help="CONDITION=WHO: asked, and advised against; repeat."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Ask anew although client.toml is there.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Ask the screening questions and write client.toml.

    Questions that no option answers are asked at the prompt. A block cannot be switched off by an
    option; it goes with the answer that made it.

    Example: challenge new juniper --by AB
    """
    from challenge.files.folder import SETTINGS, is_client_code, make_folder

    if not is_client_code(client.name):
        raise ChallengeError(
            f"{client.name!r} is no client code: letters, digits, - and _ only, never a name."
        )
    path = client / SETTINGS
    consents = _consents(doctor, doctor_refused, by)
    document = _existing(path, again, bool(consents))
    if not (consents and path.exists() and not again):
        given = {
            "diagnosed_by_doctor": diagnosed, "coeliac_test": coeliac_test,
            "coeliac_test_on_gluten": on_gluten, "restriction_helped": helped,
            "restriction_measure": "" if measure == "none" else measure,
            "restriction_change": change,
            "restriction_weeks": weeks, "alarm_features": _none(alarm),
            "conditions": _none(condition), "allergies": _none(allergy),
            "medicines": _none(medicine),
        }  # fmt: skip
        _answer(document, client.name, from_file, given, _none(exclusion), by)
    screening = document.setdefault("screening", {})
    if consents:
        _tell_about(consents, client)
        screening["doctor_asked"] = [*screening.get("doctor_asked", []), *consents]
    document = {"client": client.name, **{k: v for k, v in document.items() if k != "client"}}
    settings = _checked(document, client.name)
    _refuse_pointless(settings, [record["condition"] for record in consents])
    from challenge.files.client_toml import write_document

    make_folder(client)
    written = write_document(client, document)
    _report(settings, written, as_json)


def _none(values: list[str] | None) -> list[str] | None:
    """``none`` says that there are none; not to be asked at all is another matter."""
    return [] if values == ["none"] else values


def _existing(path: Path, again: bool, consents: bool) -> dict[str, Any]:
    from challenge.files.client_toml import read_document

    if not path.exists():
        return {}
    if not again and not consents:
        raise ChallengeError(
            f"{path} is there already. Use --again to ask anew, or --doctor to record a doctor's "
            "word."
        )
    return read_document(path)


def _consents(agreed: list[str] | None, refused: list[str] | None, by: str) -> list[dict[str, Any]]:
    records = []
    for texts, yes in ((agreed, True), (refused, False)):
        for text in texts or []:
            condition, sign, who = text.partition("=")
            if not (sign and condition.strip() and who.strip()):
                raise typer.BadParameter(f"{text!r}: write it like diabetes=GP.")
            if not by:
                raise ChallengeError("Say who records the doctor's word: --by with initials.")
            records.append(
                {
                    "condition": condition.strip(),
                    "doctor": who.strip(),
                    "recorded_by": by,
                    "on": today(),
                    "agreed": yes,
                }
            )
    return records


def _tell_about(consents: list[dict[str, Any]], client: Path) -> None:
    """Write beside a word on the diary which of its alarms it answers: those there by now.

    One under a date that is still to come is among them: results and letters wait for it, too.
    """
    from challenge.protocol.alarms import DIARY_ALARM, alarms

    answers = [record for record in consents if record["condition"] == DIARY_ALARM]
    if not answers:
        return
    from challenge.commands.diary_record import read_record

    keys = [alarm.key for alarm in alarms(read_record(client), dt.date.max)]
    if not keys:
        # an answer to nothing would settle nothing that is added later, and seem to
        raise ChallengeError(
            "Nothing in the diary waits for a doctor, so there is no answer to record. If the "
            "client's entries are not in yet: `challenge add` first."
        )
    for answer in answers:
        answer["about"] = list(dict.fromkeys(keys))


def _refuse_pointless(settings: Settings, conditions: list[str]) -> None:
    """A doctor's word must answer a question that is open; it lifts no block."""
    from challenge.protocol.screening import screen

    findings = screen(settings.screening).findings
    asked = {f.code for f in findings if f.level == "ask"} | {"diary-alarm"}
    refused = {r.condition for r in settings.screening.doctor_asked if not r.agreed}
    for condition in conditions:
        if condition in asked | refused:
            continue
        if any(finding.code == condition for finding in findings):
            raise ChallengeError(f"{condition} is a block; no doctor's word lifts it here.")
        known = ", ".join(sorted(asked))
        raise ChallengeError(f"Nothing waits for the doctor under {condition!r}. Open: {known}.")


def _answer(
    document: dict[str, Any],
    client: str,
    from_file: Path | None,
    given: Mapping[str, Any],
    exclusion: list[str] | None,
    by: str,
) -> None:
    """Put answers together: file first, options above it, questions for the rest."""
    screening: dict[str, Any] = {}
    if from_file is not None:
        repeats = document.get("protocol", {}).get("repeats")
        document.update(_from_file(from_file))
        if repeats:
            # asked for since; a file of answers does not know of them
            document["protocol"] = {"repeats": repeats, **document.get("protocol", {})}
        screening = dict(document.get("screening", {}))
    else:
        # what was answered before is asked anew, the doctor's words are kept
        kept = document.get("screening", {}).get("doctor_asked", [])
        screening = {"doctor_asked": kept} if kept else {}
    screening |= {key: value for key, value in given.items() if value is not None}
    if by:
        screening["asked_by"] = by
    document["screening"] = screening
    if exclusion is not None:
        document["diet"] = {**document.get("diet", {}), "exclusions": exclusion}
    missing = [key for key in _ANSWERS if key not in screening]
    if missing and sys.stdin.isatty():
        _ask(document, client)
    elif missing:
        options = ", ".join(_ANSWERS[key] for key in missing)
        raise ChallengeError(f"Not answered yet: {options}. Or run it at a prompt.")
    if not screening.get("asked_by"):
        raise ChallengeError("Say who asked: --by with initials.")
    screening.setdefault("asked_on", today())


def _ask(document: dict[str, Any], client: str) -> None:
    from challenge.commands.new_questions import ask_missing, confirmed

    # an option that cannot be used is told before anything is asked
    _checked(document, client)
    ask_missing(document)
    if not confirmed(document):
        raise ChallengeError("Nothing was written.")


def _checked(document: Mapping[str, Any], client: str) -> Settings:
    from dataclasses import replace

    from challenge.files.client_toml import dumps
    from challenge.files.folder import SETTINGS
    from challenge.files.settings_file import parse_settings

    settings, problems = parse_settings(dumps(document), SETTINGS, client)
    if settings is None:
        # they stand in no file yet, where they could be corrected
        wrong = [replace(problem, file=None, column=None, remedy="") for problem in problems]
        raise ChallengeError("These answers cannot be written; nothing was.", wrong)
    return settings


def _from_file(path: Path) -> dict[str, Any]:
    """Read answers and settings from a file; a misspelt key must not pass for no answer."""
    from dataclasses import replace

    from challenge.files.client_toml import dumps, read_document
    from challenge.files.settings_file import parse_settings

    document = read_document(path)
    _, problems = parse_settings(dumps(document), path.name, "")
    if problems:
        wrong = [replace(problem, severity="error") for problem in problems]
        raise ChallengeError(f"{path.name} cannot be used as it is; nothing was written.", wrong)
    return document


def _report(settings: Settings, written: Path, as_json: bool) -> None:
    from challenge.protocol.schedule import left_out
    from challenge.protocol.screening import screen

    clearance = screen(settings.screening)
    groups = {g: clearance.result(g) for g in settings.protocol.groups}
    problems = left_out(settings) if clearance.result() == "go" else []
    if as_json:
        say_json(
            {
                "schema": 1,
                "result": clearance.result(),
                "groups": groups,
                "findings": [_plain(finding) for finding in clearance.findings],
                "left_out": [problem.sentence() for problem in problems],
                "file": str(written),
            }
        )
        return
    words = {
        "go": "Go: challenges can be planned.",
        "ask": "Ask the doctor first.",
        "blocked": "Blocked: no challenge can be planned.",
    }
    # a doctor's word can be recorded for a diary that came without a screening
    screened = settings.screening.asked_on is not None
    result = clearance.result()
    say(words[result] if screened or result != "go" else "The screening has not been asked here.")
    _findings(clearance)
    for problem in problems:
        say(wrapped(problem.sentence(), "  "))
    say(f"Written: {written}")
    _say_next(clearance, quote(str(written.parent)), screened=screened)


def _say_next(clearance: Clearance, folder: str, *, screened: bool) -> None:
    waiting = [f.code for f in clearance.findings if f.level == "ask" and not f.cleared]
    if clearance.result() == "go" and not screened:
        say(f"Before a challenge is planned: challenge new {folder} --again")
    elif clearance.result() == "go":
        say(f"Next: challenge plan {folder}")
    elif clearance.result() == "ask" and waiting:
        first, *others = waiting
        say(f"When the doctor agrees: challenge new {folder} --doctor {first}=GP --by AB")
        if others:
            say(wrapped(f"Ask about these, too; --doctor may be repeated: {', '.join(others)}"))
    elif clearance.result() == "blocked":
        say("A block goes only with the answer that made it. When that has changed:")
        say(f"  challenge new {folder} --again")


def _findings(clearance: Clearance) -> None:
    levels = {"block": "blocked", "ask": "ask first", "note": "note"}
    for finding in clearance.findings:
        state = "doctor asked" if finding.cleared else levels[finding.level]
        what = ", ".join(finding.groups) or ("some foods" if not finding.everything else "all")
        say(f"  {finding.code}: {state} ({what})")
        say(wrapped(finding.sentence(), "      "))


def _plain(finding: Any) -> dict[str, Any]:
    return {
        "code": finding.code,
        "result": finding.result,
        "level": finding.level,
        "groups": list(finding.groups),
        "traits": list(finding.traits),
        "everything": finding.everything,
        "reason": finding.reason,
        "source": finding.source,
        "certainty": finding.certainty,
    }
