"""How what an analysis asks for is laid: the command that adds a repeat to client.toml."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from challenge.errors import ChallengeError
from challenge.terms import CONTROL
from challenge.wording import Statement

if TYPE_CHECKING:
    from challenge.analysis.result import Analysis, GroupResult
    from challenge.protocol.plan import Plan
    from challenge.protocol.record import Record
    from challenge.protocol.settings import Settings


def repeat_command(
    folder: Path,
    plan: Plan,
    groups: Sequence[GroupResult],
    today: dt.date,
    *,
    whole: bool = False,
) -> str:
    """Return the command that lays what would tell most of these groups; empty without any.

    A group with doses still to come needs none. With ``whole`` the whole challenge is laid again
    where the analysis asks for nothing.
    """
    coming = {day.fodmap_group for day in plan if day.phase == "challenge" and day.date >= today}
    options: dict[str, None] = {}
    for group in groups:
        name = group.fodmap_group
        option = _option(name, group.next) or (f"--repeat {name}" if whole else "")
        if option == "--control" and CONTROL in plan.groups():
            continue
        if option and name not in coming:
            options[option] = None
    return " ".join(["challenge plan", shlex.quote(str(folder)), *options]) if options else ""


def unclear_groups(analysis: Analysis) -> list[GroupResult]:
    """Return the groups of which nothing could be said."""
    return [group for group in analysis.groups if group.suggested_step is None]


def _option(group: str, wanted: Statement) -> str:
    """What the plan is to be told; empty where the analysis asks for nothing."""
    inner = wanted.values.get("next")
    if isinstance(inner, Statement):
        return _option(group, inner)
    if wanted.code in {"next-steps", "next-step-beyond", "next-steps-beyond"}:
        first, last = wanted.values["first"], wanted.values["last"]
        return f"--repeat {group}={first}" + ("" if first == last else f"-{last}")
    return {"next-control-challenge": "--control", "next-whole": f"--repeat {group}"}.get(
        wanted.code, ""
    )


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
        if CONTROL in plan.groups():
            raise ChallengeError(
                "The plan has a control challenge already; --repeat glucose lays another."
            )
        protocol["control"] = True
    return {**document, "protocol": protocol}
