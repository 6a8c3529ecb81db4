"""One file of the corpus and what a reader must make of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

FILES = Path(__file__).parent / "files"

Rows = Sequence[tuple[str, ...]]


@dataclass(frozen=True, kw_only=True)
class Case:
    """A file with the rows it holds and the problems that must be told.

    ``data`` is None for files that a spreadsheet program itself wrote. ``told`` is what the person
    says with options. ``errors`` not empty: the file must be refused with these codes and no other.
    ``at`` is code, line as the spreadsheet shows it, column and value of one problem.
    """

    file: str
    says: str
    data: bytes | None = None
    told: Mapping[str, object] = field(default_factory=dict)
    foods: Rows = ()
    symptoms: Rows = ()
    events: Rows = ()
    warnings: frozenset[str] = frozenset()
    errors: frozenset[str] = frozenset()
    at: tuple[str, int, str | None, str | None] | None = None

    @property
    def path(self) -> Path:
        return FILES / self.file
