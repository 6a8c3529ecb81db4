"""Take entries out of a client's diary, or move them to another time; the history keeps them."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from challenge.errors import ChallengeError
from challenge.files import folder as names
from challenge.files import import_store as store
from challenge.files.imports import PathLike
from challenge.files.ledger import Added, opened

if TYPE_CHECKING:
    from challenge.diary.rows import Rows

Row = tuple[str, ...]


@dataclasses.dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One entry that is to be taken out, or moved.

    Attributes
    ----------
    kind
        ``foods`` or ``symptoms``.
    row
        The entry as it is on record.
    time
        The right time; None to take it out.
    """

    kind: str
    row: Row
    time: dt.datetime | None


def change_entries(
    folder: PathLike,
    changes: Sequence[Change],
    *,
    source: str = "log",
    when: dt.datetime | None = None,
) -> Added:
    """Take entries out or move them, all of them or none.

    The tables as they are afterwards are stored as one more import, with the entries that were
    changed beside them. A file that brings a changed entry again does not bring it back;
    `undo_last` does.

    Parameters
    ----------
    folder
        The client's folder.
    changes
        What is to be changed.
    source
        Where the wish comes from, for the history.
    when
        Time of the change: for the history, and as the time of writing of what was moved.

    Raises
    ------
    ChallengeError
        If an entry is not on record any more, or another one stands at the new time; then nothing
        was stored.
    """
    from challenge.diary.rows import Rows

    kinds = tuple(kind for kind in store.TABLE_OF if any(c.kind == kind for c in changes))
    with opened(names.client_folder(folder), when) as ledger:
        held = ledger.record.rows()
        tables: dict[str, list[Row]] = {
            "foods": list(held.foods),
            "symptoms": list(held.scores()),
            "events": list(held.events),
        }
        for change in changes:
            _make(change, tables[change.kind], when)
        rows = Rows(**{kind: sorted(tables[kind]) for kind in kinds})  # type: ignore[arg-type]
        draft = store.Draft(
            kind="entries",
            rows=rows,
            originals=_changed(changes, kinds),
            replaces=kinds,
            source=source,
            options=ledger.options,
            when=when,
        )
        return dataclasses.replace(ledger.add(draft, []), corrected=len(changes))


def _make(change: Change, table: list[Row], when: dt.datetime | None) -> None:
    row = change.row
    if row not in table:
        raise ChallengeError(
            f"The entry of {row[0]} ({row[1]}) is not on record any more. Nothing was changed."
        )
    table.remove(row)
    if change.time is None:
        return
    stamp = change.time.isoformat(timespec="minutes")
    if any(other[:2] == (stamp, row[1]) for other in table):
        raise ChallengeError(
            f"There is an entry of {row[1]} at {stamp} already. Nothing was changed."
        )
    entered = row[-1] if when is None else when.isoformat(timespec="minutes")
    table.append((stamp, *row[1:-1], entered))


def _changed(changes: Sequence[Change], kinds: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    """The changed entries as they were, one table of each kind."""
    from challenge.files.writing import rows_bytes

    before = _rows_of([(change.kind, change.row) for change in changes])
    return tuple((f"-changed-{kind}.csv", rows_bytes(before)[kind]) for kind in kinds)


def _rows_of(entries: Sequence[tuple[str, Row]]) -> Rows:
    from challenge.diary.rows import Rows

    rows = Rows()
    for kind, row in entries:
        getattr(rows, kind).append(row)
    return rows
