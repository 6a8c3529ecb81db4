"""All clients below a directory, in parallel, in order, one after the other to a spool file.

The spool is a file of JSON lines, one per client. It is what makes a run resumable and keeps the
memory flat: nothing but the records in flight is held. Tables and reports are made from it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from challenge import __version__
from challenge.errors import ChallengeError
from challenge.files.atomic import private
from challenge.files.folder import PLAN, is_client_code
from challenge.practice.records import Record, csv_columns, csv_rows, problem_record, record_of
from challenge.problems import errors_in

if TYPE_CHECKING:
    import datetime as dt

    from challenge.analysis.blinded import OpenedTrial
    from challenge.analysis.decision import Decision
    from challenge.diary.model import Diary
    from challenge.protocol.plan import Plan
    from challenge.protocol.settings import Settings

_BLOCK: Final = 1 << 16
CHUNK: Final = 16
"""Clients per task: enough to hide the cost of passing it on, few enough for steady progress."""


def client_folders(directory: Path) -> list[Path]:
    """Return the folders of clients directly below a directory, in the order of their names.

    Raises
    ------
    ChallengeError
        If it is no directory, is itself a client folder, or holds no folder at all.
    """
    if not directory.is_dir():
        raise ChallengeError(f"{directory} is no directory; name the one that holds the clients.")
    if (directory / PLAN).exists():
        raise ChallengeError(
            f"{directory} is one client's folder; name the directory above it, or use "
            "`challenge analyse`."
        )
    folders = [path for path in directory.iterdir() if path.is_dir() and path.name[0] not in "._"]
    if not folders:
        raise ChallengeError(f"{directory} holds no client folders.")
    return sorted(folders, key=lambda path: path.name)


def shown_code(folder: Path) -> str:
    """Return the client's code; a folder that is not named by a code is shown without its name.

    A folder name that is no code may be a person's name, which has no place in an audit; a short
    hash tells such folders apart.
    """
    if is_client_code(folder.name):
        return folder.name
    return f"unnamed-{hashlib.sha256(folder.name.encode()).hexdigest()[:8]}"


def audit_folder(folder: Path, today: dt.date | None = None) -> Record:
    """Return one client's record; whatever is wrong with the folder becomes its ``problem``.

    Challenges that have not begun by ``today`` are not judged; None takes every plan as over. How
    it was made stands in it: a run that goes on later must not mix two ways.
    """
    made = {
        "version": __version__,
        "as_of": today.isoformat() if today is not None else None,
        "settings": settings_digest(folder),
    }
    return {**_audited(folder, today), "made": made}


def settings_digest(folder: Path) -> str | None:
    """Return a short digest of what settings do to results; None if they cannot be read.

    Screening and diet are left out: they change no result, and a digest of so few possible answers
    would give them away.
    """
    from challenge.files.reading import read_settings

    try:
        text = read_settings(folder).model_dump_json(exclude={"client", "screening", "diet"})
    except Exception:
        # the record says what is wrong with the folder
        return None
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _audited(folder: Path, today: dt.date | None) -> Record:
    code = shown_code(folder)
    if code != folder.name:
        return problem_record(
            code, "The folder is not named by a code of letters, digits, - and _; rename it."
        )
    if not (folder / PLAN).exists():
        return problem_record(code, f"There is no {PLAN}.")
    try:
        from challenge.files.blinding import opened_trials
        from challenge.files.decisions import read_decisions
        from challenge.files.reading import read_diary, read_plan, read_settings

        plan = read_plan(folder / PLAN)
        settings = read_settings(folder)
        return audit_client(
            code,
            read_diary(folder),
            plan,
            settings,
            read_decisions(folder),
            opened_trials(folder),
            today,
        )
    except ChallengeError as error:
        return problem_record(code, _in_one_line(error, folder))
    except Exception as error:
        # a bug on one diary must not cost a practice the other nine thousand
        return problem_record(
            code, f"The program failed here ({type(error).__name__}); try `challenge analyse`."
        )


def audit_client(
    code: str,
    diary: Diary,
    plan: Plan,
    settings: Settings,
    decisions: Iterable[Decision] = (),
    opened: Sequence[OpenedTrial] = (),
    today: dt.date | None = None,
) -> Record:
    """Return the record of a client in memory."""
    from challenge.analysis.analyse import analyse

    return record_of(code, analyse(diary, plan, settings, opened, today), plan, decisions)


def _in_one_line(error: ChallengeError, folder: Path) -> str:
    """Say where and what, never in words that somebody typed: they may name a person.

    The name of a kind of problem is ours; its message, its column and the way to the folder may
    repeat what was written.
    """
    found = errors_in(error.problems)
    if not found:
        return error.message.replace(str(folder), "the folder")
    first = found[0]
    place = [first.file.partition(" (")[0]] if first.file else []  # the rest is a sheet's name
    place += [f"line {first.line}"] if first.line else []
    kind = first.code.replace("-", " ")
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return (f"{', '.join(place)}: " if place else "") + kind + more


def audit_chunk(folders: Sequence[Path], work: Callable[[Path], Record]) -> list[Record]:
    """Return the records of some folders: one task of a parallel run."""
    return [work(folder) for folder in folders]


def audited(
    folders: Sequence[Path],
    jobs: int = 1,
    work: Callable[[Path], Record] = audit_folder,
    chunk: int = CHUNK,
) -> Iterator[Record]:
    """Give the record of every folder, in the order of the folders whatever the number of jobs.

    Runs on whatever backend ``joblib.parallel_config`` has set (loky by default; dask and ray
    register themselves there), so a cluster needs no change here.
    """
    from joblib import Parallel, delayed

    chunks = (folders[start : start + chunk] for start in range(0, len(folders), chunk))
    parallel = Parallel(n_jobs=jobs, return_as="generator", pre_dispatch="2*n_jobs")
    for records in parallel(delayed(audit_chunk)(part, work) for part in chunks):
        yield from records


def append_to_spool(spool: Path, records: Iterable[Record]) -> Iterator[Record]:
    """Write records to the spool as they come and pass them on."""
    with open(spool, "a", encoding="utf-8", opener=private) as file:
        for record in records:
            file.write(json.dumps(record, ensure_ascii=False, allow_nan=False) + "\n")
            file.flush()
            yield record


def read_spool(spool: Path) -> Iterator[Record]:
    """Give the records of a spool; a last line cut off by an interruption is left out."""
    with spool.open(encoding="utf-8") as file:
        for line in file:
            if line.endswith("\n"):
                yield json.loads(line)


def mend_spool(spool: Path) -> dict[str, Mapping[str, Any]]:
    """Cut off a half-written last line; return the codes done already and how they were made."""
    if not spool.exists():
        return {}
    with spool.open("rb+") as file:
        end = file.seek(0, os.SEEK_END)
        while end:
            start = max(end - _BLOCK, 0)
            file.seek(start)
            whole = file.read(end - start).rfind(b"\n") + 1
            end = start
            if whole:
                end += whole
                break
        file.truncate(end)
    return {record["client"]: record.get("made", {}) for record in read_spool(spool)}


def write_csv(path: Path, spool: Path) -> None:
    """Write the audit's CSV from the spool, in two passes so that nothing piles up."""
    import csv

    n_steps = 3
    for record in read_spool(spool):
        for group in record["groups"]:
            n_steps = max(n_steps, len(group["probability"]) - 1)
    with open(path, "w", encoding="utf-8", newline="", opener=private) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(csv_columns(n_steps))
        for record in read_spool(spool):
            writer.writerows(csv_rows(record, n_steps))
