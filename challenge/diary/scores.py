"""Scores in bulk: rows already in the contract's own form, held as the lines of the table itself.

A million rows as Python texts and tuples cost more than ten times what reading the file does. A
row that is written as the program would write it needs no reading cell by cell: its line is kept as
it is, with two numbers for ordering and comparing. All others take the careful way, row by row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from challenge.diary.rows import SymptomRow


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Scores:
    """Scores by time and symptom, not two of one time and symptom.

    Attributes
    ----------
    seconds
        Time of each score, from 1970-01-01T00:00 of the local clock [s].
    codes
        Symptom of each score, as a place in ``names``.
    names
        Symptoms in order of the alphabet.
    lines
        Rows of ``symptoms.csv`` without line end; no cell holds a quote or a comma.
    places
        Line of the file in which each score stands; zeros when they come from several.
    file
        That file, as the person knows it.
    """

    seconds: NDArray[np.int64]
    codes: NDArray[np.int64]
    names: tuple[str, ...]
    lines: list[bytes]
    places: NDArray[np.int64]
    file: str = ""

    def __len__(self) -> int:
        return len(self.lines)

    @property
    def keys(self) -> NDArray[np.int64]:
        """One number for time and symptom, in their order."""
        return self.seconds * len(self.names) + self.codes

    def rows(self) -> list[SymptomRow]:
        """Return the scores as rows of texts."""
        split = (line.split(",") for line in map(bytes.decode, self.lines))
        return [(time, name, score, note, at) for time, name, score, note, at in split]

    def where(self, wanted: NDArray[np.bool_]) -> Scores:
        """Return those wanted."""
        return replace(
            self,
            seconds=self.seconds[wanted],
            codes=self.codes[wanted],
            lines=list(compress(self.lines, wanted.tolist())),
            places=self.places[wanted],
        )

    def named(self, names: tuple[str, ...]) -> Scores:
        """Return the same with codes for a list of symptoms that holds all of ours."""
        if names == self.names:
            return self
        table = np.array([names.index(name) for name in self.names], dtype=np.int64)
        return replace(self, codes=table[self.codes], names=names)

    def holds(self, keys: Sequence[tuple[str, ...]]) -> NDArray[np.bool_]:
        """Mark the scores whose time and symptom are among those given as texts."""
        return found_in(self.keys, np.sort(_keys_of(keys, self.names)))


def found_in(keys: NDArray[np.int64], among: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark those of ``keys`` that ``among``, sorted, holds."""
    if not len(among):
        return np.zeros(len(keys), dtype=bool)
    places = np.searchsorted(among, keys)
    places[places == len(among)] = 0
    found: NDArray[np.bool_] = among[places] == keys
    return found


def alike(one: Scores, other: Scores) -> tuple[Scores, Scores]:
    """Return both with the same list of symptoms, so that their keys can be compared."""
    names = tuple(sorted({*one.names, *other.names}))
    return one.named(names), other.named(names)


def compared(new: Scores, held: Scores) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Mark the new scores that are held just so, and those held of that time but otherwise."""
    ours, theirs = alike(new, held)
    known = found_in(ours.keys, theirs.keys)
    other = np.zeros(len(new), dtype=bool)
    shared = np.flatnonzero(known)
    places = np.searchsorted(theirs.keys, ours.keys[shared])
    pairs = zip(shared.tolist(), places.tolist(), strict=True)
    different = [mine for mine, place in pairs if new.lines[mine] != held.lines[place]]
    other[different] = True
    known[different] = False
    return known, other


def in_order(scores: Scores) -> Scores:
    """Return scores by time and symptom."""
    keys = scores.keys
    if bool((keys[1:] > keys[:-1]).all()):
        return scores
    order = np.argsort(keys, kind="stable")
    return replace(
        scores,
        seconds=scores.seconds[order],
        codes=scores.codes[order],
        lines=list(map(scores.lines.__getitem__, order.tolist())),
        places=scores.places[order],
    )


def together(one: Scores, other: Scores) -> Scores:
    """Return both in one; no time and symptom may be in both."""
    first, second = alike(one, other)
    return in_order(
        Scores(
            seconds=np.concatenate((first.seconds, second.seconds)),
            codes=np.concatenate((first.codes, second.codes)),
            names=first.names,
            lines=first.lines + second.lines,
            places=np.zeros(len(first) + len(second), dtype=np.int64),
        )
    )


def lines_with(scores: Scores, rows: Sequence[tuple[str, ...]], lines: list[bytes]) -> list[bytes]:
    """Return the lines of the scores with those of further rows in their places.

    Parameters
    ----------
    scores
        None of them is of the same time and symptom as a row.
    rows, lines
        Sorted rows as texts, and how each is written.
    """
    if not rows:
        return scores.lines
    both = scores.lines + lines
    return list(map(both.__getitem__, order_with(scores, rows).tolist()))


def order_with(scores: Scores, rows: Sequence[tuple[str, ...]]) -> NDArray[np.int64]:
    """Return the order by time and symptom of the scores followed by sorted further rows."""
    names = tuple(sorted({*scores.names, *(row[1] for row in rows)}))
    keys = np.concatenate((scores.named(names).keys, _keys_of(rows, names)))
    order: NDArray[np.int64] = np.argsort(keys, kind="stable")
    return order


def _keys_of(rows: Sequence[tuple[str, ...]], names: tuple[str, ...]) -> NDArray[np.int64]:
    """Return the keys of rows given as texts; those of other symptoms are left out."""
    codes = {name: code for code, name in enumerate(names)}
    ours = [row for row in rows if row[1] in codes]
    times = np.array([row[0] for row in ours], dtype="datetime64[s]").astype(np.int64)
    return times * len(names) + np.array([codes[row[1]] for row in ours], dtype=np.int64)
