"""XLSX and ODS to sheets: dates as dates, numbers as numbers, formulas never run flagged."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from typing import Any, Final

from challenge.diary.numbers import number_text
from challenge.diary.sheet import Sheet, SheetBuilder
from challenge.diary.table import IsHeader
from challenge.problems import Problem

_ZIP: Final = b"PK\x03\x04"
_OLE: Final = b"\xd0\xcf\x11\xe0"
_HEADER_WITHIN: Final = 20
_DAY: Final = 86_400


def is_workbook(data: bytes) -> bool:
    """Say whether a file is a spreadsheet's own format rather than text."""
    return data.startswith((_ZIP, _OLE))


def sheets_from_workbook(
    data: bytes, file: str, known: IsHeader
) -> tuple[list[Sheet], list[Problem]]:
    """Return every sheet of a workbook that has a header we know.

    Parameters
    ----------
    data
        The file.
    file
        Its name, for the problems.
    known
        How many cells of a row are column names that we know.
    """
    book = _open(data)
    if book is None:
        return [], [_problem(file, "workbook-unreadable", "The spreadsheet cannot be opened.")]
    sheets: list[Sheet] = []
    problems: list[Problem] = []
    for name in book.sheet_names:
        rows = _rows(book, name)
        if rows is None:
            problems.append(_problem(file, "workbook-unreadable", f"Sheet {name!r} is damaged."))
            continue
        if not any(any(row) for row in rows):
            continue
        sheet = _sheet(rows, f"{file} ({name})", known)
        if sheet is None:
            problems.append(_not_read(file, name))
        else:
            sheets.append(sheet)
    if not sheets and not any(problem.severity == "error" for problem in problems):
        problems.append(
            _problem(file, "header-missing", "No sheet has the column names that a diary needs.")
        )
    return sheets, problems


def _open(data: bytes) -> Any:
    from python_calamine import CalamineWorkbook

    return _quietly(lambda: CalamineWorkbook.from_filelike(io.BytesIO(data)))


def _rows(book: Any, name: str) -> list[list[str]] | None:
    raw = _quietly(lambda: book.get_sheet_by_name(name).to_python(skip_empty_area=False))
    return None if raw is None else [[_text(cell) for cell in row] for row in raw]


def _quietly(read: Any) -> Any:
    """Run the library; damaged files make it raise, or panic, which is no ``Exception``."""
    try:
        return read()
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException:
        return None


def _text(cell: Any) -> str:
    if isinstance(cell, bool):
        return str(cell).upper()
    if isinstance(cell, float):
        return number_text(cell) if abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, dt.datetime):
        moment = cell + dt.timedelta(microseconds=500_000)
        if (moment.hour, moment.minute, moment.second) == (0, 0, 0):
            return moment.date().isoformat()
        return moment.strftime("%Y-%m-%dT%H:%M" + (":%S" if moment.second else ""))
    if isinstance(cell, dt.time):
        return cell.strftime("%H:%M" + (":%S" if cell.second else ""))
    if isinstance(cell, dt.timedelta):
        seconds = round(cell.total_seconds())
        if 0 <= seconds < _DAY:
            return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return str(cell)


def _sheet(rows: Sequence[list[str]], file: str, known: IsHeader) -> Sheet | None:
    best = max(range(min(len(rows), _HEADER_WITHIN)), key=lambda i: known(rows[i]), default=None)
    if best is None or known(rows[best]) < 2:
        return None
    builder = SheetBuilder(file, rows[best], best + 1)
    builder.add(rows[best + 1 :], best + 2)
    sheet = builder.finish()
    sheet.plain_decimals = True
    return sheet


def _problem(file: str, code: str, message: str) -> Problem:
    return Problem(
        code=code,
        severity="error",
        file=file,
        message=message,
        remedy="Save it again as XLSX without a password, or export it as CSV.",
    )


def _not_read(file: str, name: str) -> Problem:
    return Problem(
        code="sheet-not-read",
        severity="warning",
        file=file,
        message=f"Sheet {name!r} has no column names that a diary has; it was not read.",
    )
