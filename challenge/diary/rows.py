"""What was read of a diary: rows of texts in the contract's form, with where they stand."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from operator import itemgetter
from typing import TYPE_CHECKING

from challenge.problems import Problem

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from challenge.diary.scores import Scores

FoodRow = tuple[str, str, str, str, str, str, str]
SymptomRow = tuple[str, str, str, str, str]
EventRow = tuple[str, str, str, str]
Row = tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Refused:
    """A row that was left out: where it stands, its column names and its cells as typed."""

    file: str
    line: int
    header: tuple[str, ...]
    cells: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Origin:
    """Where the rows of one kind stand in one sheet: the line of each."""

    kind: str
    file: str
    rows: Sequence[Row]
    lines: Sequence[int]


@dataclass(kw_only=True, slots=True)
class Rows:
    """What was read, not yet sorted.

    Attributes
    ----------
    foods, symptoms, events
        Rows of texts in the contract's form and columns.
    plain
        Scores of a large file that need no care, beside those in ``symptoms``.
    problems
        What was wrong or doubtful.
    bad_lines
        Lines of one sheet from which nothing was taken.
    refused
        Rows that were left out.
    origins
        Where the rows stand.
    """

    foods: list[FoodRow] = field(default_factory=list)
    symptoms: list[SymptomRow] = field(default_factory=list)
    events: list[EventRow] = field(default_factory=list)
    plain: Scores | None = None
    problems: list[Problem] = field(default_factory=list)
    bad_lines: set[int] = field(default_factory=set)
    refused: list[Refused] = field(default_factory=list)
    origins: list[Origin] = field(default_factory=list)

    def count(self, kind: str) -> int:
        """Return the number of rows of a kind."""
        rows: Sequence[object] = getattr(self, kind)
        return len(rows) + (len(self.plain) if kind == "symptoms" and self.plain else 0)

    def scores(self) -> list[SymptomRow]:
        """Return all scores as rows of texts, in no order."""
        return self.symptoms + (self.plain.rows() if self.plain else [])

    def extend(self, other: Rows) -> None:
        """Take over everything that was read elsewhere."""
        if other.plain and (self.symptoms or self.plain):
            other = other.spelt_out().by_line(other.plain.file)
        self.foods += other.foods
        self.symptoms += other.symptoms
        self.events += other.events
        self.plain = self.plain or other.plain
        self.problems += other.problems
        self.refused += other.refused
        self.origins += other.origins

    def spelt_out(self, wanted: NDArray[np.bool_] | None = None) -> Rows:
        """Return the same with plain scores, all or those wanted, as rows of texts at the end."""
        if self.plain is None or (wanted is not None and not wanted.any()):
            return self
        taken = self.plain if wanted is None else self.plain.where(wanted)
        rows, lines = taken.rows(), taken.places.tolist()
        return replace(
            self,
            symptoms=self.symptoms + rows,
            plain=None if wanted is None else self.plain.where(~wanted),
            origins=[
                *self.origins,
                Origin(kind="symptoms", file=taken.file, rows=rows, lines=lines),
            ],
        )

    def by_line(self, file: str) -> Rows:
        """Return the same with the scores of a file, the first that has any, in its order.

        Only for rows as they were read, each of which has its place.
        """
        scores = [one for one in self.origins if one.kind == "symptoms"]
        own = [pair for o in scores if o.file == file for pair in zip(o.lines, o.rows, strict=True)]
        own.sort(key=itemgetter(0))
        lines, rows = [line for line, _ in own], [row for _, row in own]
        first = Origin(kind="symptoms", file=file, rows=rows, lines=lines)
        rest = [one for one in scores if one.file != file]
        return replace(
            self,
            symptoms=rows + [row for one in rest for row in one.rows],  # type: ignore[arg-type]
            origins=[first, *rest, *(one for one in self.origins if one.kind != "symptoms")],
        )

    def places(self, kind: str, heads: Collection[Row]) -> dict[Row, tuple[str, int]]:
        """Return file and line of the first row that begins with each of some cells."""
        wanted = set(heads)
        width = len(next(iter(wanted), ()))
        found: dict[Row, tuple[str, int]] = {}
        for file, line, row in self._placed(kind, wanted):
            if row[:width] in wanted:
                found.setdefault(row[:width], (file, line))
        return found

    def _placed(self, kind: str, heads: Collection[Row]) -> Iterator[tuple[str, int, Row]]:
        plain: Iterator[tuple[str, int, Row]] = iter(())
        if kind == "symptoms" and self.plain:
            some = self.plain.where(self.plain.holds(list(heads)))
            file = self.plain.file
            plain = ((file, n, r) for n, r in zip(some.places.tolist(), some.rows(), strict=True))
        texts = (
            (one.file, line, row)
            for one in self.origins
            if one.kind == kind
            for line, row in zip(one.lines, one.rows, strict=True)
        )
        return chain(plain, texts)
