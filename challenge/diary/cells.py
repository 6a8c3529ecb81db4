"""Cells of a workbook that its values alone do not tell: formulas without a result, merged cells.

The library that reads workbooks gives an empty cell for a formula that was never calculated and for
an error value such as ``#N/A``; neither may pass for "not scored". So the file itself is looked at,
but only where it holds a formula, an error or a merged cell.

Formats: ECMA-376 part 1 (XLSX, 18.3.1.4 ``c``, 18.3.1.40 ``f``, 18.2.2 ``calcPr``), OASIS
OpenDocument 1.3 part 3 (ODS, 9.1.4 ``table:table-cell``).
"""

from __future__ import annotations

import io
import lzma
import posixpath
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO, Final
from xml.etree.ElementTree import Element, ParseError, iterparse

Cell = tuple[int, int]
"""Row and column, from 0."""

_MAIN: Final = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT: Final = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
_OFFICE: Final = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE: Final = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_REFERENCE: Final = re.compile(r"([A-Z]{1,3})(\d+)")
_SHOWS_ERROR: Final = re.compile(r"#[A-Z/0]+[!?A]?|Err:\d+")
_QUOTED: Final = re.compile(r'"[^"]*"|\\.|\[(?!h)[^\]]*\]', re.IGNORECASE)
_CELL_TAG: Final = re.compile(rb"<(?:\w+:)?c\s[^>]*>")
_STYLE: Final = re.compile(rb"""\ss=["'](\d+)["']""")
_PLACE: Final = re.compile(rb"""\sr=["']([A-Z]+\d+)["']""")
_CLOCK: Final = re.compile(r"\d:\d\d")
_WIDEST: Final = 1_000
_PORTION: Final = 1 << 20


@dataclass(kw_only=True, slots=True)
class Oddities:
    """What a sheet holds besides plain values.

    Attributes
    ----------
    doubtful
        Cell -> code (``formula-not-calculated``, ``formula-error``) and what stands there.
    merged
        First and last cell of each merged range.
    """

    doubtful: dict[Cell, tuple[str, str]] = field(default_factory=dict)
    merged: list[tuple[Cell, Cell]] = field(default_factory=list)


# what zipfile and its decompressors raise for a damaged or encrypted file
_DAMAGED: Final = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    ParseError,
    EOFError,
    LookupError,
    ValueError,
    OSError,
    RuntimeError,
)


def cells_with_time(data: bytes, sheet: str) -> set[Cell]:
    """Return the cells of a sheet that show a time of day beside the date, midnight too.

    The library gives a bare date for midnight. Only called for a column that holds both.

    Parameters
    ----------
    data
        A workbook that `oddities` could look at.
    sheet
        Name of the sheet.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            if "xl/workbook.xml" in book.namelist():
                return _xlsx_times(book, _xlsx_parts(book)[0][sheet])
            return _ods_times(book, sheet)
    except _DAMAGED:
        return set()


def oddities(data: bytes) -> dict[str, Oddities] | None:
    """Return what the sheets of a workbook hold besides plain values, by name of the sheet.

    None for a file that is neither XLSX nor ODS (the older XLS, XLSB, one with a password), or
    damaged: its empty cells could not be trusted.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            if "xl/workbook.xml" in book.namelist():
                return _xlsx(book)
            if "content.xml" in book.namelist():
                return _ods(book)
    except _DAMAGED:
        return None
    return None


# -- XLSX ----------------------------------------------------------------------------------------


def _xlsx(book: zipfile.ZipFile) -> dict[str, Oddities]:
    sheets, stale = _xlsx_parts(book)
    return {
        name: _xlsx_sheet(book, part, stale)
        for name, part in sheets.items()
        if part in book.namelist()
    }


def _xlsx_parts(book: zipfile.ZipFile) -> tuple[dict[str, str], bool]:
    """Return the file of each sheet, and whether formulas wait to be calculated."""
    targets = {}
    for item in _elements(book.open("xl/_rels/workbook.xml.rels")):
        if "Target" in item.attrib:
            targets[item.get("Id")] = posixpath.normpath(
                posixpath.join("/xl", item.get("Target", ""))
            ).lstrip("/")
    stale = False
    sheets = {}
    for item in _elements(book.open("xl/workbook.xml")):
        name = item.tag.rpartition("}")[2]
        if name == "calcPr":
            # a program that wrote formulas without calculating them asks for it in this way
            stale = item.get("fullCalcOnLoad") in ("1", "true")
        elif name == "sheet":
            key = next((v for k, v in item.attrib.items() if k.endswith("}id")), None)
            sheets[item.get("name", "")] = targets.get(key, "")
    return sheets, stale


def _xlsx_times(book: zipfile.ZipFile, part: str) -> set[Cell]:
    """Cells whose number format has hours (ECMA-376 part 1, 18.8.30; 18 to 22 are built in)."""
    formats = {str(number): True for number in range(18, 23)}
    styles: list[bool] = []
    within = False
    for event, item in iterparse(book.open("xl/styles.xml"), events=("start", "end")):
        name = item.tag.rpartition("}")[2]
        if name == "cellXfs":
            within = event == "start"
        elif name == "numFmt" and event == "start":
            code = _QUOTED.sub("", item.get("formatCode", "")).lower()
            formats[item.get("numFmtId", "")] = "h" in code
        elif name == "xf" and within and event == "start":
            styles.append(formats.get(item.get("numFmtId", ""), False))
    # the tags alone are enough, and a pattern finds them in a fifth of the time of a parser
    return {
        _cell(place[1].decode())
        for tag in _CELL_TAG.finditer(book.read(part))
        if (style := _STYLE.search(tag[0])) is not None
        and styles[int(style[1])]
        and (place := _PLACE.search(tag[0])) is not None
    }


def _xlsx_sheet(book: zipfile.ZipFile, part: str, stale: bool) -> Oddities:
    found = Oddities()
    if not _holds(book, part, b"<f", b":f", b't="e"', b"mergeCell"):
        return found
    for item in _elements(book.open(part)):
        name = item.tag.removeprefix(_MAIN).removeprefix(_STRICT)
        if name == "c":
            _xlsx_cell(item, stale, found)
        elif name == "mergeCell":
            first, _, last = item.get("ref", "").partition(":")
            found.merged.append((_cell(first), _cell(last or first)))
    return found


def _xlsx_cell(item: Element, stale: bool, found: Oddities) -> None:
    formula = value = None
    for part in item:
        name = part.tag.rpartition("}")[2]
        if name == "f":
            formula = f"={part.text or ''}"
        elif name in ("v", "is"):
            value = "".join(part.itertext())
    if item.get("t") == "e":
        found.doubtful[_cell(item.get("r", ""))] = ("formula-error", value or "")
    elif formula is not None and _not_calculated(item.get("t"), value, stale):
        found.doubtful[_cell(item.get("r", ""))] = ("formula-not-calculated", formula)


def _not_calculated(kind: str | None, value: str | None, stale: bool) -> bool:
    # a text may be empty by calculation, a number may not
    return value is None or (kind != "str" and (stale or not value))


def _cell(reference: str) -> Cell:
    match = _REFERENCE.fullmatch(reference)
    if match is None:
        raise ValueError(reference)
    column = 0
    for letter in match[1]:
        column = 26 * column + ord(letter) - 64
    return int(match[2]) - 1, column - 1


# -- ODS -----------------------------------------------------------------------------------------


def _ods_times(book: zipfile.ZipFile, sheet: str) -> set[Cell]:
    """Cells whose date, as shown, ends with a time of day."""
    found = set()
    for row, column, cell, name in _ods_cells(book):
        if (
            name == sheet
            and cell.get(f"{_OFFICE}value-type") == "date"
            and _CLOCK.search("".join(cell.itertext()))
        ):
            found.add((row, column))
    return found


def _ods_cells(book: zipfile.ZipFile) -> Iterator[tuple[int, int, Element, str]]:
    """Yield cells with row, column and the sheet's name; repeated ones once."""
    row, name = 0, ""
    for event, item in iterparse(book.open("content.xml"), events=("start", "end")):
        if item.tag == f"{_TABLE}table" and event == "start":
            row, name = 0, item.get(f"{_TABLE}name", "")
        elif item.tag == f"{_TABLE}table-row" and event == "end":
            column = 0
            for cell in item:
                if cell.tag.endswith("table-cell"):
                    yield row, column, cell, name
                    column += int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
            row += int(item.get(f"{_TABLE}number-rows-repeated", "1"))
            item.clear()


def _ods(book: zipfile.ZipFile) -> dict[str, Oddities]:
    if not _holds(book, "content.xml", b"table:formula", b"rows-spanned"):
        return {}
    sheets: dict[str, Oddities] = {}
    for row, column, cell, name in _ods_cells(book):
        _ods_cell(cell, row, column, sheets.setdefault(name, Oddities()))
    return sheets


def _ods_cell(cell: Element, row: int, column: int, found: Oddities) -> None:
    down = int(cell.get(f"{_TABLE}number-rows-spanned", "1"))
    across = int(cell.get(f"{_TABLE}number-columns-spanned", "1"))
    if down > 1 or across > 1:
        found.merged.append(((row, column), (row + down - 1, column + across - 1)))
    formula = cell.get(f"{_TABLE}formula")
    if formula is None or not (code := _ods_doubt(cell)):
        return
    shown = formula.partition(":")[2] if formula[:1].isalpha() else formula
    text = "".join(cell.itertext()) if code == "formula-error" else shown
    for n in range(min(int(cell.get(f"{_TABLE}number-columns-repeated", "1")), _WIDEST)):
        found.doubtful[row, column + n] = (code, text)


def _ods_doubt(cell: Element) -> str:
    kind = cell.get(f"{_OFFICE}value-type")
    shown = "".join(cell.itertext())
    if _SHOWS_ERROR.fullmatch(shown):
        return "formula-error"
    if kind is None or (kind == "float" and not cell.get(f"{_OFFICE}value")):
        return "formula-not-calculated"
    return ""


def _holds(book: zipfile.ZipFile, part: str, *marks: bytes) -> bool:
    """Look through a part, in portions, for any of some marks."""
    end = b""
    with book.open(part) as stream:
        while portion := stream.read(_PORTION):
            if any(mark in end + portion for mark in marks):
                return True
            end = portion[-32:]
    return False


def _elements(stream: IO[bytes]) -> Iterator[Element]:
    """Yield elements as they end; a cell is emptied after it was looked at."""
    for _, item in iterparse(stream):
        yield item
        if item.tag.rpartition("}")[2] in ("c", "row"):
            item.clear()
