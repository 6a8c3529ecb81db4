"""Numbers as people and spreadsheets write them; what can be read in two ways is not read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

_SPACES: Final = str.maketrans(dict.fromkeys(" \xa0\u2009\u202f'’"))
_PLAIN: Final = re.compile(r"-?\d+(?:\.\d+)?")
_UNIT: Final = re.compile(r"\s*(?:g|gr|gramm?e?s?|ml|millilit(?:re|er)s?)\.?$", re.IGNORECASE)
_GROUPED: Final = re.compile(r"-?\d{1,3}(?:[ \xa0\u2009\u202f'’]\d{3})+(?:[.,]\d+)?")
_BOTH: Final = re.compile(r"-?\d{1,3}(?:(?:,\d{3})+\.\d+|(?:\.\d{3})+,\d+)")
_SINGLE: Final = re.compile(r"-?(\d*)([.,])(\d+)")
_MANY: Final = re.compile(r"-?\d{1,3}(?:(?:,\d{3}){2,}|(?:\.\d{3}){2,})")

MISSING_WORDS: Final = frozenset(
    {"-", "–", "—", "--", "?", "na", "n/a", "n.a.", "none", "null", "nan", "nil", "k.a.", "nd"}
)
"""What people and programs write for "not known"; taken as no entry, and said so."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DecimalStyle:
    """Which sign stands before decimals in a file, as far as its numbers show."""

    comma: bool
    point: bool


def decimal_style(texts: Iterable[str], *, point: bool = False) -> DecimalStyle:
    """Look through the numbers of a file for those that can be read in one way only.

    Parameters
    ----------
    texts
        Distinct cells of all number columns.
    point
        The file is known to write a decimal point.
    """
    comma = False
    for text in texts:
        number = _UNIT.sub("", text.strip())
        match = _SINGLE.fullmatch(number)
        if match and not _may_be_thousands(match):
            comma, point = comma or match[2] == ",", point or match[2] == "."
        elif _BOTH.fullmatch(number):
            last = max(number.rfind(","), number.rfind("."))
            comma, point = comma or number[last] == ",", point or number[last] == "."
    return DecimalStyle(comma=comma, point=point)


def _may_be_thousands(match: re.Match[str]) -> bool:
    return len(match[3]) == 3 and 1 <= len(match[1]) <= 3 and not match[1].startswith("0")


def read_number(text: str, style: DecimalStyle) -> float | str:
    """Return the number that a cell holds, or a code for why it holds none.

    Codes: ``number-unreadable``, ``number-ambiguous`` (1.234 may be a thousand or a decimal).

    Parameters
    ----------
    text
        The cell; not empty.
    style
        What the other numbers of the file show.
    """
    number = _UNIT.sub("", text.strip()).replace("−", "-")
    if not number.isascii() and not _GROUPED.fullmatch(number):
        return "number-unreadable"
    if _GROUPED.fullmatch(number):
        number = number.translate(_SPACES)
        whole, sign, rest = number.replace(",", ".").partition(".")
        return float(whole + sign + rest)
    if _BOTH.fullmatch(number):
        last = max(number.rfind(","), number.rfind("."))
        return float(re.sub("[.,]", "", number[:last]) + "." + number[last + 1 :])
    if _MANY.fullmatch(number):
        return float(re.sub("[.,]", "", number))
    match = _SINGLE.fullmatch(number)
    if match and _may_be_thousands(match):
        told = style.comma if match[2] == "," else style.point
        against = style.point if match[2] == "," else style.comma
        if not told or against:
            return "number-ambiguous"
    number = number.replace(",", ".")
    if number.startswith("."):
        number = "0" + number
    elif number.startswith("-."):
        number = "-0" + number[1:]
    return float(number) if _PLAIN.fullmatch(number) else "number-unreadable"


def number_text(value: float) -> str:
    """Return the shortest text that reads back as the same number; no exponent, no ``.0``."""
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    return f"{Decimal(repr(float(value))):f}"
