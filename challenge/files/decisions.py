"""decisions.csv: what the dietitian decided, one row each time; rows are only ever added."""

from __future__ import annotations

import csv
import datetime as dt
import io
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Final, get_args

from challenge.analysis.decision import Decision
from challenge.diary.guard import guard, unguard
from challenge.errors import ChallengeError
from challenge.files.atomic import write_atomic
from challenge.files.folder import DECISIONS
from challenge.problems import Problem
from challenge.terms import FodmapGroup, Outcome

COLUMNS: Final = (
    "fodmap_group",
    "outcome",
    "suggested_step",
    "suggested_g",
    "decided_step",
    "decided_g",
    "reason",
    "by",
    "when",
    "evidence",
)


def read_decisions(folder: str | os.PathLike[str]) -> tuple[Decision, ...]:
    """Read every decision of a client folder, oldest first; none when there is no file.

    Raises
    ------
    ChallengeError
        If the file cannot be read; all its bad rows are listed.
    """
    path = Path(folder) / DECISIONS
    if not path.exists():
        return ()
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ChallengeError(
            f"{DECISIONS} cannot be read as text in UTF-8. Restore it from a copy."
        ) from error
    rows = csv.DictReader(io.StringIO(text, newline=""))
    missing = [name for name in COLUMNS if name not in (rows.fieldnames or ())]
    if missing:
        raise ChallengeError(
            f"{DECISIONS} lacks the columns {', '.join(missing)}. Restore it from a copy."
        )
    decisions: list[Decision] = []
    problems: list[Problem] = []
    for row in rows:
        try:
            decisions.append(_decision(row))
        except (ValueError, TypeError) as error:
            problems.append(
                Problem(
                    code="bad-decision",
                    severity="error",
                    message=f"This decision cannot be read ({error}).",
                    remedy="Restore the row as `challenge decide` wrote it.",
                    file=DECISIONS,
                    line=rows.line_num,
                )
            )
    if problems:
        raise ChallengeError(f"{DECISIONS} has rows that cannot be read.", problems)
    return tuple(decisions)


def add_decision(folder: str | os.PathLike[str], decision: Decision) -> Path:
    """Add one decision after those that are there and return the file's path."""
    decisions = (*read_decisions(folder), decision)
    return write_atomic(Path(folder) / DECISIONS, _text(decisions))


def _text(decisions: Iterable[Decision]) -> str:
    held = io.StringIO(newline="")
    writer = csv.writer(held, lineterminator="\n")
    writer.writerow(COLUMNS)
    for d in decisions:
        writer.writerow(
            (
                d.fodmap_group,
                d.outcome,
                "" if d.suggested_step is None else d.suggested_step,
                "" if d.suggested_g is None else d.suggested_g,
                "" if d.decided_step is None else d.decided_step,
                "" if d.decided_g is None else d.decided_g,
                guard(d.reason),
                guard(d.by),
                d.when.isoformat(timespec="minutes"),
                d.evidence,
            )
        )
    return held.getvalue()


def _decision(row: dict[str, str]) -> Decision:
    group, outcome = row["fodmap_group"], row["outcome"]
    if group not in get_args(FodmapGroup):
        raise ValueError(f"no such group: {group!r}")
    if outcome not in get_args(Outcome):
        raise ValueError(f"no such outcome: {outcome!r}")
    return Decision(
        fodmap_group=group,  # type: ignore[arg-type]  # checked above
        outcome=outcome,  # type: ignore[arg-type]
        suggested_step=int(row["suggested_step"]) if row["suggested_step"] else None,
        suggested_g=float(row["suggested_g"]) if row["suggested_g"] else None,
        decided_step=int(row["decided_step"]) if row["decided_step"] else None,
        decided_g=float(row["decided_g"]) if row["decided_g"] else None,
        reason=unguard(row["reason"]),
        by=unguard(row["by"]),
        when=dt.datetime.fromisoformat(row["when"]),
        evidence=row["evidence"],
    )
