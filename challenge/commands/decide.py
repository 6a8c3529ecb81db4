"""``challenge decide``: the dietitian signs a suggestion off, or overrides it, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from challenge.commands.app import app
from challenge.commands.clock import now
from challenge.commands.screen import say, say_json, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.analysis.decision import Decision, Standing
    from challenge.analysis.result import Analysis, GroupResult
    from challenge.commands.client import Analysed
    from challenge.protocol.alarms import Alarm
    from challenge.protocol.settings import Settings


@app.command()
def decide(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    group: Annotated[
        str | None,
        typer.Argument(metavar="[GROUP]", help="The group; without it, the state of all groups."),
    ] = None,
    step: Annotated[
        int | None,
        typer.Option(min=0, help="Highest step to use; 0 is not even the lowest for now."),
    ] = None,
    unclear: Annotated[
        bool, typer.Option("--unclear", help="Leave it open: the group is to be tested again.")
    ] = False,
    accept: Annotated[bool, typer.Option("--accept", help="Accept the suggestion.")] = False,
    reason: Annotated[str, typer.Option(help="Why, in a sentence.")] = "",
    by: Annotated[str, typer.Option(help="Initials of who decides.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Accept or override the suggestion for one group; the history is kept.

    A decision is out of date as soon as new data change what it rests on. While words in the diary
    wait for a doctor's answer, only --step 0 and --unclear can be decided.

    Example: challenge decide juniper lactose --accept --reason "agrees with her own view" --by AB
    """
    from challenge.commands.client import load_analysed
    from challenge.commands.waiting import tell_waiting

    chosen = sum((step is not None, unclear, accept))
    if group is not None and chosen != 1:
        raise typer.BadParameter("give exactly one of --accept, --step N and --unclear.")
    if group is None and chosen:
        raise typer.BadParameter("name the GROUP to decide on.")
    known = load_analysed(client)
    tell_waiting(known.alarms, known.folder)
    if group is None:
        _show_all(known, as_json)
        return
    from challenge.files.decisions import add_decision

    made = _decision(known.analysis, group, step, accept, reason.strip(), by.strip())
    _refuse_waiting(known.alarms, made)
    _refuse_held(known.analysis, known.settings, made)
    path = add_decision(known.folder, made)
    if as_json:
        say_json({**_plain(made), "alarms": _plain_alarms(known.alarms), "file": str(path)})
    else:
        say(f"{made.fodmap_group}: {_words(made.decided_step, made.decided_g)}")
        say(
            "Otherwise than suggested; the reason stands in the letter."
            if made.is_override
            else "As suggested."
        )
        if made.decided_step is None and not known.alarms:
            _say_repeat(known, made.fodmap_group)


def _say_repeat(known: Analysed, group: str) -> None:
    from challenge.commands.repeats import repeat_commands

    commands = repeat_commands(known, [known.analysis.group(group)], now().date(), of_group=True)
    for command in commands:
        say("To lay it again:")
        say(f"  {command}")


def _decision(
    analysis: Analysis, group: str, step: int | None, accept: bool, reason: str, by: str
) -> Decision:
    from challenge.analysis.decision import Decision, evidence_digest

    result = _group(analysis, group)
    if not by or len(by) > 10:
        raise ChallengeError("Say who decides: --by with initials, at most 10 letters.")
    if not reason:
        raise ChallengeError("Say why: --reason with a sentence. It stands in the letter's annex.")
    decided = result.suggested_step if accept else step
    return Decision(
        fodmap_group=result.fodmap_group,
        outcome=result.outcome,
        suggested_step=result.suggested_step,
        suggested_g=result.suggested_g,
        decided_step=decided,
        decided_g=result.suggested_g if accept else _grams(result, decided),
        reason=reason,
        by=by,
        when=now(),
        evidence=evidence_digest(result, analysis.settings),
    )


def _refuse_waiting(alarms: Sequence[Alarm], made: Decision) -> None:
    """No decision can release foods while the diary waits for a doctor; holding off can stand."""
    if alarms and made.decided_step:
        raise ChallengeError(
            f"{made.fodmap_group}: step {made.decided_step} would bring foods back while that "
            "waits, so nothing was decided. Only --step 0 or --unclear can be decided until the "
            "doctor's answer is recorded."
        )


def _refuse_held(analysis: Analysis, settings: Settings, made: Decision) -> None:
    """No decision can release what screening blocks or leaves to a doctor."""
    from challenge.letter.holds import held_up

    why = held_up(analysis, settings.screening).get(made.fodmap_group)
    if why and made.decided_step:
        raise ChallengeError(
            f"{made.fodmap_group} is held up by the screening on record: {why} "
            "Only --step 0 or --unclear can be decided while that stands."
        )


def _group(analysis: Analysis, group: str) -> GroupResult:
    try:
        return analysis.group(group.strip().lower())
    except KeyError:
        names = ", ".join(g.fodmap_group for g in analysis.groups)
        raise ChallengeError(
            f"{group} was not challenged. Groups of this client: {names}."
        ) from None


def _grams(result: GroupResult, step: int | None) -> float | None:
    if step is None:
        return None
    if step == 0:
        return 0.0
    eaten = {dose.step for dose in result.doses if dose.eaten_g is not None}
    grams = {s.step: s.fodmap_g for s in result.steps}
    if step not in grams:
        known = ", ".join(str(s) for s in sorted(grams))
        raise ChallengeError(f"{result.fodmap_group} has no step {step}. Its steps: {known}.")
    if step not in eaten:
        raise ChallengeError(
            f"Step {step} of {result.fodmap_group} was never eaten, so it cannot be decided on. "
            f"Choose a step that was, or --unclear."
        )
    return grams[step]


def _show_all(known: Analysed, as_json: bool) -> None:
    from challenge.analysis.decision import standings

    analysis = known.analysis
    found = standings(analysis, known.decisions)
    if as_json:
        say_json(
            {
                "alarms": _plain_alarms(known.alarms),
                "groups": [
                    {
                        "fodmap_group": g.fodmap_group,
                        "suggested_step": g.suggested_step,
                        "suggested_g": g.suggested_g,
                        "state": _state(found[g.fodmap_group]),
                        "decision": _plain(decided) if decided else None,
                    }
                    for g in analysis.groups
                    for decided in (found[g.fodmap_group].decision,)
                ],
            }
        )
        return
    for g in analysis.groups:
        standing = found[g.fodmap_group]
        line = f"{g.fodmap_group}: suggested {_words(g.suggested_step, g.suggested_g)}; "
        decided = standing.decision
        if decided is None:
            say(line + "not decided")
            continue
        late = "" if standing.current else " OUT OF DATE: new data since, decide again"
        told = f"decided {_words(decided.decided_step, decided.decided_g)} by {decided.by}"
        say(wrapped(f"{line}{told} on {decided.when:%Y-%m-%d}.{late}", hanging="  "))


def _state(standing: Standing) -> str:
    if standing.decision is None:
        return "open"
    return "decided" if standing.current else "out-of-date"


def _words(step: int | None, grams: float | None) -> str:
    if step is None:
        return "unclear, test again"
    if step == 0:
        return "not even the lowest step for now"
    return f"step {step}" + ("" if grams is None else f" ({grams:g} g)")


def _plain_alarms(alarms: Sequence[Alarm]) -> list[dict[str, str]]:
    return [{"date": a.date.isoformat(), "sign": a.sign, "text": a.text} for a in alarms]


def _plain(decision: Decision) -> dict[str, Any]:
    return {
        "fodmap_group": decision.fodmap_group,
        "outcome": decision.outcome,
        "suggested_step": decision.suggested_step,
        "suggested_g": decision.suggested_g,
        "decided_step": decision.decided_step,
        "decided_g": decision.decided_g,
        "reason": decision.reason,
        "by": decision.by,
        "when": decision.when.isoformat(timespec="minutes"),
        "evidence": decision.evidence,
    }
