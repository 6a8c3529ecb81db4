"""A file's bytes to rows: the one reader for what clients send and what a folder holds."""

from __future__ import annotations

from collections.abc import Sequence

from challenge.diary.decoding import decode
from challenge.diary.headers import understand_header
from challenge.diary.options import ReadOptions
from challenge.diary.parse import Rows, parse_sheet
from challenge.diary.sheet import Sheet
from challenge.diary.table import sheet_from_text
from challenge.problems import Problem


def read_bytes(data: bytes, file: str, options: ReadOptions) -> Rows:
    """Read one file of whatever kind; never raises for what is in it.

    Parameters
    ----------
    data
        Content.
    file
        Name as the person knows it.
    options
        What is known of the client.
    """

    def known(cells: Sequence[str]) -> int:
        header = understand_header(
            cells, file, 0, mapping=options.columns, declared=options.symptoms
        )
        return (len(header.columns) + len(header.symptoms)) if header.kinds else 0

    sheets, problems = _sheets(data, file, options, known)
    rows = Rows(problems=problems)
    for sheet in sheets:
        rows.extend(parse_sheet(sheet, options))
    return rows


def _sheets(
    data: bytes, file: str, options: ReadOptions, known: object
) -> tuple[list[Sheet], list[Problem]]:
    from challenge.diary.workbook import is_workbook, sheets_from_workbook

    if is_workbook(data):
        return sheets_from_workbook(data, file, known)  # type: ignore[arg-type]
    if not data.strip(b"\0 \r\n\t"):
        problem = Problem(
            code="file-empty",
            severity="error",
            file=file,
            message="The file is empty.",
            remedy="Export it again, or leave it out.",
        )
        return [], [problem]
    decoded = decode(data, file, options.encoding)
    problems = list(decoded.problems)
    if decoded.text is None:
        return [], problems
    sheet, more = sheet_from_text(decoded.text, file, known)  # type: ignore[arg-type]
    return ([] if sheet is None else [sheet]), problems + more
