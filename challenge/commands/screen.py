"""What a person sees in a terminal: results on stdout, problems on stderr."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.problems import Problem

_SHOWN = 40
_WIDTH = 80


def say(text: str = "") -> None:
    """Print a result."""
    sys.stdout.write(f"{text}\n")


def warn(text: str) -> None:
    """Print what is not a result: progress, warnings, problems."""
    sys.stderr.write(f"{text}\n")


def wrapped(text: str, indent: str = "", hanging: str | None = None) -> str:
    """Return a text in lines that fit a terminal; ``hanging`` indents those after the first."""
    from textwrap import fill

    later = indent if hanging is None else hanging
    return fill(text, _WIDTH, initial_indent=indent, subsequent_indent=later)


def say_json(value: Any) -> None:
    """Print one JSON document; NaN is refused because it is not JSON."""
    import json

    say(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=2))


def list_problems(problems: Sequence[Problem], *, everything: bool = False) -> None:
    """Print problems, one a line, errors first; long lists are cut with a count, never silently."""
    order = {"error": 0, "warning": 1, "note": 2}
    ranked = sorted(problems, key=lambda problem: order[problem.severity])
    shown = ranked if everything else ranked[:_SHOWN]
    for problem in shown:
        warn(f"{problem.severity}: {problem.sentence()}")
    if len(ranked) > len(shown):
        warn(
            f"... and {len(ranked) - len(shown)} more; `challenge check --json` lists all of them."
        )


def report_error(error: ChallengeError) -> None:
    """Print an error and every problem behind it."""
    list_problems(error.problems)
    warn(error.message)
