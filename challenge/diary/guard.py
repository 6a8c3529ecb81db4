"""Keep a spreadsheet from running a text as a formula; one apostrophe, taken off on reading."""

from __future__ import annotations

from typing import Final

# the wide forms of the signs, too: spreadsheets in East Asian settings take them for the plain ones
# (from memory)
_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def guard(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run as a formula."""
    return f"'{text}" if _runs(text) else text


def unguard(text: str) -> str:
    """Take such an apostrophe off again; the two undo each other for every text."""
    return text[1:] if text.startswith("'") and _runs(text[1:]) else text


def _runs(text: str) -> bool:
    return text.lstrip("' \xa0\n").startswith(_STARTS)
