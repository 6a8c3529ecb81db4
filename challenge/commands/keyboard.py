"""Answers from a terminal: whole lines, or single keys where the terminal gives them.

Nothing moves the cursor or colours anything: a screen reader hears what it would hear of any text.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Callable, Iterator

_END = "\x04"
_INTERRUPT = "\x03"
_ERASE = frozenset("\x7f\b")
_SEQUENCE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|O.|.)?")  # ECMA-48, 5.4


def at_a_terminal() -> bool:
    """Say whether somebody can be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()


def has_keys() -> bool:
    """Say whether the terminal gives keys one by one; a dumb one, as in an editor, does not."""
    return at_a_terminal() and os.environ.get("TERM", "") != "dumb"


def read_line(prompt: str, meanwhile: Callable[[], None] = lambda: None) -> str | None:
    """Ask and return a line without its end; None when it cannot be read as text.

    What arrow keys and the like leave in a line is taken out.

    Parameters
    ----------
    prompt
        The question.
    meanwhile
        What is to be begun once it is asked.

    Raises
    ------
    EOFError
        At the end of input.
    """
    sys.stdout.write(prompt)
    sys.stdout.flush()
    meanwhile()
    try:
        line = _SEQUENCE.sub("", _next_line())
    except OSError as error:
        # the terminal went away
        raise EOFError from error
    except UnicodeDecodeError:
        return None
    if any("\ud800" <= letter <= "\udfff" for letter in line):
        return None
    return "".join(letter if letter.isprintable() else " " for letter in line)


def read_key(prompt: str) -> str:
    """Ask and return the answer of one key; Enter alone is the empty answer.

    Keys that write nothing, such as arrows, count as no answer: the question comes again.

    Raises
    ------
    EOFError, KeyboardInterrupt
        At the end of input (Ctrl-D), at Ctrl-C.
    """
    with _single_keys():
        # only now: a key that comes sooner would be shown twice
        sys.stdout.write(prompt)
        sys.stdout.flush()
        try:
            while True:
                key = _next_key()
                if key in {"", _END}:
                    raise EOFError
                if key == _INTERRUPT:
                    raise KeyboardInterrupt
                if key in {"\r", "\n"}:
                    sys.stdout.write("\n")
                    return ""
                if key in _ERASE:
                    key = "b"  # whoever wants to rub out wants to go back
                if key.isprintable() and len(key) == 1:
                    sys.stdout.write(f"{key}\n")
                    return key
        except OSError as error:
            raise EOFError from error


if sys.platform == "win32":
    import msvcrt

    @contextlib.contextmanager
    def _single_keys() -> Iterator[None]:
        yield

    def _next_line() -> str:
        return input()

    def _next_key() -> str:
        key = msvcrt.getwch()
        if key in {"\x00", "\xe0"}:
            msvcrt.getwch()
            return "\x1b"
        return _END if key == "\x1a" else key

else:
    import select
    import signal
    import termios

    @contextlib.contextmanager
    def _single_keys() -> Iterator[None]:
        """Let the terminal hand over every key at once; Ctrl-C still interrupts."""
        handle = sys.stdin.fileno()
        before = termios.tcgetattr(handle)
        now = termios.tcgetattr(handle)
        now[3] &= ~(termios.ICANON | termios.ECHO)
        now[6][termios.VMIN], now[6][termios.VTIME] = 1, 0
        # "drain", not "flush": what was typed ahead is kept
        termios.tcsetattr(handle, termios.TCSADRAIN, now)
        try:
            yield
        finally:
            # a window that was closed has nothing to set back
            with contextlib.suppress(termios.error):
                termios.tcsetattr(handle, termios.TCSADRAIN, before)

    def _next_line() -> str:
        # byte by byte: what is read beyond the line would be lost to a question of one key
        line = b""
        while (byte := _next_byte()) not in {b"", b"\n"}:
            line += byte
        if not byte and not line:
            raise EOFError
        return line.decode(sys.stdin.encoding, sys.stdin.errors or "strict")

    def _next_key() -> str:
        key = _next_byte()
        if key == b"\x1b":
            _skip_sequence(sys.stdin.fileno())
            return "\x1b"
        if key and key[0] >= 0xC0:
            # the rest of a letter of several bytes
            for _ in range(1 + (key[0] >= 0xE0) + (key[0] >= 0xF0)):
                key += _next_byte()
        return key.decode("utf-8", errors="replace")

    def _next_byte() -> bytes:
        """Wait for the next byte; none at the end of input.

        A Ctrl-C that comes after Python last looked for one and before it reads would be slept
        through until the next key: a pipe wakes it.
        """
        handle = sys.stdin.fileno()
        woken, wake = os.pipe()
        os.set_blocking(wake, False)
        before = signal.set_wakeup_fd(wake)
        try:
            while handle not in select.select([handle, woken], [], [])[0]:
                os.read(woken, 1)
            return os.read(handle, 1)
        finally:
            signal.set_wakeup_fd(before)
            os.close(woken)
            os.close(wake)

    def _skip_sequence(handle: int) -> None:
        """Read the rest of what an arrow or another such key sends (ECMA-48, 5.4)."""
        if not select.select([handle], [], [], 0.05)[0] or os.read(handle, 1) not in {b"[", b"O"}:
            return
        while (byte := os.read(handle, 1)) and not 0x40 <= byte[0] <= 0x7E:
            pass
