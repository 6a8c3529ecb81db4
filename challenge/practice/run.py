"""A whole audit: folders to spool, spool to outputs; what an interruption leaves can be resumed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

from challenge import __version__
from challenge.errors import ChallengeError
from challenge.practice.audit import (
    append_to_spool,
    audit_folder,
    audited,
    client_folders,
    mend_spool,
    settings_digest,
    shown_code,
)
from challenge.practice.records import Record

Done = Mapping[str, Mapping[str, Any]]
"""Client -> how its record was made."""

_NAMED: Final = 5


@dataclass(frozen=True, kw_only=True, slots=True)
class Task:
    """What is to be done.

    Attributes
    ----------
    folders
        Every client folder.
    todo
        Those without a record yet.
    spool
        Where the records go.
    as_of
        Day as of which all of it is audited: the one on which the run was begun. None takes every
        plan as over.
    """

    folders: tuple[Path, ...]
    todo: tuple[Path, ...]
    spool: Path
    as_of: dt.date | None = None


@contextmanager
def spool_for(target: Path | None) -> Iterator[Path]:
    """Give the spool that belongs to an output, or one that is thrown away after use."""
    if target is not None:
        yield target.with_name(f"{target.name}.partial.jsonl")
        return
    import tempfile

    with tempfile.TemporaryDirectory() as directory:
        yield Path(directory) / "spool.jsonl"


def prepare(
    directory: Path,
    spool: Path,
    resume: bool = False,
    today: dt.date | None = None,
    afresh: bool = False,
) -> Task:
    """Find the folders and what is left to do.

    Parameters
    ----------
    directory
        It holds the client folders.
    spool
        Where the records go, and where those of an interrupted run are.
    resume
        Go on with an interrupted run, as of the day on which it was begun.
    today
        Day as of which a new run audits.
    afresh
        Throw an interrupted run away.

    Raises
    ------
    ChallengeError
        If there are no folders, an unfinished run is in the way, or what is to be resumed holds
        clients of another directory, was begun by another version of the program, or under other
        settings.
    """
    folders = client_folders(directory)
    if afresh:
        spool.unlink(missing_ok=True)
    elif spool.exists() and not resume:
        raise ChallengeError(
            f"An unfinished audit is in {spool}. Add --resume to go on with it, or --afresh to "
            "begin anew."
        )
    done = mend_spool(spool)
    by_code = {shown_code(folder): folder for folder in folders}
    foreign = set(done) - set(by_code)
    if foreign:
        raise ChallengeError(
            f"{spool} holds {len(foreign)} clients that are not in {directory}. Is it of another "
            "directory, or were folders taken away? Name other outputs, or begin anew with "
            "--afresh."
        )
    _refuse_other_version(spool, done)
    _refuse_other_settings(spool, done, by_code)
    todo = tuple(folder for code, folder in by_code.items() if code not in done)
    as_of = _begun_on(spool, done) if done else today
    return Task(folders=tuple(folders), todo=todo, spool=spool, as_of=as_of)


def _refuse_other_version(spool: Path, done: Done) -> None:
    others = {str(made.get("version") or "unknown") for made in done.values()} - {__version__}
    if others:
        raise ChallengeError(
            f"{spool} was begun by another version of the program ({', '.join(sorted(others))}; "
            f"this is {__version__}), and results of two versions do not belong in one table. "
            "Begin anew with --afresh, or go on with that version."
        )


def _refuse_other_settings(spool: Path, done: Done, folders: Mapping[str, Path]) -> None:
    changed = [
        code
        for code, made in done.items()
        if made.get("settings") != settings_digest(folders[code])
    ]
    if changed:
        more = " ..." if len(changed) > _NAMED else ""
        raise ChallengeError(
            f"The settings of {len(changed)} client{'s' * (len(changed) > 1)} were changed after "
            f"the audit in {spool} had come to them: {', '.join(changed[:_NAMED])}{more}. Begin "
            "anew with --afresh."
        )


def _begun_on(spool: Path, done: Done) -> dt.date | None:
    days = {made.get("as_of") for made in done.values()}
    if len(days) > 1:
        raise ChallengeError(f"{spool} holds results of several days. Begin anew with --afresh.")
    day = days.pop()
    return dt.date.fromisoformat(day) if day else None


def carry_out(task: Task, jobs: int) -> Iterator[Record]:
    """Audit what is left to do; give each record once it is in the spool."""
    work = partial(audit_folder, today=task.as_of)
    return append_to_spool(task.spool, audited(task.todo, jobs, work))
