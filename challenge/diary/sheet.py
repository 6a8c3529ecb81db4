"""A table as it stands in a file: columns of text, each row with the line a spreadsheet shows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import compress

from challenge.problems import Problem


@dataclass(kw_only=True, slots=True)
class Sheet:
    """One table of one file, before anything is understood of it.

    Columns and not rows, and equal texts held once: a clinic sends a million rows, and most of
    their cells repeat.

    Attributes
    ----------
    file
        File as the person knows it; for a workbook with several sheets ``book.xlsx (sheet)``.
    header
        Column names as typed.
    header_line
        Line of the header as a spreadsheet shows it, from 1.
    columns
        Cells of each column as typed, in row order.
    lines
        Spreadsheet line of each row.
    kept
        The usual texts of each column, each mapped to itself (equal texts share one object).
    dated
        Columns in which a workbook held true dates: texts that stand for such cells.
    doubtful
        Column -> line -> code and text of a cell of a workbook whose value is not to be trusted: a
        formula that was not calculated, an error value. The cell itself is empty.
    plain_decimals
        Numbers carry a decimal point for certain (a workbook's own numbers).
    problems
        What was wrong with rows as such.
    bad_lines
        Lines whose row could not be taken apart.
    refused
        Cells of those rows as typed, where the row's extent is known.
    """

    file: str
    header: list[str]
    header_line: int
    columns: list[list[str]]
    lines: Sequence[int]
    kept: list[dict[str, str]]
    dated: dict[int, set[str]] = field(default_factory=dict)
    doubtful: dict[int, dict[int, tuple[str, str]]] = field(default_factory=dict)
    plain_decimals: bool = False
    delimiter: str = ""
    problems: list[Problem] = field(default_factory=list)
    bad_lines: dict[int, str] = field(default_factory=dict)
    refused: dict[int, tuple[str, ...]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.lines)

    def column(self, index: int | None) -> list[str] | None:
        """Return the cells of a column, or None for a column that is not there."""
        return None if index is None else self.columns[index]


class SheetBuilder:
    """Collect rows into columns, in portions, so that a large file is never held as rows."""

    def __init__(self, file: str, header: Sequence[str], header_line: int) -> None:
        self.file = file
        self.header = [name.strip() for name in header]
        while self.header and not self.header[-1]:
            self.header.pop()
        self.header_line = header_line
        width = len(self.header)
        self.columns: list[list[str]] = [[] for _ in range(width)]
        self.kept: list[dict[str, str]] = [{} for _ in range(width)]
        self.lines: list[int] = []
        self.problems: list[Problem] = []
        self.bad_lines: dict[int, str] = {}
        self.refused: dict[int, tuple[str, ...]] = {}
        self.short: list[int] = []

    def add(self, rows: Sequence[Sequence[str]], first_line: int) -> None:
        """Add rows that stand on consecutive lines from ``first_line`` on."""
        width = len(self.header)
        lines: Iterable[int] = range(first_line, first_line + len(rows))
        if set(map(len, rows)) != {width}:
            rows, lines = self._evened(rows, first_line)
        if not rows:
            return
        self.lines.extend(lines)
        for column, kept, cells in zip(
            self.columns, self.kept, zip(*rows, strict=True), strict=True
        ):
            column.extend(map(kept.setdefault, cells, cells))

    def _evened(
        self, rows: Sequence[Sequence[str]], first_line: int
    ) -> tuple[list[Sequence[str]], list[int]]:
        """Drop blank rows, pad short ones, refuse rows with more cells than the header."""
        width = len(self.header)
        good: list[Sequence[str]] = []
        lines: list[int] = []
        for line, row in enumerate(rows, start=first_line):
            if len(row) == width:
                cells = row
            elif not any(cell.strip() for cell in row):
                continue
            elif len(row) < width:
                self.short.append(line)
                cells = [*row, *[""] * (width - len(row))]
            elif any(cell.strip() for cell in row[width:]):
                self._too_long(line, row)
                continue
            else:
                cells = row[:width]
            good.append(cells)
            lines.append(line)
        return good, lines

    def _too_long(self, line: int, row: Sequence[str]) -> None:
        self.refused[line] = tuple(row)
        extra = next(cell for cell in row[len(self.header) :] if cell.strip())
        self.refuse(
            line,
            "row-too-long",
            f"The row has {len(row)} cells, the header {len(self.header)}.",
            "A comma inside a cell needs quotes around the cell.",
            value=extra,
        )

    def refuse(self, line: int, code: str, message: str, remedy: str, value: str = "") -> None:
        """Note a row that could not be taken apart."""
        self.bad_lines[line] = message
        self.problems.append(
            Problem(
                code=code,
                severity="error",
                file=self.file,
                line=line,
                value=value or None,
                message=message,
                remedy=remedy,
            )
        )

    def _pass_over_headers(self) -> None:
        """Leave out rows that are the header again, as where two exports were pasted together."""
        if not any(self.header) or any(
            name not in kept for name, kept in zip(self.header, self.kept, strict=True)
        ):
            return
        again = {
            place
            for place, row in enumerate(zip(*self.columns, strict=True))
            if [cell.strip() for cell in row] == self.header
        }
        if not again:
            return
        first = self.lines[min(again)]
        stays = [place not in again for place in range(len(self.lines))]
        self.lines = list(compress(self.lines, stays))
        self.columns = [list(compress(column, stays)) for column in self.columns]
        self.kept = [dict(zip(column, column, strict=True)) for column in self.columns]
        self.problems.append(
            Problem(
                code="header-again",
                severity="warning",
                file=self.file,
                line=first,
                message=f"The names of the columns stand in {_places(len(again))} again; "
                "they were passed over.",
                remedy="Check that the tables that were put together have the same columns.",
            )
        )

    def finish(self) -> Sheet:
        """Return the table."""
        self._pass_over_headers()
        if self.short:
            self.problems.append(
                Problem(
                    code="row-short",
                    severity="warning",
                    file=self.file,
                    line=self.short[0],
                    message=f"{_rows(len(self.short))} fewer cells than the header; the missing "
                    "ones were taken as empty.",
                    remedy="Check that the file is complete.",
                )
            )
        return Sheet(
            file=self.file,
            header=self.header,
            header_line=self.header_line,
            columns=self.columns,
            lines=self.lines,
            kept=self.kept,
            problems=self.problems,
            bad_lines=self.bad_lines,
            refused=self.refused,
        )


def _places(count: int) -> str:
    return "this row" if count == 1 else f"{count} rows, the first here,"


def _rows(count: int) -> str:
    return "One row has" if count == 1 else f"{count} rows, the first here, have"
