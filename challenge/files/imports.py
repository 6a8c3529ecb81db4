"""Bring entries into a client's diary: files that were sent, entries that were typed.

The tables of the diary are rebuilt from the imports, which stay as they came. Nothing is stored
while an error stands.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import gc
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from challenge.errors import ChallengeError
from challenge.files import folder as names
from challenge.files import import_store as store
from challenge.files.gathering import put_together, refused_texts, stop_at_errors
from challenge.files.ledger import Added, TakenBack, opened
from challenge.files.reading import file_bytes, read_options, read_settings
from challenge.problems import Problem, errors_in

if TYPE_CHECKING:
    from challenge.diary.options import DateOrder
    from challenge.diary.rows import Rows

Entry = Mapping[str, object]
PathLike = str | os.PathLike[str]

_TYPED: Final = "what was typed"


def add_files(
    folder: PathLike,
    files: Sequence[PathLike],
    *,
    encoding: str | None = None,
    date_order: DateOrder | None = None,
    skip_bad_rows: bool = False,
    correct: bool = False,
    when: dt.datetime | None = None,
) -> Added:
    """Add diary files to a client's folder, all of them or none.

    Parameters
    ----------
    folder
        The client's folder.
    files
        CSV, XLSX or ODS files.
    encoding, date_order
        How they are to be read, where they do not tell themselves.
    skip_bad_rows
        Store the good rows and keep the others in a file beside.
    correct
        Where a score (or the amount of a food) differs from what is on record, take the file's; the
        other stays in the earlier import.
    when
        Time of adding, for the history.

    Raises
    ------
    ChallengeError
        With every problem of every file; then nothing was stored.
    """
    with _without_collecting():
        return _add_files(
            names.client_folder(folder),
            files,
            {"encoding": encoding, "date_order": date_order},
            skip_bad_rows=skip_bad_rows,
            correct=correct,
            when=when,
        )


@contextlib.contextmanager
def _without_collecting() -> Iterator[None]:
    """Keep Python from looking for garbage among millions of new objects, none of which is any."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _add_files(
    path: Path,
    files: Sequence[PathLike],
    told: Mapping[str, Any],
    *,
    skip_bad_rows: bool,
    correct: bool,
    when: dt.datetime | None,
) -> Added:
    from challenge.diary.intake import read_bytes
    from challenge.diary.rows import Rows

    options = read_options(read_settings(path), **told)
    originals: list[tuple[str, bytes]] = []
    parts: list[tuple[str, Rows]] = []
    for file in map(Path, files):
        data = file_bytes(file)
        if isinstance(data, Problem):
            parts.append((file.name, Rows(problems=[data])))
        else:
            originals.append((_ending(file), data))
            parts.append((file.name, read_bytes(data, file.name, options)))
    rows, problems = put_together(parts, skip_bad_rows)
    refused = [row for _, part in parts for row in part.refused] if skip_bad_rows else []
    stop_at_errors(problems)
    if not any(map(rows.count, store.TABLE_OF)):
        raise ChallengeError("There is no entry to add in what was given.", problems)
    draft = store.Draft(
        kind="files",
        rows=rows,
        originals=tuple(originals),
        extra=refused_texts(parts) if skip_bad_rows else None,
        correct=correct,
        options=options,
        when=when,
    )
    with opened(path, when) as ledger:
        added = ledger.add(draft, parts)
    kept = path / names.IMPORTS / added.name if added.name else None
    return dataclasses.replace(
        added,
        refused=len(refused),
        refused_files=tuple(kept / name for name in draft.extra or ()) if kept else (),
        problems=(*problems, *added.problems),
    )


def record_entries(
    folder: PathLike,
    *,
    foods: Sequence[Entry] = (),
    symptoms: Sequence[Entry] = (),
    events: Sequence[Entry] = (),
    source: str = "log",
    correct: bool = False,
    when: dt.datetime | None = None,
) -> Added:
    """Add entries that were typed; they are checked by the same reader as files.

    An entry that is on record already changes nothing. One that contradicts the record is refused,
    unless ``correct`` says that it is meant: then it replaces what is on record for the same time
    and symptom (or food), the earlier value stays in its import, and a file that brings the earlier
    value again does not bring it back. `undo_last` restores the earlier value.

    Parameters
    ----------
    folder
        The client's folder.
    foods, symptoms, events
        Entries by column name of the contract; values are texts, numbers, dates or times, None for
        what is not known.
    source
        Where they come from, for the history.
    correct
        They replace what contradicts them.
    when
        Time of adding, for the history.

    Raises
    ------
    ChallengeError
        With every problem; then nothing was stored.
    """
    from challenge.diary.intake import read_bytes
    from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
    from challenge.diary.options import ReadOptions
    from challenge.files.writing import guarded_text

    path = names.client_folder(folder)
    diary = read_settings(path).diary
    options = ReadOptions(symptoms=diary.symptoms, timezone=diary.timezone)
    given = (
        ("foods", foods, FOOD_COLUMNS),
        ("symptoms", symptoms, SYMPTOM_COLUMNS),
        ("events", events, EVENT_COLUMNS),
    )
    originals: list[tuple[str, bytes]] = []
    parts: list[tuple[str, Rows]] = []
    for kind, entries, columns in given:
        if not entries:
            continue
        text = guarded_text(columns, [_typed(entry, columns) for entry in entries])
        data = text.encode("utf-8", errors="replace")
        rows = read_bytes(data, _TYPED, options)
        if len(getattr(rows, kind)) != len(entries) and not errors_in(rows.problems):
            rows.problems = [_incomplete(kind)]
        originals.append((f"-{kind}.csv", data))
        parts.append((_TYPED, rows))
    if not parts:
        raise ChallengeError("There is no entry to record.")
    rows, problems = put_together(parts, skip=False)
    stop_at_errors(problems)
    draft = store.Draft(
        kind="entries",
        rows=rows,
        originals=tuple(originals),
        correct=correct,
        source=source,
        options=options,
        when=when,
    )
    with opened(path, when) as ledger:
        added = ledger.add(draft, parts)
    return dataclasses.replace(added, problems=(*problems, *added.problems))


def undo_last(folder: PathLike, *, when: dt.datetime | None = None) -> TakenBack:
    """Take the last import back; its files stay in ``imports/`` under another name.

    Tables changed by hand since the last import count as an import: they are the last change.

    Raises
    ------
    ChallengeError
        If there is none; tables that were there before the first import are never taken back.
    """
    with opened(names.client_folder(folder), when) as ledger:
        return ledger.undo()


def _typed(entry: Entry, columns: Sequence[str]) -> list[str]:
    from challenge.diary.numbers import number_text

    unknown = set(entry) - set(columns)
    if unknown:
        raise TypeError(f"no such column: {', '.join(sorted(unknown))}")
    cells = []
    for name in columns:
        value = entry.get(name)
        if isinstance(value, dt.datetime):
            cells.append(value.isoformat(timespec="seconds").removesuffix(":00"))
        elif isinstance(value, dt.date):
            cells.append(value.isoformat())
        elif isinstance(value, (int, float)):
            cells.append(number_text(float(value)))
        else:
            cells.append("" if value is None else str(value))
    return cells


def _incomplete(kind: str) -> Problem:
    needed = {"foods": "time and food", "symptoms": "time, symptom and score"}
    return Problem(
        code="entry-incomplete",
        severity="error",
        file=_TYPED,
        message=f"An entry lacks something: it needs {needed.get(kind, 'start and event')}.",
        remedy="Give all of it.",
    )


def _ending(path: Path) -> str:
    """Return a harmless ending; the name itself may hold a person's name and is not kept."""
    ending = path.suffix.lower()
    return ending if re.fullmatch(r"\.[a-z0-9]{1,5}", ending) else ".bin"
