"""Join diaries that overlap: what is new, what is known, what contradicts.

Joining without contradictions is a semilattice: order and repetition of the files do not matter.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from challenge.diary.notes import spread
from challenge.diary.rows import Row, Rows
from challenge.problems import Problem

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from challenge.diary.scores import Scores

Key = tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Kind:
    """Where a row's parts stand: what it is about, what it says, its note, when it was written."""

    key: int
    value: int
    note: int | None
    entered: int | None


KINDS: Final[Mapping[str, _Kind]] = {
    "foods": _Kind(key=2, value=5, note=5, entered=6),
    "symptoms": _Kind(key=2, value=3, note=3, entered=4),
    "events": _Kind(key=4, value=4, note=None, entered=None),
}
"""Foods by time and food; scores by time and symptom; events by days, name and note: a second note
on a day is another thing that happened, and may be the one that a doctor must hear.
"""


@dataclass(kw_only=True, slots=True)
class Tally:
    """What became of the entries of one diary that was joined to another.

    Attributes
    ----------
    new
        Entries added, per table.
    known
        Entries that were there before.
    fuller
        Times at which a further note, or an earlier time of writing, was taken over for such.
    corrected
        Entries that replaced others, on purpose.
    outdated
        Entries that were corrected or removed earlier and therefore stay out.
    """

    new: Counter[str] = field(default_factory=Counter)
    known: int = 0
    fuller: int = 0
    corrected: int = 0
    outdated: int = 0

    def add(self, other: Tally) -> None:
        """Count in what became of further entries."""
        self.new += other.new
        self.known += other.known
        self.fuller += other.fuller
        self.corrected += other.corrected
        self.outdated += other.outdated


@dataclass(frozen=True, kw_only=True, slots=True)
class Conflict:
    """Entries of a file that contradict those held of the same time and symptom (or food)."""

    kind: str
    key: Key
    held: tuple[Row, ...]
    told: tuple[Row, ...]

    def heads(self) -> tuple[Row, Row]:
        """Return what a held and what a told row is about and says, that the other side lacks."""
        width = KINDS[self.kind].value
        held, told = ([row[:width] for row in side] for side in (self.held, self.told))
        return _lacking(held, told), _lacking(told, held)


class Record:
    """A diary being put together from several, with what was corrected away.

    Most scores of a large diary are held as `Scores`; those that need care, row by row. A time and
    symptom is never in both.
    """

    def __init__(self) -> None:
        self._held: dict[str, dict[Key, list[Row]]] = {kind: {} for kind in KINDS}
        self._plain: Scores | None = None
        self._gone: dict[tuple[str, Key], set[Row]] = {}

    def rows(self) -> Rows:
        """Return all entries, sorted."""
        foods, symptoms, events = (
            sorted(row for rows in self._held[kind].values() for row in rows) for kind in KINDS
        )
        return Rows(foods=foods, symptoms=symptoms, events=events, plain=self._plain)  # type: ignore[arg-type]

    def gone(self) -> list[tuple[str, Row]]:
        """Return the entries that were corrected or removed, each with its kind, sorted."""
        return sorted((kind, (*key, *v)) for (kind, key), told in self._gone.items() for v in told)

    def forget(self, gone: Iterable[tuple[str, Row]]) -> None:
        """Take over that entries were corrected or removed."""
        for kind, row in gone:
            width = KINDS[kind].key
            self._gone.setdefault((kind, row[:width]), set()).add(row[width:])

    def join(self, rows: Rows) -> tuple[Tally, list[Conflict]]:
        """Take over the entries of one file.

        Entries that contradict what is held are not taken over; they are returned. An entry
        contradicts when its time and symptom (or food) are held with other values and neither side
        merely has more entries than the other.
        """
        tally, conflicts = Tally(), []
        rows = self._absorb(rows, tally)
        for kind, key, new in _grouped(rows):
            old = self._held[kind].get(key, [])
            gone = self._gone.get((kind, key), set())
            if not gone and (not old or old == new):
                # nearly every entry of a large file comes this way
                self._held[kind][key] = _settled(kind, new)
                if old:
                    tally.known += len(new)
                else:
                    tally.new[kind] += len(new)
                continue
            current = [row for row in new if _value(kind, row) not in gone]
            tally.outdated += len(new) - len(current)
            held, told = (Counter(_value(kind, row) for row in side) for side in (old, current))
            if not (held <= told or told <= held):
                conflicts.append(Conflict(kind=kind, key=key, held=tuple(old), told=tuple(current)))
                continue
            if current:
                joined = _joined(kind, old, current)
                tally.fuller += bool(old) and joined != old
                self._held[kind][key] = joined
            tally.new[kind] += (told - held).total()
            tally.known += (told & held).total()
        return tally, sorted(conflicts, key=lambda one: (one.kind, one.key))

    def correct(self, rows: Rows) -> Tally:
        """Take over entries that replace those of the same time and symptom (or food).

        The notes beside those stay: another score says nothing against them.
        """
        tally = Tally()
        rows = self._absorb(rows, tally)
        for kind, key, new in _grouped(rows):
            old = self._held[kind].get(key, [])
            held, told = (Counter(_value(kind, row) for row in side) for side in (old, new))
            if held == told:
                tally.known += len(new)
                tally.fuller += _joined(kind, old, new) != old
            elif old:
                tally.corrected += len(new)
                new = _with_notes_of(kind, old, new)
            else:
                tally.new[kind] += len(new)
            self._replace(kind, key, new if held != told else _joined(kind, old, new))
        return tally

    def replace(self, rows: Rows, kinds: Iterable[str]) -> None:
        """Take over whole tables; entries that they lack count as removed on purpose."""
        if "symptoms" in kinds:
            self._spell_out_lacking(rows)
            rows = self._absorb(rows, Tally())
        told = {kind: {key: new for of, key, new in _grouped(rows) if of == kind} for kind in kinds}
        for kind, table in told.items():
            for key in [key for key in self._held[kind] if key not in table]:
                self._replace(kind, key, [])
            for key, new in table.items():
                self._replace(kind, key, new)

    def _replace(self, kind: str, key: Key, new: list[Row]) -> None:
        values = {_value(kind, row) for row in new}
        gone = self._gone.setdefault((kind, key), set())
        gone |= {_value(kind, row) for row in self._held[kind].get(key, [])}
        gone -= values
        if new:
            self._held[kind][key] = _settled(kind, new)
        else:
            self._held[kind].pop(key, None)

    def _absorb(self, rows: Rows, tally: Tally) -> Rows:
        """Take over plain scores that are new, or held alike, and return the others as rows.

        What is held of the times and symptoms that need care is spelt out, too.
        """
        if rows.plain:
            care = list(self._held["symptoms"])
            care += [key for kind, key in self._gone if kind == "symptoms"]
            rows = rows.spelt_out(rows.plain.holds(care)) if care else rows
        if rows.plain and self._plain:
            from challenge.diary.scores import compared, together

            known, other = compared(rows.plain, self._plain)
            rows = rows.spelt_out(other)
            if rows.plain:
                new = rows.plain.where(~known[~other])
                tally.known += len(rows.plain) - len(new)
                tally.new["symptoms"] += len(new)
                rows = replace(rows, plain=None)
                self._plain = together(self._plain, new) if new else self._plain
        elif rows.plain:
            tally.new["symptoms"] += len(rows.plain)
            self._plain, rows = rows.plain, replace(rows, plain=None)
        if self._plain and rows.symptoms:
            self._spell_out(self._plain.holds(rows.symptoms))
        return rows

    def _spell_out(self, wanted: NDArray[np.bool_]) -> None:
        """Hold some of the plain scores as rows."""
        if self._plain is None or not wanted.any():
            return
        for row in self._plain.where(wanted).rows():
            self._held["symptoms"][row[:2]] = [row]
        self._plain = self._plain.where(~wanted)

    def _spell_out_lacking(self, rows: Rows) -> None:
        """Hold as rows those plain scores of which a table lacks time and symptom."""
        if self._plain is None:
            return
        there = self._plain.holds(rows.symptoms)
        if rows.plain:
            from challenge.diary.scores import alike, found_in

            ours, theirs = alike(self._plain, rows.plain)
            there |= found_in(ours.keys, theirs.keys)
        self._spell_out(~there)


def in_order(rows: Rows) -> Rows:
    """Return rows sorted, as tables hold them."""
    return replace(
        rows,
        foods=sorted(rows.foods),
        symptoms=sorted(rows.symptoms),
        events=sorted(rows.events),
    )


def _lacking(ours: Sequence[Row], theirs: Sequence[Row]) -> Row:
    return min((Counter(ours) - Counter(theirs)).elements())


def _grouped(rows: Rows) -> Iterable[tuple[str, Key, list[Row]]]:
    for kind, spec in KINDS.items():
        groups: dict[Key, list[Row]] = {}
        for row in getattr(rows, kind):
            groups.setdefault(row[: spec.key], []).append(row)
        for key, group in groups.items():
            yield kind, key, group


def _value(kind: str, row: Row) -> Row:
    spec = KINDS[kind]
    return row[spec.key : spec.value]


def _settled(kind: str, rows: list[Row]) -> list[Row]:
    """Return entries of one time as joining would leave them, so that its order cannot be seen."""
    return rows if len(rows) == 1 else _joined(kind, [], rows)


def _joined(kind: str, old: list[Row], new: list[Row]) -> list[Row]:
    """Join entries that agree: as many of each as the side with more has.

    Every note is kept, and the earlier time of writing. Among equal entries of one time they are
    put in order first, so that the order of joining makes no difference.
    """
    if old == new:
        return old
    spec = KINDS[kind]
    sides = []
    for side in (old, new):
        by_value: dict[Row, list[Row]] = {}
        for row in side:
            by_value.setdefault(row[: spec.value], []).append(row)
        sides.append(by_value)
    joined: list[Row] = []
    for head in dict.fromkeys((*sides[0], *sides[1])):
        groups = [side.get(head, []) for side in sides]
        count = max(map(len, groups))
        if spec.note is None or spec.entered is None:
            joined += [head] * count
            continue
        note, at = spec.note, spec.entered
        notes = spread([[row[note] for row in group] for group in groups], count)
        written = _earliest([[row[at] for row in group] for group in groups], count)
        joined += [(*head, *rest) for rest in zip(notes, written, strict=True)]
    return joined


def _with_notes_of(kind: str, old: list[Row], new: list[Row]) -> list[Row]:
    """Return entries with the notes of those that they replace beside their own."""
    at = KINDS[kind].note
    if at is None:
        return new
    notes = spread([[row[at] for row in side] for side in (old, new)], len(new))
    return [(*row[:at], note, *row[at + 1 :]) for row, note in zip(new, notes, strict=True)]


def _earliest(sides: list[list[str]], count: int) -> list[str]:
    ranked = [sorted(filter(None, side)) for side in sides]
    padded = [side + [""] * (count - len(side)) for side in ranked]
    return [min(filter(None, pair), default="") for pair in zip(*padded, strict=True)]


def contradiction(conflict: Conflict, file: str, line: int | None, source: str) -> Problem:
    """Return a conflict as an error.

    Parameters
    ----------
    conflict
        What contradicts.
    file, line
        Where the new entry stands.
    source
        Where the entry on record came from, in words.
    """
    kind, key = conflict.kind, conflict.key
    held, told = (
        ", ".join(sorted(_shown(kind, row) for row in side))
        for side in (conflict.held, conflict.told)
    )
    code, column, what = {
        "foods": ("food-conflict", "portion_g", "amounts"),
        "symptoms": ("score-conflict", "score", "scores"),
    }[kind]
    return Problem(
        code=code,
        severity="error",
        file=file,
        line=line,
        column=column,
        date=key[0][:10],
        value=told,
        message=f"Different {what} are given for {key[1]} at {key[0]}: on record is {held}, "
        f"from {source}.",
        remedy="Keep the right one; if the new one is right, give it again with --correct.",
    )


def _shown(kind: str, row: Row) -> str:
    if kind == "symptoms":
        return row[2]
    portion = f"{row[2]} g" if row[2] else "no portion"
    return f"{portion} with {row[4] or 'unknown'} g {row[3]}" if row[3] else portion
