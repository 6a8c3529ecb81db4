"""What a reader must know of the client before it opens a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, get_args

from challenge.terms import SYMPTOMS

DateOrder = Literal["day-first", "month-first", "year-first"]
DATE_ORDERS: Final[tuple[DateOrder, ...]] = get_args(DateOrder)


@dataclass(frozen=True, kw_only=True)
class ReadOptions:
    """How odd files are to be read.

    Attributes
    ----------
    symptoms
        0-10 symptoms that the client follows; the usual five are always known.
    columns
        Column names of the client's own spreadsheet -> names of the contract.
    timezone
        IANA name of the client's time zone; ``UTC`` or empty when it is not known.
    on_record
        The rows were taken before: a time that a change of the clocks leaves out is then only
        warned of, so that setting the time zone later makes no diary unreadable.
    encoding
        Character encoding, when the person said which.
    date_order
        Order of day and month, when the person said which.
    """

    symptoms: tuple[str, ...] = SYMPTOMS
    columns: Mapping[str, str] = field(default_factory=dict)
    timezone: str = ""
    encoding: str | None = None
    date_order: DateOrder | None = None
    on_record: bool = False
