"""XLSX and ODS to sheets: dates as dates, numbers as numbers, what is not plain said so."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any, Final

from challenge.diary.cells import Cell, Oddities, cells_with_time, oddities
from challenge.diary.headers import for_reading_only
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
    odd = oddities(data)
    book = None if odd is None else _open(data)
    if odd is None or book is None:
        what = "The file is not an XLSX or ODS spreadsheet that can be opened"
        older = " (the older XLS is not read, nor is a file with a password)."
        return [], [_problem(file, "workbook-unreadable", what + older)]
    sheets: list[Sheet] = []
    problems: list[Problem] = []
    for name, hidden in _sheet_names(book):
        raw = _raw_rows(book, name)
        if raw is None:
            problems.append(_problem(file, "workbook-unreadable", f"Sheet {name!r} is damaged."))
            continue
        if not any(any(cell != "" for cell in row) for row in raw):
            continue
        _write_midnights(raw, data, name)
        table = f"{file} ({name})"
        sheet = _sheet(raw, table, known, odd.get(name, Oddities()))
        if sheet is None and not hidden and not for_reading_only(name):
            problems.append(_not_read(file, name))
        elif sheet is not None and hidden:
            problems.append(_hidden(file, name))
        elif sheet is not None:
            sheets.append(sheet)
    if not sheets and not any(problem.severity == "error" for problem in problems):
        problems.append(
            _problem(file, "header-missing", "No sheet has the column names that a diary needs.")
        )
    return sheets, problems


def _sheet_names(book: Any) -> list[tuple[str, bool]]:
    """Return the sheets with cells, each with whether it is hidden; a chart is no such sheet."""
    return [
        (sheet.name, not str(sheet.visible).endswith(".Visible"))
        for sheet in book.sheets_metadata
        if str(sheet.typ).endswith(".WorkSheet")
    ]


def _open(data: bytes) -> Any:
    from python_calamine import CalamineWorkbook

    return _quietly(lambda: CalamineWorkbook.from_filelike(io.BytesIO(data)))


def _raw_rows(book: Any, name: str) -> list[list[Any]] | None:
    rows: list[list[Any]] | None = _quietly(
        lambda: book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    )
    return rows


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


def _sheet(raw: list[list[Any]], file: str, known: IsHeader, odd: Oddities) -> Sheet | None:
    top = [[_text(cell) for cell in row] for row in raw[:_HEADER_WITHIN]]
    best = max(range(len(top)), key=lambda i: known(top[i]), default=None)
    if best is None or known(top[best]) < 2:
        return None
    unfilled = _fill_merged_dates(raw, odd, best)
    rows = [[_text(cell) for cell in row] for row in raw[best + 1 :]]
    builder = SheetBuilder(file, top[best], best + 1)
    builder.add(rows, best + 2)
    sheet = builder.finish()
    sheet.plain_decimals = True
    sheet.dated = _dated(raw[best + 1 :], rows, len(sheet.header))
    for (row, column), doubt in odd.doubtful.items():
        if row > best and column < len(sheet.header):
            sheet.doubtful.setdefault(column, {})[row + 1] = doubt
    for row, column in unfilled:
        if column < len(sheet.header):
            sheet.problems.append(_merged(file, row + 1, sheet.header[column]))
    return sheet


def _fill_merged_dates(raw: list[list[Any]], odd: Oddities, header: int) -> list[Cell]:
    """Write a date that is merged over several rows into each of them, as the eye reads it.

    Return the first cells of other ranges that span rows: whether a score holds for all of its rows
    is not for a program to say.
    """
    unfilled = []
    for (top, left), (bottom, right) in odd.merged:
        if top <= header or bottom == top or not (top < len(raw) and left < len(raw[top])):
            continue
        value = raw[top][left]
        if value == "":
            continue
        if left != right or not _is_day(value):
            unfilled.append((top, left))
            continue
        for row in raw[top + 1 : bottom + 1]:
            row[left] = value
    return unfilled


def _write_midnights(raw: list[list[Any]], data: bytes, name: str) -> None:
    """Give back the time of day to dates that stand for midnight in a column of dates with times.

    A bare date there may be a time that was forgotten, so the cell must show its midnight.
    """
    days: dict[int, list[int]] = {}
    timed = set()
    for place, row in enumerate(raw):
        for column, cell in enumerate(row):
            if _is_day(cell):
                days.setdefault(column, []).append(place)
            elif isinstance(cell, dt.datetime):
                timed.add(column)
    if not timed.intersection(days):
        return
    showing = cells_with_time(data, name)
    for column in timed.intersection(days):
        for place in days[column]:
            if (place, column) in showing:
                raw[place][column] = f"{raw[place][column]:%Y-%m-%d}T00:00"


def _is_day(cell: Any) -> bool:
    return isinstance(cell, dt.date) and (
        not isinstance(cell, dt.datetime) or cell.time() == dt.time()
    )


def _dated(raw: list[list[Any]], rows: list[list[str]], width: int) -> dict[int, set[str]]:
    dated: dict[int, set[str]] = {}
    for cells, texts in zip(raw, rows, strict=True):
        for column, cell in enumerate(cells[:width]):
            if isinstance(cell, dt.date):
                dated.setdefault(column, set()).add(texts[column])
    return dated


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


def _hidden(file: str, name: str) -> Problem:
    return Problem(
        code="sheet-hidden",
        severity="warning",
        file=file,
        message=f"Sheet {name!r} is hidden; it was not read.",
        remedy="If its entries count, make it visible, save and add the file again.",
    )


def _merged(file: str, line: int, column: str) -> Problem:
    return Problem(
        code="cells-merged",
        severity="warning",
        file=file,
        line=line,
        column=column,
        message="This cell is merged over several rows; it was read for the first of them only.",
        remedy="Undo the merging and fill in each row, if it holds for all.",
    )
