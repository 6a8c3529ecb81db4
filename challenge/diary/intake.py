"""A file's bytes to rows: the one reader for what clients send and what a folder holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from challenge.diary.decoding import decode
from challenge.diary.headers import understand_header
from challenge.diary.options import ReadOptions
from challenge.diary.parse import parse_sheet
from challenge.diary.rows import Rows
from challenge.diary.sheet import Sheet
from challenge.diary.table import empty_file, sheet_from_text
from challenge.problems import Problem

LARGE: Final = 500_000
"""Size from which on the plain rows of a file are taken all at once [bytes].

Below it, loading numpy takes longer than that saves."""


def read_bytes(data: bytes, file: str, options: ReadOptions, *, large: int = LARGE) -> Rows:
    """Read one file of whatever kind; never raises for what is in it.

    Parameters
    ----------
    data
        Content.
    file
        Name as the person knows it.
    options
        What is known of the client.
    large
        Size from which on plain rows are taken all at once [bytes].
    """

    def known(cells: Sequence[str]) -> int:
        header = understand_header(
            cells, file, 0, mapping=options.columns, declared=options.symptoms
        )
        return (len(header.columns) + len(header.symptoms)) if header.kinds else 0

    from challenge.diary.workbook import is_workbook, sheets_from_workbook

    if is_workbook(data):
        sheets, problems = sheets_from_workbook(data, file, known)
        return _read(sheets, problems, options)
    if not data.strip(b"\0 \r\n\t"):
        return Rows(problems=[empty_file(file)])
    decoded = decode(data, file, options.encoding)
    problems = list(decoded.problems)
    if decoded.text is None:
        return Rows(problems=problems)
    if len(data) >= large:
        from challenge.diary.bulk import take_plain

        taken = take_plain(decoded.text, file, options, known)
        if taken is not None:
            scores, others = taken
            rows = _read([others], problems, options)
            rows.problems = [p for p in rows.problems if p.code != "no-rows"]
            rows.plain = scores
            return rows
    sheet, more = sheet_from_text(decoded.text, file, known)
    del decoded  # a large file is held once at a time
    rows = _read([] if sheet is None else [sheet], problems + more, options)
    del sheet
    if len(data) >= large:
        from challenge.diary.bulk import condensed

        return condensed(rows, options)
    return rows


def _read(sheets: Sequence[Sheet], problems: Sequence[Problem], options: ReadOptions) -> Rows:
    rows = Rows(problems=list(problems))
    for sheet in sheets:
        rows.extend(parse_sheet(sheet, options))
    if len(sheets) > 1 and (rows.foods or rows.symptoms or rows.events):
        # a workbook has sheets for stools and the like, and days without them are nothing amiss
        rows.problems = [p for p in rows.problems if p.code != "no-rows"]
    return rows
