"""The command line. Each command stands in a module of its own and imports what it needs late."""

from __future__ import annotations

import os
import sys

from challenge.errors import ChallengeError


def main() -> None:
    """Run the program; what a person can put right becomes a plain message and exit 1."""
    try:
        _run()
    except ChallengeError as error:
        from challenge.commands.screen import report_error

        report_error(error)
        sys.exit(1)
    except BrokenPipeError:
        # the reader went away (``| head``); nothing to say to anybody
        sys.stderr.close()
        sys.exit(0)


def _run() -> None:
    words = sys.argv[1:]
    if len(words) == 2 and words[0] == "log" and _is_a_client(words[1]):
        # opened many times a day: it asks at once, before anything that reads options is loaded
        from pathlib import Path

        from challenge.commands.talk import talk

        talk(Path(words[1]))
        return
    from challenge.commands.app import app

    app()


def _is_a_client(word: str) -> bool:
    return bool(word) and not word.startswith("-") and "_CHALLENGE_COMPLETE" not in os.environ
