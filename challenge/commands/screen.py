"""What a person sees in a terminal: results on stdout, problems on stderr."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.problems import Problem

_SHOWN = 40
_MANY = 3
_WIDTH = 80


def say(text: str = "") -> None:
    """Print a result."""
    sys.stdout.write(f"{text}\n")


def warn(text: str) -> None:
    """Print what is not a result: progress, warnings, problems."""
    sys.stderr.write(f"{text}\n")


def wrapped(text: str, indent: str = "", hanging: str | None = None) -> str:
    """Return a text in lines that fit a terminal; ``hanging`` indents those after the first.

    Dates, options and paths stay whole: they are copied from here. So a long path may stick out.
    """
    from textwrap import fill

    return fill(
        text,
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_on_hyphens=False,
        break_long_words=False,
    )


def say_json(value: Any) -> None:
    """Print one JSON document; NaN is refused because it is not JSON."""
    import json

    say(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=2))


def list_problems(problems: Sequence[Problem], *, everything: bool = False) -> None:
    """Print problems, errors first; long lists are cut with a count, never silently.

    What is wrong in the same way with many cells of a column is told once, with their number.
    """
    order = {"error": 0, "warning": 1, "note": 2}
    ranked = _alike(sorted(problems, key=lambda problem: order[problem.severity]))
    shown = ranked if everything else ranked[:_SHOWN]
    for alike in shown:
        said = _told_once(alike) if len(alike) >= _MANY else [one.sentence() for one in alike]
        for sentence in said:
            warn(wrapped(f"{alike[0].severity}: {sentence}", hanging="  "))
    rest = sum(map(len, ranked[len(shown) :]))
    if rest:
        warn(f"... and {rest} more; `challenge check --json` lists all of them.")


def _alike(problems: Sequence[Problem]) -> list[list[Problem]]:
    """Put problems of the same kind in the same column together, if they differ by line only."""
    groups: dict[tuple[object, ...], list[Problem]] = {}
    for place, problem in enumerate(problems):
        by_line = problem.line is not None and problem.column is not None and not problem.date
        key = (problem.severity, problem.code, problem.file, problem.column, problem.message)
        groups.setdefault((*key, problem.remedy, None if by_line else place), []).append(problem)
    return list(groups.values())


def _told_once(alike: Sequence[Problem]) -> list[str]:
    """Return what many rows have in common, with the first lines and values."""
    from dataclasses import replace

    lines = [str(problem.line) for problem in alike]
    values = list(dict.fromkeys(repr(one.value) for one in alike if one.value))
    more = " ..." if len(alike) > _MANY else ""
    first = alike[0]
    where = f"{len(alike)} rows (lines {', '.join(lines[:_MANY])}{more})"
    place = replace(first, line=None).place()
    etc = " ..." if len(values) > _MANY else ""
    found = f" Found: {', '.join(values[:_MANY])}{etc}." if values else ""
    return [f"{place}, {where}: {first.message}{found} {first.remedy}".rstrip()]


def report_error(error: ChallengeError) -> None:
    """Print an error and every problem behind it."""
    list_problems(error.problems)
    for line in error.message.split("\n"):
        warn(wrapped(line))
