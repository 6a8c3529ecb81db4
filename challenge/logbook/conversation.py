"""The daily log as a conversation: pure data, whoever asks and reads."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

from challenge.logbook.answers import UnclearError
from challenge.logbook.day_script import day_script
from challenge.logbook.entries import Entries
from challenge.logbook.questions import Known, Question, Script

_BACK: Final = frozenset({"b", "back"})
_STOP: Final = frozenset({"q", "quit"})
_HELP: Final = frozenset({"?", "help"})


class StopError(Exception):
    """The client wants to stop here."""


class HelpAsked(Exception):  # noqa: N818  not an error
    """The client asks what is meant; its text says it."""


@dataclass
class Conversation:
    """Asks, takes answers, goes back.

    The answers so far are kept; going back drops the last one and asks all over again from them.
    """

    known: Known
    entries: Entries = field(default_factory=Entries)
    question: Question | None = None
    _given: list[Any] = field(default_factory=list)
    _script: Script | None = None

    def __post_init__(self) -> None:
        self._again()

    def answer(self, text: str) -> str:
        """Take an answer; return why it cannot be used, or nothing.

        Raises
        ------
        HelpAsked
            For ``?``.
        StopError
            For ``q``.
        """
        assert self.question is not None
        word = text.strip().lower()
        if word in _STOP:
            raise StopError
        if word in _HELP:
            raise HelpAsked(self.question.help or "Answer the question; b goes back, q stops.")
        if word in _BACK:
            return self._back()
        try:
            value = self.question.read(text)
        except UnclearError as error:
            return str(error)
        self._given.append(value)
        self._send(value)
        return ""

    def _back(self) -> str:
        if not self._given:
            return "This is the first question."
        self._given.pop()
        self._again()
        return ""

    def _again(self) -> None:
        self.entries = Entries()
        self._script = day_script(self.known, self.entries)
        self.question = next(self._script)
        for value in self._given:
            self._send(value)

    def _send(self, value: Any) -> None:
        assert self._script is not None
        try:
            self.question = self._script.send(value)
        except StopIteration:
            self.question = None
