"""What the program raises when a person can put something right. Anything else stays a bug."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from challenge.problems import Problem


class ChallengeError(Exception):
    """Something the person at the keyboard can put right.

    Parameters
    ----------
    message
        One plain sentence: what is wrong and what to do about it.
    problems
        Every single problem behind it, when there are several to list.
    """

    def __init__(self, message: str, problems: Sequence[Problem] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.problems: tuple[Problem, ...] = tuple(problems)


class ChallengeWarning(UserWarning):
    """A result that can be used, but with care."""
