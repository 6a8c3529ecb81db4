"""Something to be said, as data: which sentence, with which values; in no language yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Statement:
    """A sentence that has not been worded yet.

    ``Words.tell`` words it in a language; ``str`` gives the English.

    Attributes
    ----------
    code
        Key under ``said`` in the language files.
    values
        What fills the gaps, in full precision: numbers, dates, names of the trade, or further
        statements that stand inside this one.
    """

    code: str
    values: Mapping[str, object] = field(default_factory=dict)

    def __hash__(self) -> int:
        return hash(self.code)

    def __str__(self) -> str:
        from challenge.wording.words import load_words

        return load_words("en").tell(self)

    def as_data(self) -> dict[str, Any]:
        """Return code and values as plain data; dates as ISO text."""
        return {"code": self.code, "values": {k: _plain(v) for k, v in self.values.items()}}


def statement(code: str, **values: object) -> Statement:
    """Make a statement from its code and named values."""
    return Statement(code, values)


def _plain(value: object) -> Any:
    if isinstance(value, Statement):
        return value.as_data()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, dt.date) else value
