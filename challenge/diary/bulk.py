"""Take the plain rows of a large file of scores as they stand, and leave the others to the reader.

A row is plain when it holds a year-first time, a symptom by its own name, a whole score on its
scale, and a note that needs no quotes. Such a row has no problem by itself and says nothing on how
others are to be read, so taking it out changes neither the entries nor the problems of a file; a
test compares both ways. Rows are looked at as bytes, all at once.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain, compress
from typing import TYPE_CHECKING, Final

import numpy as np

from challenge.diary.clock_changes import clock_changes
from challenge.diary.headers import symptom_named, understand_header
from challenge.diary.many_rows import MARGIN, ManyRows
from challenge.diary.model import SYMPTOM_COLUMNS
from challenge.diary.options import ReadOptions
from challenge.diary.rows import Rows
from challenge.diary.scores import Scores, found_in, in_order
from challenge.diary.sheet import Sheet, SheetBuilder
from challenge.diary.table import IsHeader, find_header, told_delimiter
from challenge.terms import STOOL_FORM, SYMPTOMS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Places = NDArray[np.int64]
    Truths = NDArray[np.bool_]

_PORTION: Final = 4_000_000
_ODD_SHARE: Final = 0.2  # with more odd rows than this, the reader is as quick for all of them
_HEAD: Final = 200_000


def take_plain(
    text: str, file: str, options: ReadOptions, known: IsHeader
) -> tuple[Scores, Sheet] | None:
    """Part a file of scores into its plain rows and a sheet of all others.

    Parameters
    ----------
    text
        The whole file.
    file
        Its name, for the problems.
    options
        What is known of the client.
    known
        How many cells of a row are column names that we know.

    Returns
    -------
    tuple or None
        None where the file is not one of scores one per row, has cells of several lines, or few of
        its rows are plain.
    """
    layout = _layout(text, file, options, known)
    whole = text.encode("utf-8", "surrogatepass")
    if b"\r" in whole:
        whole = whole.replace(b"\r\n", b"\n")
    if layout is None or b"\r" in whole:
        return None
    whole = whole if whole.endswith(b"\n") else whole + b"\n"
    found, plain = _looked_through(whole, layout, options)
    if not plain.any() or (~plain).sum() > 10 + _ODD_SHARE * len(plain):
        return None
    if not all(_ends_where_it_should(line, layout) for one in found for line in one.quoted):
        return None
    scores = _found_scores(found, np.flatnonzero(plain) + 2, file, options)  # line 1 is the header
    odd = _at_clock_changes(scores, found, options.timezone)
    again = _repeated(scores) & ~odd
    odd[~again] |= _twice(scores.where(~again)) if again.any() else _twice(scores)
    if odd.any():
        plain[scores.places[odd] - 2] = False
    if odd.any() or again.any():
        scores = scores.where(~(odd | again))
    sheet = _others(found, plain, layout, file)
    return (in_order(scores), sheet) if len(scores) and sheet is not None else None


def condensed(rows: Rows, options: ReadOptions) -> Rows:
    """Return what was read row by row from one sheet with most of its scores as plain ones."""
    origins = [one for one in rows.origins if one.kind == "symptoms"]
    if rows.plain or len(origins) != 1:
        return rows
    (origin,) = origins
    lines = chain((",".join(SYMPTOM_COLUMNS),), map(",".join, rows.symptoms), ("",))
    whole = "\n".join(lines).encode("utf-8", "surrogatepass")
    if b"\r" in whole or whole.count(b"\n") != len(rows.symptoms) + 1:
        return rows
    layout = _Layout(",", SYMPTOM_COLUMNS, {name: at for at, name in enumerate(SYMPTOM_COLUMNS)})
    found, plain = _looked_through(whole, layout, options)
    if not plain.any():
        return rows
    places = np.array(origin.lines, dtype=np.int64)[plain]
    scores = _found_scores(found, places, origin.file, options)
    twice = _twice(scores)
    plain[np.flatnonzero(plain)[twice]] = False
    others = (~plain).tolist()
    left = replace(
        origin,
        rows=tuple(compress(origin.rows, others)),
        lines=tuple(compress(origin.lines, others)),
    )
    return replace(
        rows,
        symptoms=list(compress(rows.symptoms, others)),
        plain=in_order(scores.where(~twice)),
        origins=[left if one is origin else one for one in rows.origins],
    )


def _looked_through(
    whole: bytes, layout: _Layout, options: ReadOptions
) -> tuple[list[_Found], Truths]:
    """Look at all lines after the first; say which are plain.

    Where none of the first portion is, the others are not looked at.
    """
    names = _names(tuple(options.symptoms))
    found = []
    for portion in _portions(whole, whole.find(b"\n") + 1):
        found.append(_look(portion, layout, names))
        if not found[0].plain.any():
            break
    plain = np.concatenate([one.plain for one in found]) if found else np.zeros(0, dtype=bool)
    return found, plain


def _found_scores(
    found: Sequence[_Found], places: Places, file: str, options: ReadOptions
) -> Scores:
    return Scores(
        seconds=np.concatenate([one.seconds for one in found]),
        codes=np.concatenate([one.codes for one in found]),
        names=_names(tuple(options.symptoms)),
        lines=[line for one in found for line in one.written],
        places=places,
        file=file,
    )


@dataclass(frozen=True, slots=True)
class _Layout:
    """How a row is made up: what stands between cells, the header, and which cell is what."""

    mark: str
    header: tuple[str, ...]
    columns: Mapping[str, int]

    @property
    def is_contract(self) -> bool:
        """The contract's columns in its order, as far as they go."""
        order = {name: place for place, name in enumerate(SYMPTOM_COLUMNS[: len(self.header)])}
        return self.mark == "," and self.columns == order


def _layout(text: str, file: str, options: ReadOptions, known: IsHeader) -> _Layout | None:
    first = text[: text.find("\n") + 1].rstrip("\r\n")
    if '"' in first or told_delimiter(text)[0] is not None:
        return None
    mark, skipped, header = find_header(text[:_HEAD], None, known)
    if header is None or skipped or first.split(mark) != list(header):
        return None
    told = understand_header(header, file, 1, mapping=options.columns, declared=options.symptoms)
    if told.symptoms or told.problems or told.kinds != ("symptoms",):
        return None
    columns = dict(told.columns)
    if len(columns) != len(header) or set(columns) - set(SYMPTOM_COLUMNS) or "time" not in columns:
        return None
    return _Layout(mark, tuple(header), columns)


@cache
def _names(declared: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names under which a symptom is stored, in order of the alphabet."""
    usual = {*SYMPTOMS, STOOL_FORM, *declared}
    plain = (n for n in usual if n == symptom_named(n, declared) and not set(n) & set('",\r\n'))
    return tuple(sorted(name for name in plain if len(name.encode()) < MARGIN))


@dataclass(frozen=True, slots=True)
class _Portion:
    """Some whole lines: their bytes with a margin, and where each begins and ends."""

    text: bytes
    bytes: Bytes
    begins: Places
    ends: Places


def _portions(text: bytes, start: int) -> Iterator[_Portion]:
    """Yield the lines in portions, so that no array is as long as the file."""
    while start < len(text):
        end = text.find(b"\n", start + _PORTION) + 1 or len(text)
        part = text[start:end]
        letters = np.frombuffer(part + b"\0" * MARGIN, dtype=np.uint8)
        ends = np.flatnonzero(letters == ord("\n"))
        yield _Portion(part, letters, np.r_[0, ends[:-1] + 1], ends)
        start = end


@dataclass(frozen=True, slots=True)
class _Found:
    """What was found of the lines of a portion.

    Attributes
    ----------
    lines
        All of them.
    plain
        Which are plain; the others tell of these only.
    written
        Each as the table holds it.
    seconds, codes, entered
        Time, symptom, and time of writing or again the time where none is given.
    quoted
        Lines with quotes.
    """

    lines: list[bytes]
    plain: Truths
    written: list[bytes]
    seconds: Places
    codes: Places
    entered: Places
    quoted: list[bytes]


def _look(portion: _Portion, layout: _Layout, names: Sequence[str]) -> _Found:
    letters, begins, ends = portion.bytes, portion.begins, portion.ends
    lines = portion.text.split(b"\n")[:-1]
    marks = np.flatnonzero(letters == ord(layout.mark))
    first = np.searchsorted(marks, begins)
    even = np.searchsorted(marks, ends) - first == len(layout.header) - 1
    quotes = _lines_with('"', portion)
    even[quotes] = False
    if layout.mark != ",":
        even[_lines_with(",", portion)] = False
    which = np.flatnonzero(even)
    inner = [marks[first[which] + place] for place in range(len(layout.header) - 1)]
    edges = [begins[which] - 1, *inner, ends[which]]
    cells = {name: (edges[at] + 1, edges[at + 1]) for name, at in layout.columns.items()}
    row = ManyRows.of(letters, cells, names)
    plain = np.zeros(len(lines), dtype=bool)
    plain[which[row.good]] = True
    own = list(compress(lines, plain.tolist()))
    if layout.is_contract and bool(row.exact[row.good].all()):
        rest = b"," * (len(SYMPTOM_COLUMNS) - len(layout.header))
        written = [line + rest for line in own] if rest else own
    else:
        written = row.written(own, begins[which], cells.get("note"), names)
    return _Found(
        lines=lines,
        plain=plain,
        written=written,
        seconds=row.time.seconds[row.good],
        codes=row.codes[row.good],
        entered=(row.entered or row.time).seconds[row.good],
        quoted=[lines[place] for place in quotes.tolist()],
    )


def _lines_with(sign: str, portion: _Portion) -> Places:
    return np.unique(np.searchsorted(portion.ends, np.flatnonzero(portion.bytes == ord(sign))))


def _ends_where_it_should(line: bytes, layout: _Layout) -> bool:
    """Say whether a line with quotes is a whole row, so that the next line begins a new one."""
    try:
        return (
            len(list(csv.reader([f"{line.decode()}\n"], delimiter=layout.mark, strict=True))) == 1
        )
    except csv.Error:
        return False


def _repeated(scores: Scores) -> Truths:
    """Mark scores that are the same in all as an earlier one, where none of that time differs.

    They count once, as the careful way has it; only stools may really come twice.
    """
    keys = scores.keys
    found = np.zeros(len(keys), dtype=bool)
    if bool((keys[1:] > keys[:-1]).all()):
        return found
    order = np.argsort(keys, kind="stable")
    pairs = np.flatnonzero(keys[order][1:] == keys[order][:-1])
    lines, firsts, seconds = scores.lines, order[pairs], order[pairs + 1]
    same = [
        lines[one] == lines[two] for one, two in zip(firsts.tolist(), seconds.tolist(), strict=True)
    ]
    found[seconds] = True
    differing = np.unique(keys[seconds[~np.array(same, dtype=bool)]])
    stool = scores.codes == scores.names.index(STOOL_FORM)
    found &= ~stool & ~found_in(keys, differing)
    return found


def _twice(scores: Scores) -> Truths:
    """Mark the scores of which another is of the same time and symptom."""
    keys = scores.keys
    if bool((keys[1:] > keys[:-1]).all()):
        return np.zeros(len(keys), dtype=bool)
    ranked = np.sort(keys)
    return found_in(keys, np.unique(ranked[1:][ranked[1:] == ranked[:-1]]))


def _at_clock_changes(scores: Scores, found: Sequence[_Found], zone: str) -> Truths:
    """Mark the scores with a time that a change of the clocks leaves out or gives twice."""
    if zone in ("", "UTC"):
        return np.zeros(len(scores), dtype=bool)
    entered = np.concatenate([one.entered for one in found])
    distinct = np.unique(np.concatenate((scores.seconds, entered))).astype("datetime64[s]")
    odd = sorted(clock_changes(np.datetime_as_string(distinct).tolist(), zone))
    moments = np.array(odd, dtype="datetime64[s]").astype(np.int64)
    return found_in(scores.seconds, moments) | found_in(entered, moments)


def _others(found: Sequence[_Found], plain: Truths, layout: _Layout, file: str) -> Sheet | None:
    """Return the rows that are not plain; None where one cannot be taken apart into cells."""
    builder = SheetBuilder(file, layout.header, 1)
    start = 0
    for one in found:
        for place in np.flatnonzero(~plain[start : start + len(one.lines)]).tolist():
            line = one.lines[place].decode("utf-8", "surrogatepass")
            try:
                row = next(csv.reader([line], delimiter=layout.mark, strict=True))
            except csv.Error:
                return None
            builder.add([row], start + place + 2)
        start += len(one.lines)
    sheet = builder.finish()
    sheet.delimiter = layout.mark
    return sheet
