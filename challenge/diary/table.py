"""Text to a sheet: delimiter, quotes, line ends and the row in which the header stands."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from itertools import chain, islice
from typing import TYPE_CHECKING, Final

from challenge.diary.headers import is_of_contract
from challenge.diary.sheet import Sheet, SheetBuilder
from challenge.problems import Problem

DELIMITERS: Final = (",", ";", "\t", "|")
_PORTION: Final = 20_000
_SLICE: Final = 1_000_000
_HEADER_WITHIN: Final = 20
_CERTAIN: Final = 3
"""Cells of a row that is taken for the header without a look at those below."""
_SEP: Final = re.compile(r'"?sep=(.)"?[;,\t|]*(?:\r\n|\r|\n|\Z)', re.IGNORECASE)
_DATED_LINE: Final = re.compile(r"[\r\n]+\s*\d{1,4}[-/.]\d{1,2}[-/.]\d")

if TYPE_CHECKING:
    from _csv import Reader

IsHeader = Callable[[Sequence[str]], int]
"""Tells how many of the cells are names of columns that we know."""


def sheet_from_text(text: str, file: str, known: IsHeader) -> tuple[Sheet | None, list[Problem]]:
    """Take a delimited text apart.

    Lines are counted as a spreadsheet shows them: one per row, blank rows included, a ``sep=`` line
    not, a cell that spans several lines once.

    Parameters
    ----------
    text
        The whole file.
    file
        Its name, for the problems.
    known
        How many cells of a row are column names that we know.
    """
    told, start = told_delimiter(text)
    if not text[start:].strip():
        return None, [empty_file(file)]
    delimiter, skipped, header = find_header(text[start : start + 200_000], told, known)
    if header is None:
        return None, [_no_header(text[start:], file, told)]
    builder = SheetBuilder(file, header, skipped + 1)
    lines = _lines_of(text, start)
    _read_rows(csv.reader(lines, delimiter=delimiter, strict=True), builder, skipped + 1)
    sheet = builder.finish()
    sheet.delimiter = delimiter
    return sheet, []


def told_delimiter(text: str) -> tuple[str | None, int]:
    """Return the delimiter of a ``sep=`` line and where the rest begins."""
    match = _SEP.match(text)
    return (match.group(1), match.end()) if match else (None, 0)


def find_header(
    head: str, told: str | None, known: IsHeader
) -> tuple[str, int, Sequence[str] | None]:
    """Return delimiter, number of lines before the header, and the header itself.

    The delimiter is the one under which a row near the top holds most names that we know; a wider
    row wins among equals. A header as this program writes it ends the search.
    """
    best: tuple[int, int, str, int, Sequence[str] | None] = (1, 0, told or ",", 0, None)
    for delimiter in (told,) if told else DELIMITERS:
        reader = csv.reader(io.StringIO(head, newline=""), delimiter=delimiter)
        try:
            for index, row in enumerate(islice(reader, _HEADER_WITHIN)):
                score = known(row)
                if score == len(row) >= _CERTAIN and is_of_contract(row):
                    return delimiter, index, row
                if (score, len(row)) > best[:2] and score >= 2:
                    best = (score, len(row), delimiter, index, row)
        except csv.Error:
            continue
    return best[2], best[3], best[4]


def _lines_of(text: str, start: int) -> Iterator[str]:
    """Yield lines with their ends, whichever of LF, CRLF and CR they are.

    In slices, because StringIO spends four bytes on every letter it holds.
    """
    return chain.from_iterable(io.StringIO(part, newline="") for part in _slices(text, start))


def _slices(text: str, start: int) -> Iterator[str]:
    while start < len(text):
        end = text.find("\n", start + _SLICE) + 1 or len(text)
        yield text[start:end]
        start = end


def _read_rows(reader: Reader, builder: SheetBuilder, skip: int) -> None:
    line = skip + 1
    skipped = 0
    while skipped < skip:
        try:
            next(reader)
        except csv.Error as error:
            # the header was found by a more lenient reader
            _refuse_broken(error, builder, skipped + 1)
            return
        skipped += 1
    while True:
        rows: list[list[str]] = []
        read = reader.line_num
        failure: csv.Error | None = None
        try:
            # extend keeps what came before the row that fails
            rows.extend(islice(reader, _PORTION))
        except csv.Error as error:
            failure = error
        if not rows and failure is None:
            return
        # a cell of several lines makes more lines than rows
        if reader.line_num != read + len(rows) and any(map(_spans_lines, rows)):
            _refuse_swallowed(rows, builder, line)
        builder.add(rows, line)
        line += len(rows)
        if failure is not None:
            _refuse_broken(failure, builder, line)
            line += 1


def _spans_lines(row: Sequence[str]) -> bool:
    return any("\n" in cell or "\r" in cell for cell in row)


def _refuse_swallowed(rows: list[list[str]], builder: SheetBuilder, line: int) -> None:
    """A cell that holds whole dated rows is a quote that was never closed where it should be."""
    for offset, row in enumerate(rows):
        for cell in row:
            if ("\n" in cell or "\r" in cell) and _DATED_LINE.search(cell):
                builder.refuse(
                    line + offset,
                    "quote-not-closed",
                    "A quote opens a cell here that goes on over several dated lines.",
                    "Close the quote or remove it.",
                    value=cell[:60],
                )
                row[:] = []
                break


def _refuse_broken(error: csv.Error, builder: SheetBuilder, line: int) -> None:
    if "unexpected end" in str(error):
        code, what = "quote-not-closed", "A quote opens a cell here and never closes."
    elif "expected after" in str(error):
        code, what = "quote-misplaced", "There is text after the quote that closes a cell."
    elif "field larger" in str(error):
        code, what = "cell-too-long", "A cell is longer than any note; a quote may not be closed."
    else:
        code, what = "row-broken", "The row cannot be taken apart into cells."
    builder.refuse(line, code, what, "Correct the quotes in this row.")


def empty_file(file: str) -> Problem:
    """Return what is said of a file that holds nothing."""
    return Problem(
        code="file-empty",
        severity="error",
        file=file,
        message="The file is empty.",
        remedy="Export it again, or leave it out.",
    )


def _no_header(text: str, file: str, told: str | None) -> Problem:
    first = next((line for line in text.splitlines() if line.strip()), "")
    return Problem(
        code="header-missing",
        severity="error",
        file=file,
        line=1,
        value=first[:80],
        message="No row of column names that a diary needs was found"
        + (f" (cells separated by {told!r}, as its sep= line says)." if told else "."),
        remedy="Foods need time and food; scores need time, symptom and score, or time and one "
        "column per symptom; events need start and event. Odd names can be mapped in client.toml "
        "under [diary.columns].",
    )
