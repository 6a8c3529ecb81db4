"""Problems found in what people wrote: data to be listed, never an exception that stops at one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One thing that is wrong or doubtful, where it stands and what to do about it.

    Attributes
    ----------
    code
        Stable short name, such as ``score-out-of-range``; tests and other programs rely on it.
    severity
        ``error`` stops the work, ``warning`` needs a look, ``note`` is for information.
    message
        What is wrong, in plain words.
    remedy
        What the person can do about it.
    file
        File name as the person knows it.
    line
        Line as a spreadsheet shows it: the header is line 1.
    column
        Column name as typed in the file.
    value
        The value as typed.
    date
        ISO date the problem concerns, when it is about a day.
    """

    code: str
    severity: Severity
    message: str
    remedy: str = ""
    file: str | None = None
    line: int | None = None
    column: str | None = None
    value: str | None = None
    date: str | None = None

    def place(self) -> str:
        """Where it stands, as far as that is known: ``foods.csv, line 12, column score``."""
        parts = [self.file] if self.file else []
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.column:
            parts.append(f"column {self.column}")
        if self.date and self.date not in self.message:
            parts.append(self.date)
        return ", ".join(parts)

    def sentence(self) -> str:
        """Everything in one line of text."""
        head = f"{self.place()}: " if self.place() else ""
        found = f" Found: {self.value!r}." if self.value not in (None, "") else ""
        remedy = f" {self.remedy}" if self.remedy else ""
        return f"{head}{self.message}{found}{remedy}"


def errors_in(problems: Iterable[Problem]) -> list[Problem]:
    """Only those that stop the work."""
    return [problem for problem in problems if problem.severity == "error"]
