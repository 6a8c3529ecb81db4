"""The command line. Each command stands in a module of its own and imports what it needs late."""

from __future__ import annotations

import sys

from challenge.commands.app import app
from challenge.errors import ChallengeError


def main() -> None:
    """Run the program; what a person can put right becomes a plain message and exit 1."""
    try:
        app()
    except ChallengeError as error:
        from challenge.commands.screen import report_error

        report_error(error)
        sys.exit(1)
    except BrokenPipeError:
        # the reader went away (``| head``); nothing to say to anybody
        sys.stderr.close()
        sys.exit(0)
