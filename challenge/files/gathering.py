"""What several files, or what was typed, add up to, with every problem of all of them."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from challenge.errors import ChallengeError
from challenge.files.import_store import TABLE_OF
from challenge.problems import Problem, errors_in

if TYPE_CHECKING:
    from challenge.diary.merge import Conflict
    from challenge.diary.rows import Row, Rows

    Source = Callable[[str, set[Row]], dict[Row, str]]

_DATED_LINE: Final = re.compile(r"[\r\n]+\s*\d{1,4}[-/.]\d{1,2}[-/.]\d")
_LONGEST: Final = 30_000


def put_together(parts: list[tuple[str, Rows]], skip: bool) -> tuple[Rows, list[Problem]]:
    """Check each part by itself and join all of them; entries in two of them count once."""
    from challenge.diary.merge import Record
    from challenge.diary.twice import check_rows

    record = Record()
    problems: list[Problem] = []
    for place, (file, part) in enumerate(parts):
        own = list(part.problems)
        if skip:
            own = _without_refused(own, part)
        checked, found = check_rows(part)
        checked.refused = part.refused
        own += found
        own += unkeepable(checked, file)
        own += contradictions(record.join(checked)[1], file, checked, _EarlierFiles(parts[:place]))
        problems += own
        parts[place] = (file, checked)
    return record.rows(), problems


def contradictions(
    conflicts: Sequence[Conflict], file: str, part: Rows, source: Source
) -> list[Problem]:
    """Return conflicts as errors that name the lines of the new file and where the old came from.

    Parameters
    ----------
    conflicts
        Between entries of a file and those on record.
    file, part
        The file's name and what was read of it.
    source
        Tells in words where rows on record came from.
    """
    from challenge.diary.merge import contradiction
    from challenge.diary.wording import LISTED, and_more

    problems = []
    for kind in dict.fromkeys(conflict.kind for conflict in conflicts):
        every = [conflict for conflict in conflicts if conflict.kind == kind]
        own = every[:LISTED]
        heads = [conflict.heads() for conflict in own]
        lines = part.places(kind, {told for _, told in heads})
        sources = source(kind, {held for held, _ in heads})
        for conflict, (held, told) in zip(own, heads, strict=True):
            where, line = lines.get(told, (file, None))
            problems.append(
                contradiction(conflict, where, line, sources.get(held, "an earlier import"))
            )
        if len(every) > LISTED:
            column = problems[-1].column or ""
            problems.append(and_more(file, column, len(every) - LISTED))
    return problems


class _EarlierFiles:
    """Where rows of the files of the same command stand."""

    def __init__(self, parts: Sequence[tuple[str, Rows]]) -> None:
        self.parts = parts

    def __call__(self, kind: str, heads: set[Row]) -> dict[Row, str]:
        found: dict[Row, str] = {}
        for _, part in self.parts:
            for head, (file, line) in part.places(kind, heads).items():
                found.setdefault(head, f"{file}, line {line}")
        return found


def _without_refused(problems: Sequence[Problem], part: Rows) -> list[Problem]:
    """Make warnings of the errors of rows that are left out and kept in a file beside."""
    refused = {(row.file, row.line) for row in part.refused}
    return [
        dataclasses.replace(
            problem,
            severity="warning",
            message=f"{problem.message} The row was left out.",
        )
        if problem.severity == "error"
        and ((problem.file, problem.line) in refused or problem.code == "more-of-the-same")
        else problem
        for problem in problems
    ]


def refused_texts(parts: Sequence[tuple[str, Rows]]) -> dict[str, str]:
    """Return the refused rows as tables that can be put right and added: one per sheet."""
    from challenge.diary.rows import Refused
    from challenge.files.writing import guarded_text

    sheets: dict[str, list[Refused]] = {}
    reasons: dict[tuple[str | None, int | None], list[str]] = {}
    for _, part in parts:
        for row in part.refused:
            sheets.setdefault(row.file, []).append(row)
        for problem in errors_in(part.problems):
            reasons.setdefault((problem.file, problem.line), []).append(problem.message)
    texts = {}
    for number, (file, rows) in enumerate(sheets.items(), 1):
        width = max(len(rows[0].header), *(len(row.cells) for row in rows))
        header = [*rows[0].header, *[""] * (width - len(rows[0].header))]
        texts[f"refused-{number}.csv"] = guarded_text(
            ["line in the file", "why the row was left out", *header],
            [
                [str(row.line), " ".join(reasons.get((file, row.line), ())), *row.cells]
                + [""] * (width - len(row.cells))
                for row in rows
            ],
        )
    return texts


def unkeepable(rows: Rows, file: str) -> list[Problem]:
    """Find texts that a CSV file would not give back: a workbook's cell, or typed, may hold any."""
    problems = []
    texts = {
        text
        for kind in TABLE_OF
        for row in getattr(rows, kind)
        for text in row
        if len(text) > _LONGEST or (("\n" in text or "\r" in text) and _DATED_LINE.search(text))
    }
    for text in sorted(texts):
        long = len(text) > _LONGEST
        problems.append(
            Problem(
                code="text-too-long" if long else "text-with-dated-line",
                severity="error",
                file=file,
                value=text[:60],
                message=f"The text has more than {_LONGEST} letters."
                if long
                else "The text goes on over several lines, one of which begins with a date.",
                remedy="Shorten it." if long else "Write it in one line.",
            )
        )
    return problems


def stop_at_errors(problems: Sequence[Problem]) -> None:
    """Raise ChallengeError with all problems when one of them is an error."""
    errors = errors_in(problems)
    if errors:
        count = "One error" if len(errors) == 1 else f"{len(errors)} errors"
        raise ChallengeError(f"{count}; nothing was stored.", problems)
