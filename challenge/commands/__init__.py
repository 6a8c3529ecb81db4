"""The command line. Each command stands in a module of its own and imports what it needs late."""

from __future__ import annotations

import sys

from challenge.commands import (  # noqa: F401  each registers its command
    add,
    analyse,
    audit,
    check,
    decide,
    demo,
    letter,
    new,
    page,
    plan,
    report,
    simulate,
    today,
    undo,
)
from challenge.commands.app import app
from challenge.commands.screen import report_error
from challenge.errors import ChallengeError


def main() -> None:
    """Run the program; what a person can put right becomes a plain message and exit 1."""
    try:
        app()
    except ChallengeError as error:
        report_error(error)
        sys.exit(1)
    except BrokenPipeError:
        # the reader went away (``| head``); nothing to say to anybody
        sys.stderr.close()
        sys.exit(0)
