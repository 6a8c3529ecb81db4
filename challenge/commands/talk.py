"""The daily log as a conversation at the prompt. Imports nothing that takes long to load."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from challenge.commands.client_lines import day_words
from challenge.commands.clock import now as now_by_the_clock
from challenge.commands.keyboard import at_a_terminal, has_keys, read_key, read_line
from challenge.commands.screen import say, warn, wrapped
from challenge.diary.day import diary_day
from challenge.errors import ChallengeError
from challenge.files.folder import client_folder
from challenge.files.log_start import LogStart, read_log_start
from challenge.logbook.conversation import Conversation, HelpAsked, StopError
from challenge.logbook.questions import Known, Question, Today
from challenge.logbook.written import Written, written_on

_KEYS: Final = "Enter alone means what stands in [brackets]; ? explains, b goes back, q stops."
_UNREADABLE: Final = "That came in letters this terminal does not know. Please type it again."
_CLOCK_OFF: Final = dt.timedelta(minutes=2)


def talk(client: Path, date: dt.date | None = None, *, lines: bool = False) -> None:
    """Ask for a day's entries and store them.

    Parameters
    ----------
    client
        The client's folder.
    date
        The day that is written about; by default the one that the clock is in.
    lines
        Every answer ends with Enter, also where one key would do.

    Raises
    ------
    ChallengeError
        If nobody is at a terminal, or the folder cannot be used.
    """
    folder = client_folder(client)
    if not at_a_terminal():
        raise ChallengeError(
            "Nothing to write down was given, and this is no terminal to ask at. Give it as "
            "options: --score pain=3, --ate, --food NAME=GRAMS, --stool 4, --event NAME, "
            "--note TEXT, --at 08:10. `challenge log --help` explains them."
        )
    if isinstance(sys.stdout, io.TextIOWrapper):
        # a letter that this terminal cannot show is no reason to break off
        sys.stdout.reconfigure(errors="replace")
    now = now_by_the_clock()
    day = date if date is not None else diary_day(now)
    if day > diary_day(now):
        raise ChallengeError(f"{day_words(day)} {day.year} has not come yet.")
    start = read_log_start(folder, day)
    written = written_on(start.foods, start.symptoms_given, day, start.symptoms)
    ahead = _Ahead(lambda: _today(folder, day))
    conversation = Conversation(
        Known(
            date=day,
            now=now,
            symptoms=start.symptoms,
            wanted=start.wanted,
            written=written,
            today=ahead.result,
            plan=start.plan,
            zone=start.zone,
            one_key=has_keys() and not lines,
        )
    )
    for line in _head(start, written, day, now):
        say(line)
    with _hangup_ends_input():
        _hold(conversation, ahead, folder, day, start.zone)


def _today(folder: Path, day: dt.date) -> Today:
    from challenge.commands.log_entries import today_by_the_plan

    return today_by_the_plan(folder, day)


class _Ahead:
    """Works something out while the client reads and answers the first questions."""

    def __init__(self, work: Callable[[], Today]) -> None:
        self._work = work
        self._thread: threading.Thread | None = None
        self._found: Today | None = None
        self._error: BaseException | None = None

    def begin(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._run)
            self._thread.start()

    def _run(self) -> None:
        try:
            self._found = self._work()
        except BaseException as error:  # handed to whoever asks for the result
            self._error = error

    def result(self) -> Today:
        self.begin()
        assert self._thread is not None
        self._thread.join()
        if self._error is not None:
            raise self._error
        assert self._found is not None
        return self._found


def _head(start: LogStart, written: Written, day: dt.date, now: dt.datetime) -> list[str]:
    head = f"{day_words(day)} {day.year}"
    if start.number is not None:
        head += f", day {start.number} of {start.length}"
    lines = [head]
    if day == diary_day(now) != now.date():
        lines.append(f"It is {now:%H:%M}: this still belongs to {day:%A}.")
    if written.last_entered is not None and written.last_entered > now + _CLOCK_OFF:
        last = written.last_entered
        lines.append(
            f"You last wrote on {last:%d %B, %H:%M}, and this clock shows an earlier time. "
            "Please check its date and time before you go on."
        )
    return [*lines, _KEYS]


def _hold(conversation: Conversation, ahead: _Ahead, folder: Path, day: dt.date, zone: str) -> None:
    try:
        _ask_all(conversation, ahead)
    except (KeyboardInterrupt, EOFError, StopError):
        _finish(conversation, folder, day, zone, stopped=True)
        sys.exit(1)
    except Exception:
        # a fault in the program is no reason to lose what was answered
        _finish(conversation, folder, day, zone, stopped=True)
        raise
    _finish(conversation, folder, day, zone, stopped=False)


def _ask_all(conversation: Conversation, ahead: _Ahead) -> None:
    shown: Question | None = None
    while (question := conversation.question) is not None:
        if question is not shown:
            for line in question.before:
                say(wrapped(line))
            shown = question
        prompt = f"{question.text} [{question.enter}]: " if question.enter else f"{question.text}: "
        if question.one_key and conversation.known.one_key:
            answer: str | None = read_key(prompt)
        else:
            answer = read_line(prompt, ahead.begin)
        try:
            complaint = _UNREADABLE if answer is None else conversation.answer(answer)
        except HelpAsked as help_asked:
            complaint = str(help_asked)
        if complaint:
            say(complaint)


def _finish(
    conversation: Conversation, folder: Path, day: dt.date, zone: str, *, stopped: bool
) -> None:
    from challenge.commands.log_entries import (
        alarms_in,
        clock_change_lines,
        lines_after,
        store,
    )

    entries = conversation.entries
    begun = conversation.question.begun if conversation.question is not None else ""
    changes, told = entries.changes(), entries.sentences()
    stored = bool(entries)
    if stored:
        try:
            store(folder, entries, now_by_the_clock())
        except ChallengeError:
            left = entries.changes()
            done = ["Stored:", *changes] if changes and not left else []
            for line in ["", *done, "Not stored:", *left, *told]:
                warn(line)
            raise
    lines = [""] if stopped else []
    if stored:
        lines += ["Stored:", *(f"  {line}" for line in (*changes, *told))]
    else:
        lines += ["Nothing was stored." if stopped else "Nothing was written down."]
    if begun:
        lines.append(f"Not stored: {begun}.")
    if stored:
        lines += clock_change_lines(entries, zone)
        lines += lines_after(folder, day, alarms_in(entries, day), advise=not stopped)
    # the window may have been closed: what is stored is stored
    with contextlib.suppress(OSError):
        for line in lines:
            say(wrapped(line))
        sys.stdout.flush()


@contextlib.contextmanager
def _hangup_ends_input() -> Iterator[None]:
    """A closed window or a broken connection counts as the end of input."""
    if not hasattr(signal, "SIGHUP"):
        yield
        return

    def end(number: int, frame: Any) -> None:
        raise EOFError

    before = signal.signal(signal.SIGHUP, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGHUP, before)
