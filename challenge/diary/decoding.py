"""Bytes to text: what is certain, what is likely, and what must be asked."""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from typing import Final

from challenge.diary.code_pages import Reading, differing_words, readings
from challenge.problems import Problem

_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_PICTURES_AND_SUCH: Final = (
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"%PDF", "a PDF"),
    (b"{\\rtf", "a text document (RTF)"),
)
_EXPORT: Final = "Export the table as CSV (UTF-8), XLSX or ODS and give that file."
_ASK: Final = "Say which it is with --encoding, for example --encoding windows-1250."


@dataclass(frozen=True, kw_only=True, slots=True)
class Decoded:
    """Text of a file and how sure its letters are; ``text`` is None where it cannot be read."""

    text: str | None
    encoding: str
    problems: tuple[Problem, ...] = ()


def decode(data: bytes, file: str, encoding: str | None = None) -> Decoded:
    """Turn the bytes of a text file into text.

    A mark, UTF-16 without a mark and UTF-8 are certain. Otherwise an old code page is taken, with a
    warning that shows its words, if it is the only one in which every word can be a word; where
    none or several are, the person is asked.

    Parameters
    ----------
    data
        Content of the file.
    file
        Its name, for the problems.
    encoding
        What the person said; then nothing is guessed.
    """
    if encoding is not None:
        return _as_told(data, file, encoding)
    for magic, what in _PICTURES_AND_SUCH:
        if data.startswith(magic):
            return _refused(file, "not-a-table", f"This is {what}, not a table.", _EXPORT)
    for mark, name in _MARKS:
        if data.startswith(mark):
            return _strict(data, file, name)
    if b"\0" in data:
        return _without_mark(data, file)
    try:
        return Decoded(text=data.decode("utf-8"), encoding="utf-8")
    except UnicodeDecodeError:
        return _old_page(data, file)


def _as_told(data: bytes, file: str, encoding: str) -> Decoded:
    try:
        is_text = codecs.lookup(encoding)._is_text_encoding
    except (LookupError, ValueError):
        is_text = False
    if not is_text:
        return _refused(
            file,
            "encoding-unknown",
            f"There is no character encoding {encoding!r}.",
            "Usual ones are utf-8, windows-1252, windows-1250 and utf-16.",
        )
    name = "utf-8-sig" if encoding.lower().replace("_", "-") in ("utf-8", "utf8") else encoding
    return _strict(data, file, name)


def _strict(data: bytes, file: str, encoding: str) -> Decoded:
    try:
        text = data.decode(encoding)
    except UnicodeError as error:
        start = getattr(error, "start", 0)
        line = data.count(b"\n", 0, start) + 1
        return _refused(
            file,
            "encoding-wrong",
            f"The file is not valid {encoding} (around line {line}).",
            "Export it again as CSV UTF-8, or say the right one with --encoding.",
        )
    if "\0" in text:
        return _refused(file, "not-a-table", "The file holds bytes that no text has.", _EXPORT)
    return Decoded(text=text.removeprefix("\ufeff"), encoding=encoding)


def _without_mark(data: bytes, file: str) -> Decoded:
    # Western text in UTF-16 has a zero in nearly every second byte
    even, odd = data[0::2].count(0), data[1::2].count(0)
    half = len(data) / 2
    for share, other, name in ((odd, even, "utf-16-le"), (even, odd, "utf-16-be")):
        if len(data) % 2 == 0 and share > 0.5 * half and other < 0.05 * half:
            return _strict(data, file, name)
    return _refused(file, "not-a-table", "The file holds bytes that no text has.", _EXPORT)


def _old_page(data: bytes, file: str) -> Decoded:
    found = readings(data)
    if not found:
        return _refused(
            file, "encoding-unsure", "The file is neither UTF-8 nor Windows-1252.", _ASK
        )
    first = found[0]
    shown = ", ".join(repr(word[:40]) for word in first.words()[:3])
    if not first.possible:
        return _refused(
            file,
            "encoding-unsure",
            f"The file is not UTF-8, and read as {first.encoding} it shows {shown}.",
            _ASK,
        )
    if len(found) > 1:
        pages = " or ".join(f"--encoding {one.encoding}" for one in found)
        return _refused(
            file,
            "encoding-unsure",
            f"The file is not UTF-8, and its words can be read in more than one way: "
            f"{_both_ways(found)}.",
            f"Say which words are right: {pages}.",
        )
    return Decoded(
        text=first.text,
        encoding=first.encoding,
        problems=(
            Problem(
                code="encoding-guessed",
                severity="warning",
                file=file,
                message=f"The file is not UTF-8; read as {first.encoding} it shows {shown}.",
                remedy="If these words are wrong, say the right one with --encoding.",
            ),
        ),
    )


def _both_ways(found: list[Reading]) -> str:
    """Return the same words as each page gives them."""
    pairs = list(differing_words(found[0], found[1]))
    ways = []
    for one, words in zip(found[:2], zip(*pairs, strict=True), strict=False):
        ways.append(f"{', '.join(repr(word[:40]) for word in words)} in {one.encoding}")
    return "; ".join(ways)


def _refused(file: str, code: str, message: str, remedy: str) -> Decoded:
    problem = Problem(code=code, severity="error", file=file, message=message, remedy=remedy)
    return Decoded(text=None, encoding="", problems=(problem,))
