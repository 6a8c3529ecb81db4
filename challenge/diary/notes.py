"""Notes of one entry that came by several ways: every one is kept, none is chosen.

Which of two notes matters cannot be told: a short one may be what a doctor must hear, and one that
holds the words of another may deny them (``no blood``). So only a repetition is left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Final

_MARK: Final = "|"
_BETWEEN: Final = f" {_MARK} "


def parts_of(note: str) -> tuple[str, ...]:
    """Return the notes that a cell holds, each once and in its order; none for an empty cell."""
    if _MARK not in note:
        return (note,) if note else ()
    return tuple(dict.fromkeys(filter(None, (part.strip() for part in note.split(_MARK)))))


def one_note(notes: Iterable[str]) -> str:
    """Return all notes of one entry as one, whatever their order; a single one stays as it is.

    Joining is a semilattice: associative, commutative, idempotent.
    """
    different = set(notes)
    if len(different) == 1:
        return different.pop()
    return _BETWEEN.join(_in_order(set(chain.from_iterable(map(parts_of, different)))))


def spread(sides: Sequence[Sequence[str]], count: int) -> list[str]:
    """Return the notes of equal entries of one time, told by two sides, as notes of ``count``.

    Which of the entries a note belongs to nobody can tell; each note is kept as often as the side
    that has it more often. A semilattice, too: what comes out says again just what it was made of.

    Parameters
    ----------
    sides
        A note per entry, empty ones included; no side has more than ``count``.
    """
    told = [Counter(chain.from_iterable(map(parts_of, side))) for side in sides]
    together: Counter[str] = Counter()
    for side in told:
        together |= side
    cells: list[list[str]] = [[] for _ in range(count)]
    # dealt out in turn, so that a note that comes twice never stands twice in one cell
    for place, note in enumerate(_in_order(together.elements())):
        cells[place % count].append(note)
    return [_BETWEEN.join(cell) for cell in cells]


def _in_order(notes: Iterable[str]) -> list[str]:
    """Put the fullest first."""
    return sorted(notes, key=lambda text: (len(text), text), reverse=True)
