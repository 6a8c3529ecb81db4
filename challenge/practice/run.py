"""A whole audit: folders to spool, spool to outputs; what an interruption leaves can be resumed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.errors import ChallengeError
from challenge.practice.audit import (
    append_to_spool,
    audit_folder,
    audited,
    client_folders,
    mend_spool,
    shown_code,
)
from challenge.practice.records import Record

if TYPE_CHECKING:
    import datetime as dt


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
    """

    folders: tuple[Path, ...]
    todo: tuple[Path, ...]
    spool: Path


@contextmanager
def spool_for(target: Path | None) -> Iterator[Path]:
    """Give the spool that belongs to an output, or one that is thrown away after use."""
    if target is not None:
        yield target.with_name(f"{target.name}.partial.jsonl")
        return
    import tempfile

    with tempfile.TemporaryDirectory() as directory:
        yield Path(directory) / "spool.jsonl"


def prepare(directory: Path, spool: Path, resume: bool) -> Task:
    """Find the folders and what is left to do.

    Raises
    ------
    ChallengeError
        If there are no folders, an unfinished run is in the way, or what is to be resumed holds
        clients of another directory.
    """
    folders = client_folders(directory)
    if spool.exists() and not resume:
        raise ChallengeError(
            f"An unfinished audit is in {spool}. Add --resume to go on with it, or remove the file."
        )
    done = mend_spool(spool)
    foreign = done - {shown_code(folder) for folder in folders}
    if foreign:
        raise ChallengeError(
            f"{spool} holds {len(foreign)} clients that are not in {directory}. Is it of another "
            "directory, or were folders taken away? Name other outputs, or remove the file."
        )
    todo = tuple(folder for folder in folders if shown_code(folder) not in done)
    return Task(folders=tuple(folders), todo=todo, spool=spool)


def carry_out(task: Task, jobs: int, today: dt.date | None = None) -> Iterator[Record]:
    """Audit what is left to do, as of a day; give each record once it is in the spool."""
    return append_to_spool(task.spool, audited(task.todo, jobs, partial(audit_folder, today=today)))
