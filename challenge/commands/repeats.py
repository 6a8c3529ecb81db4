"""How what an analysis asks for is laid: the command that adds a repeat to client.toml."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from challenge.errors import ChallengeError
from challenge.terms import CONTROL
from challenge.wording import Statement

_REPEAT: Final = "--repeat "
_CONTROL: Final = "--control"

if TYPE_CHECKING:
    from challenge.analysis.result import Analysis, GroupResult
    from challenge.commands.client import Analysed
    from challenge.protocol.plan import Plan
    from challenge.protocol.record import Record
    from challenge.protocol.settings import Settings


def repeat_commands(
    known: Analysed, groups: Sequence[GroupResult], today: dt.date, *, of_group: bool = False
) -> list[str]:
    """Return the commands that lay what would tell most of these groups.

    What is to come anyway needs none, and none is named that would be refused. With ``of_group``
    the group itself is laid again, whole where the analysis does not ask for some of its steps.
    """
    from challenge.protocol.follow import followed
    from challenge.protocol.replan import replan

    if known.settings.screening.asked_on is None:
        return []
    try:
        plan = followed(known.plan, known.record, known.settings, today)
        laid = replan(plan, known.record, known.settings, today).plan
    except ChallengeError:
        return []
    options: dict[str, None] = {}
    for group in groups:
        name = group.fodmap_group
        asked = _option(name, group.next, laid)
        if asked == _CONTROL and not of_group:
            options[_CONTROL] = None
        elif asked or of_group:
            # alone a step may not be laid that lies above a stop; the whole challenge may
            wanted = (asked.removeprefix(_REPEAT), name) if asked.startswith(_REPEAT) else (name,)
            options |= dict.fromkeys(
                [f"{_REPEAT}{text}" for text in wanted if _would_lay(text, known, laid, today)][:1]
            )
    folder = shlex.quote(str(known.folder))
    return [f"challenge plan {folder} {option}" for option in options]


def _would_lay(text: str, known: Analysed, laid: Plan, today: dt.date) -> bool:
    from challenge.protocol.repeats import add_repeats

    try:
        add_repeats([text], laid, known.record, known.settings, today)
    except ChallengeError:
        return False
    return True


def unclear_groups(analysis: Analysis) -> list[GroupResult]:
    """Return the groups of which nothing could be said."""
    return [group for group in analysis.groups if group.suggested_step is None]


def _option(group: str, wanted: Statement, laid: Plan) -> str:
    """What the plan is to be told; empty where the analysis asks for nothing."""
    inner = wanted.values.get("next")
    if isinstance(inner, Statement):
        return _option(group, inner, laid)
    if wanted.code in {"next-steps", "next-step-beyond", "next-steps-beyond"}:
        first, last = wanted.values["first"], wanted.values["last"]
        return f"{_REPEAT}{group}={first}" + ("" if first == last else f"-{last}")
    if wanted.code == "next-control-challenge":
        return "" if CONTROL in laid.groups() else _CONTROL
    return f"{_REPEAT}{group}" if wanted.code == "next-whole" else ""


def with_repeats(
    document: dict[str, Any],
    wanted: Sequence[str],
    control: bool,
    plan: Plan,
    record: Record,
    settings: Settings,
    today: dt.date,
) -> dict[str, Any]:
    """Return client.toml as it is to be: with what is to be eaten again, or a control challenge.

    Raises
    ------
    ChallengeError
        With everything that cannot be laid, and why.
    """
    from challenge.protocol.repeats import add_repeats

    protocol = dict(document.get("protocol", {}))
    if wanted:
        repeats = add_repeats(wanted, plan, record, settings, today)
        protocol["repeats"] = [
            {
                "fodmap_group": repeat.fodmap_group,
                "cycle": repeat.cycle,
                **({"steps": list(repeat.steps)} if repeat.steps else {}),
            }
            for repeat in repeats
        ]
    if control:
        if settings.protocol.control:
            raise ChallengeError("client.toml asks for a control challenge already.")
        protocol["control"] = True
    return {**document, "protocol": protocol}
