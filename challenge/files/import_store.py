"""The folder ``imports/`` of a client: every import kept unchanged, one folder each.

``imports/0003-5d1f0a9c44be/`` holds the files as they came (``original-1.csv``), the entries read
from them (``read-foods.csv`` ...), rows that were refused, and ``import.json``. It is made aside
and named by one ``os.replace``: it is there wholly or not at all. The number gives the order, the
rest of the name is a hash of the content. ``state.json`` says which imports the diary's tables hold
and what those tables looked like when they were written here.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from challenge.errors import ChallengeError
from challenge.files import folder as names
from challenge.files.atomic import ASIDE, FILE_MODE, sync_folder, write_atomic
from challenge.problems import Problem

if TYPE_CHECKING:
    from challenge.diary.options import ReadOptions
    from challenge.diary.rows import Row, Rows

Kind = Literal["files", "entries", "found", "by-hand"]

LOCK: Final = ".lock"
STATE: Final = "state.json"
MANIFEST: Final = "import.json"
TABLE_OF: Final = {"foods": names.FOODS, "symptoms": names.SYMPTOMS, "events": names.EVENTS}
_FORMAT: Final = 1
_NAME: Final = re.compile(r"(\d{4,})-[0-9a-f]{12}")
_BACK: Final = "undone-"


@dataclass(frozen=True, kw_only=True)
class Draft:
    """An import to be stored.

    Attributes
    ----------
    kind
        ``files`` that were added, ``entries`` that were typed, tables ``found`` in the folder when
        the first import came, tables changed ``by-hand`` since.
    rows
        What was read.
    originals
        Bytes as they came, each with the ending of its name.
    extra
        Further files by name, such as refused rows.
    correct
        Entries replace earlier ones of the same time and symptom or food.
    replaces
        Whole tables that it replaces.
    source
        Where typed entries came from.
    options
        How odd files were read.
    """

    kind: Kind
    rows: Rows
    originals: tuple[tuple[str, bytes], ...]
    extra: Mapping[str, str] | None = None
    correct: bool = False
    replaces: tuple[str, ...] = ()
    source: str = ""
    options: ReadOptions
    when: dt.datetime | None = None

    @cached_property
    def hashes(self) -> tuple[str, ...]:
        """Hashes of the originals."""
        return tuple(digest(data) for _, data in self.originals)


@dataclass(frozen=True, kw_only=True)
class Import:
    """An import that is stored; attributes as in `Draft`."""

    path: Path
    kind: Kind
    hashes: tuple[str, ...]
    correct: bool
    replaces: tuple[str, ...]
    source: str
    encoding: str | None
    date_order: str | None
    symptoms: tuple[str, ...]
    files: Mapping[str, str]
    added_at: str | None

    @property
    def name(self) -> str:
        """Order number and content hash."""
        return self.path.name

    @property
    def words(self) -> str:
        """Which import it is, for a person."""
        made = {"found": "tables that were there first, ", "by-hand": "a change by hand, "}
        day = f" of {self.added_at[:10]}" if self.added_at else ""
        return f"{made.get(self.kind, '')}import {self.name}{day}"


@dataclass(frozen=True, kw_only=True)
class State:
    """What the tables hold.

    Attributes
    ----------
    imports
        Names of imports.
    tables
        Hashes that tables written here may have.
    gone
        Entries that were corrected or removed, each with its kind; None while tables are written.
    """

    imports: tuple[str, ...]
    tables: Mapping[str, tuple[str, ...]]
    gone: tuple[tuple[str, Row], ...] | None = None


def digest(data: bytes) -> str:
    """Return the SHA-256 of bytes."""
    return hashlib.sha256(data).hexdigest()


def table_digest(folder: Path, kind: str) -> str:
    """Return the hash of a table of the diary; empty when there is none."""
    try:
        return digest((folder / TABLE_OF[kind]).read_bytes())
    except FileNotFoundError:
        return ""


def stored_names(folder: Path) -> tuple[str, ...]:
    """Return the names of a client's imports, oldest first."""
    where = folder / names.IMPORTS
    if not where.is_dir():
        return ()
    found = [path.name for path in where.iterdir() if _NAME.fullmatch(path.name)]
    return tuple(sorted(found, key=_number))


def read_import(path: Path) -> Import:
    """Read what is written about an import.

    Raises
    ------
    ChallengeError
        If it is damaged.
    """
    try:
        told = json.loads((path / MANIFEST).read_text(encoding="utf-8"))
        if told["format"] != _FORMAT:
            raise ChallengeError(
                f"{names.IMPORTS}/{path.name} was written by a newer version of the program."
            )
        options = told["options"]
        return Import(
            path=path,
            kind=told["kind"],
            hashes=tuple(told["originals"]),
            correct=told["correct"],
            replaces=tuple(told["replaces"]),
            source=told["source"],
            encoding=options["encoding"],
            date_order=options["date_order"],
            symptoms=tuple(options["symptoms"]),
            files=dict(told["files"]),
            added_at=told["added_at"],
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise _damaged(path) from error


def read_import_rows(one: Import, symptoms: Iterable[str]) -> Rows:
    """Return the entries of an import, checked against their hashes.

    Parameters
    ----------
    one
        The import.
    symptoms
        Symptoms that the client follows now.

    Raises
    ------
    ChallengeError
        If a file of it was changed or lost.
    """
    from challenge.diary.intake import read_bytes
    from challenge.diary.options import ReadOptions
    from challenge.diary.rows import Rows
    from challenge.problems import errors_in

    options = ReadOptions(symptoms=tuple(dict.fromkeys((*symptoms, *one.symptoms))))
    rows = Rows()
    for file, told in one.files.items():
        if not file.startswith("read-"):
            continue
        try:
            data = (one.path / file).read_bytes()
        except OSError as error:
            raise _damaged(one.path) from error
        if digest(data) != told:
            raise _damaged(one.path)
        rows.extend(read_bytes(data, file, options))
    if errors_in(rows.problems):
        raise ChallengeError(f"{names.IMPORTS}/{one.name} cannot be read again.", rows.problems)
    return rows


def read_tables(folder: Path, imports: Sequence[Import], symptoms: Iterable[str]) -> Rows | None:
    """Return the entries of the tables where these are just what all imports add up to.

    So an import need not read again all that came before it. None where that cannot be told.
    """
    from challenge.diary.intake import read_bytes
    from challenge.diary.options import ReadOptions
    from challenge.diary.rows import Rows
    from challenge.problems import errors_in

    state = read_state(folder)
    if state is None or state.gone is None or state.imports != tuple(one.name for one in imports):
        return None
    named = dict.fromkeys((*symptoms, *(name for one in imports for name in one.symptoms)))
    options = ReadOptions(symptoms=tuple(named))
    rows = Rows()
    for kind, table in TABLE_OF.items():
        data = (folder / table).read_bytes() if (folder / table).exists() else b""
        if state.tables[kind] != ((digest(data) if data else ""),):
            return None
        if data:
            rows.extend(read_bytes(data, table, options))
    return None if errors_in(rows.problems) else rows


def write_import(folder: Path, draft: Draft) -> Import:
    """Store an import under the next number and return it; the caller holds the lock."""
    from challenge.files.writing import rows_bytes

    contents: dict[str, bytes] = {
        f"original-{number}{ending}": data
        for number, (ending, data) in enumerate(draft.originals, 1)
    }
    for kind, table in rows_bytes(draft.rows).items():
        if table:
            contents[f"read-{kind}.csv"] = table
    for name, text in (draft.extra or {}).items():
        contents[name] = text.encode("utf-8")
    files = {name: digest(data) for name, data in contents.items()}
    told = {
        "format": _FORMAT,
        "kind": draft.kind,
        "source": draft.source,
        "added_at": None if draft.when is None else draft.when.isoformat(timespec="minutes"),
        "correct": draft.correct,
        "replaces": list(draft.replaces),
        "options": {
            "encoding": draft.options.encoding,
            "date_order": draft.options.date_order,
            "symptoms": list(draft.options.symptoms),
        },
        "originals": list(draft.hashes),
        "files": files,
    }
    contents[MANIFEST] = json.dumps(told, indent=1, ensure_ascii=False).encode("utf-8")
    content_hash = digest(json.dumps(sorted(files.items())).encode())[:12]
    where = names.make_folder(folder / names.IMPORTS)
    target = where / f"{_next_number(where):04d}-{content_hash}"
    aside = Path(tempfile.mkdtemp(prefix=ASIDE, dir=where))
    for name, data in contents.items():
        _write_through(aside / name, data)
    sync_folder(aside)
    os.replace(aside, target)  # noqa: PTH105  the one step that makes the import exist
    sync_folder(where)
    return read_import(target)


def set_back(one: Import) -> Path:
    """Take an import out of the order by one renaming; its files stay under the new name."""
    target = one.path.with_name(f"{_BACK}{one.name}")
    os.replace(one.path, target)  # noqa: PTH105
    sync_folder(target.parent)
    return target


def clear_leftovers(folder: Path) -> None:
    """Remove what a process that was killed had begun; the caller holds the lock."""
    left = list((folder / names.IMPORTS).glob(f"{ASIDE}*"))
    # of the files beside, only the tables are written under the lock
    for table in names.TABLES:
        left += folder.glob(f"{ASIDE}{table}-*")
    for path in left:
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()


def read_state(folder: Path) -> State | None:
    """Return what the tables hold; None when nothing was ever imported, or it cannot be told."""
    try:
        told: Any = json.loads((folder / names.IMPORTS / STATE).read_text(encoding="utf-8"))
        tables = {kind: tuple(told["tables"][kind]) for kind in TABLE_OF}
        gone = told.get("gone")
        return State(
            imports=tuple(told["imports"]),
            tables=tables,
            gone=None if gone is None else tuple((kind, tuple(row)) for kind, row in gone),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def write_state(folder: Path, state: State) -> None:
    """Write what the tables hold."""
    told = {
        "imports": list(state.imports),
        "tables": {kind: list(hashes) for kind, hashes in state.tables.items()},
        "gone": state.gone,
    }
    write_atomic(folder / names.IMPORTS / STATE, json.dumps(told, indent=1))


def is_behind(folder: Path) -> bool:
    """Say whether the tables lack an import, because a process was stopped half-way."""
    stored = stored_names(folder)
    state = read_state(folder)
    if state is None:
        return bool(stored)
    return state.imports != stored or any(len(hashes) > 1 for hashes in state.tables.values())


def stale_problems(folder: Path) -> list[Problem]:
    """Return a warning when the tables lack an import because a process was stopped half-way."""
    if not is_behind(folder):
        return []
    return [
        Problem(
            code="tables-behind-imports",
            severity="warning",
            file=names.IMPORTS,
            message="An import was cut short before the diary's tables were written.",
            remedy="Add the file again with `challenge add`; that completes it.",
        )
    ]


def _number(name: str) -> int:
    return int(name.removeprefix(_BACK).split("-")[0])


def _next_number(where: Path) -> int:
    # numbers of imports that were taken back are not given again
    taken = [p.name for p in where.iterdir() if _NAME.fullmatch(p.name.removeprefix(_BACK))]
    return max(map(_number, taken), default=0) + 1


def _write_through(path: Path, data: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE_MODE)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _damaged(path: Path) -> ChallengeError:
    return ChallengeError(
        f"{names.IMPORTS}/{path.name} is damaged: a file was changed or lost. "
        "Restore that folder from a copy; imports are never to be edited."
    )
