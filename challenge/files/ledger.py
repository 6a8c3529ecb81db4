"""A client's imports and the tables they add up to: every change goes through here, one at a time.

The order of writing matters, for a process may be killed at any moment: tables changed by hand are
stored before they are counted as ours; the tables as they are count as ours before an import is
stored; what they will be counts as ours before they are written.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.errors import ChallengeError
from challenge.files import folder as names
from challenge.files import import_store as store
from challenge.files.atomic import write_atomic
from challenge.files.gathering import contradictions, stop_at_errors, unkeepable
from challenge.files.lock import locked
from challenge.files.reading import read_options, read_settings
from challenge.problems import Problem, errors_in

if TYPE_CHECKING:
    from challenge.diary.merge import Record, Tally
    from challenge.diary.rows import Row, Rows


@dataclass(frozen=True, kw_only=True)
class Added:
    """What an import did.

    Attributes
    ----------
    name
        Name of the import under ``imports/``; None when there was nothing to store.
    foods, symptoms, events
        Entries that are new.
    known
        Entries that were on record before.
    fuller
        Times at which a further note, or an earlier time of writing, was taken over for such.
    corrected
        Entries that replaced others, on purpose.
    outdated
        Entries left out because they had been corrected or removed before.
    refused
        Rows left out because they could not be read.
    refused_files
        Where those rows are kept.
    preserved
        Names of the imports that now hold tables made or changed by hand.
    problems
        Warnings and notes.
    """

    name: str | None
    foods: int = 0
    symptoms: int = 0
    events: int = 0
    known: int = 0
    fuller: int = 0
    corrected: int = 0
    outdated: int = 0
    refused: int = 0
    refused_files: tuple[Path, ...] = ()
    preserved: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TakenBack:
    """The import that was taken back, and where its files stay."""

    name: str
    kind: store.Kind
    kept: Path
    foods: int
    symptoms: int
    events: int


@contextlib.contextmanager
def opened(folder: Path, when: dt.datetime | None) -> Iterator[Ledger]:
    """Hold a client's lock and give the ledger."""
    where = names.make_folder(folder / names.IMPORTS)
    with locked(where / store.LOCK):
        store.clear_leftovers(folder)
        yield Ledger(folder, when)


class Ledger:
    """A client's imports and what they add up to, while the lock is held."""

    def __init__(self, folder: Path, when: dt.datetime | None) -> None:
        self.folder = folder
        self.when = when
        self.options = read_options(read_settings(folder), on_record=True)
        where = folder / names.IMPORTS
        self.imports = [store.read_import(where / name) for name in store.stored_names(folder)]
        self.record = self._from_tables() or self._from_imports()
        self.pending = self._made_by_hand()

    def _from_tables(self) -> Record | None:
        from challenge.diary.merge import Record

        state = store.read_state(self.folder)
        rows = store.read_tables(self.folder, self.imports, self.options.symptoms)
        if rows is None or state is None or state.gone is None:
            return None
        record = Record()
        record.join(rows)
        record.forget(state.gone)
        return record

    def _from_imports(self) -> Record:
        from challenge.diary.merge import Record

        record = Record()
        for one in self.imports:
            rows = store.read_import_rows(one, self.options.symptoms)
            _apply(record, rows, one.correct, one.replaces, f"{names.IMPORTS}/{one.name}")
        return record

    def _made_by_hand(self) -> store.Draft | None:
        """Return the tables that were not written here, as an import still to be stored.

        Tables that hold the same entries in another form, and tables that were deleted, are simply
        written anew.
        """
        from challenge.diary.merge import in_order
        from challenge.diary.rows import Rows
        from challenge.files.writing import rows_bytes

        state = store.read_state(self.folder)
        now_held: dict[str, bytes] = {}
        found: dict[str, tuple[bytes, Rows]] = {}
        for kind, table in store.TABLE_OF.items():
            now = store.table_digest(self.folder, kind)
            if not now or (state is not None and now in state.tables[kind]):
                continue
            data = (self.folder / table).read_bytes()
            if data.strip(b"\0 \r\n\t"):
                rows = self._read_table(data, kind)
                now_held = now_held or rows_bytes(self.record.rows())
                if rows_bytes(in_order(rows))[kind] != now_held[kind]:
                    found[kind] = (data, rows)
        if not found:
            return None
        rows = Rows()
        for _, one in found.values():
            rows.extend(one)
        draft = store.Draft(
            kind="by-hand" if self.imports else "found",
            rows=rows,
            originals=tuple((f"-{kind}.csv", data) for kind, (data, _) in found.items()),
            replaces=tuple(found) if self.imports else (),
            options=self.options,
            when=self.when,
        )
        _apply(self.record, rows, False, draft.replaces, "the tables")
        return draft

    def _read_table(self, data: bytes, kind: str) -> Rows:
        from challenge.diary.intake import read_bytes
        from challenge.diary.twice import check_rows

        table = store.TABLE_OF[kind]
        rows = read_bytes(data, table, self.options)
        others = [k for k in store.TABLE_OF if k != kind and rows.count(k)]
        rows, problems = check_rows(rows)
        errors = errors_in([*rows.problems, *problems, *unkeepable(rows, table)])
        if errors or others:
            raise ChallengeError(
                f"{table} was made or changed by hand and cannot be used as it is. "
                "Put it right first; nothing was changed.",
                errors,
            )
        return rows

    def add(self, draft: store.Draft, parts: Sequence[tuple[str, Rows]]) -> Added:
        """Join an import to the record and store it."""
        tally = self._take(draft, parts)
        known = {told for one in self.imports for told in one.hashes}
        hashes = set(draft.hashes)
        new = tally.new.total() + tally.corrected
        if new and hashes & known:
            self._stop_if_read_otherwise(draft, hashes)
        preserved = self._store_pending()
        stored = None
        if new or not hashes <= known:
            self._write_state(None)
            stored = self._store(draft)
        elif tally.fuller:
            # the files are on record; what was changed after them stands
            self.record = self._from_imports()
        self._write_tables()
        return Added(
            name=stored.name if stored else None,
            foods=tally.new["foods"],
            symptoms=tally.new["symptoms"],
            events=tally.new["events"],
            known=tally.known,
            fuller=tally.fuller if stored else 0,
            corrected=tally.corrected,
            outdated=tally.outdated,
            preserved=preserved,
        )

    def _take(self, draft: store.Draft, parts: Sequence[tuple[str, Rows]]) -> Tally:
        from challenge.diary.merge import Tally

        if draft.replaces:
            self.record.replace(draft.rows, draft.replaces)
            return Tally(corrected=1)
        if draft.correct:
            return self.record.correct(draft.rows)
        whole = Tally()
        problems: list[Problem] = []
        for file, part in parts:
            # file by file, so that a contradiction names its file
            tally, found = self.record.join(part)
            problems += contradictions(found, file, part, self._sources)
            whole.add(tally)
        stop_at_errors(problems)
        return whole

    def _sources(self, kind: str, heads: set[Row]) -> dict[Row, str]:
        """Say from which import, or table changed by hand, entries on record came first."""
        found: dict[Row, str] = {}
        for one in self.imports:
            rows = store.read_import_rows(one, self.options.symptoms)
            for head in rows.places(kind, heads - set(found)):
                found[head] = one.words
        if self.pending is not None:
            by_hand = self.pending.rows.places(kind, heads - set(found))
            found |= {head: f"{file}, line {line}" for head, (file, line) in by_hand.items()}
        return found

    def _stop_if_read_otherwise(self, draft: store.Draft, hashes: set[str]) -> None:
        """The same bytes under another date order would come in a second time, on wrong days."""
        told = (draft.options.encoding, draft.options.date_order)
        for one in self.imports:
            if hashes & set(one.hashes) and (one.encoding, one.date_order) != told:
                raise ChallengeError(
                    f"A file was added before (import {one.name}) and was read otherwise then: "
                    "encoding or date order. Take that import back with `challenge undo` first."
                )

    def undo(self) -> TakenBack:
        """Take the last import back."""
        if self.pending is not None and self.pending.kind == "by-hand":
            self._store_pending()
        if not self.imports or self.imports[-1].kind == "found":
            raise ChallengeError("There is no import to take back.")
        last = self.imports.pop()
        rows = store.read_import_rows(last, self.options.symptoms)
        self._write_state(None)
        kept = store.set_back(last)
        self.record = self._from_imports()
        self._write_tables()
        return TakenBack(
            name=last.name,
            kind=last.kind,
            kept=kept,
            foods=rows.count("foods"),
            symptoms=rows.count("symptoms"),
            events=rows.count("events"),
        )

    def _store_pending(self) -> tuple[str, ...]:
        if self.pending is None:
            return ()
        return (self._store(self.pending).name,)

    def _store(self, draft: store.Draft) -> store.Import:
        one = store.write_import(self.folder, draft)
        self.imports.append(one)
        return one

    def _write_tables(self) -> None:
        """Write the tables anew; nothing is written where they hold all of it already."""
        from challenge.files.writing import rows_bytes

        texts = rows_bytes(self.record.rows())
        after = {kind: store.digest(data) if data else "" for kind, data in texts.items()}
        changed = [k for k in texts if store.table_digest(self.folder, k) != after[k]]
        if changed:
            self._write_state(after)
        for kind in changed:
            target = self.folder / store.TABLE_OF[kind]
            if texts[kind]:
                write_atomic(target, texts[kind])
            else:
                target.unlink()
        final = store.State(
            imports=tuple(one.name for one in self.imports),
            tables={kind: (told,) for kind, told in after.items()},
            gone=tuple(self.record.gone()),
        )
        if store.read_state(self.folder) != final:
            store.write_state(self.folder, final)

    def _write_state(self, after: Mapping[str, str] | None) -> None:
        """Note the hashes that the tables may have from here on: now, and when written."""
        now = {kind: store.table_digest(self.folder, kind) for kind in store.TABLE_OF}
        state = store.State(
            imports=tuple(one.name for one in self.imports),
            tables={
                kind: tuple(dict.fromkeys((told, *((after[kind],) if after else ()))))
                for kind, told in now.items()
            },
        )
        store.write_state(self.folder, state)


def _apply(record: Record, rows: Rows, correct: bool, replaces: Sequence[str], name: str) -> None:
    """Take over what is stored, or what stands in the tables."""
    if replaces:
        record.replace(rows, replaces)
    elif correct:
        record.correct(rows)
    else:
        _, conflicts = record.join(rows)
        stop_at_errors(contradictions(conflicts, name, rows, lambda kind, heads: {}))
