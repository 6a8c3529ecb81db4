"""A program in a terminal of its own, typed at as a person does and read as a person would."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path


class Terminal:
    """Run ``challenge`` behind a pseudo-terminal.

    ``wait_for`` reads on until a text has come; ``send`` types. ``text`` is all that was shown.
    """

    def __init__(self, *words: str, now: str, cwd: Path, env: Mapping[str, str] = {}) -> None:
        self.text = ""
        self._seen = 0
        self._handle, inner = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "challenge", *words],
            stdin=inner,
            stdout=inner,
            stderr=inner,
            cwd=cwd,
            start_new_session=True,
            env={**os.environ, "TERM": "xterm", "CHALLENGE_NOW": now, **env},
            preexec_fn=_own_terminal,
        )
        os.close(inner)

    def send(self, text: str | bytes) -> None:
        os.write(self._handle, text.encode() if isinstance(text, str) else text)

    def wait_for(self, text: str, seconds: float = 30) -> None:
        end = time.monotonic() + seconds
        while text not in self.text[self._seen :]:
            if not self._read(end - time.monotonic()):
                raise AssertionError(f"{text!r} did not come; shown:\n{self.text}")
        self._seen += self.text[self._seen :].index(text) + len(text)

    def answer(self, question: str, keys: str) -> None:
        self.wait_for(question)
        self.send(keys)

    def finish(self, seconds: float = 30) -> int:
        """Read to the end; return the exit code."""
        end = time.monotonic() + seconds
        while self._read(end - time.monotonic()):
            pass
        code = self.process.wait(timeout=max(end - time.monotonic(), 1))
        self.close()
        return code

    def break_off(self, wait: float = 5) -> int:
        """Press Ctrl-C, and again when it was not noticed, as people do; return the exit code.

        Python can sleep through one that comes in the moment before it reads.
        """
        for _ in range(6):
            self.send("\x03")
            with contextlib.suppress(subprocess.TimeoutExpired):
                return self.finish(wait)
        raise AssertionError(f"Ctrl-C does not end it; shown:\n{self.text}")

    def hang_up(self) -> int:
        """Close the window."""
        self.close()
        return self.process.wait(timeout=60)

    def close(self) -> None:
        with contextlib.suppress(OSError):
            os.close(self._handle)

    def interrupt(self) -> None:
        self.process.send_signal(signal.SIGINT)

    def _read(self, seconds: float) -> bool:
        if not select.select([self._handle], [], [], max(seconds, 0))[0]:
            return False
        try:
            data = os.read(self._handle, 65536)
        except OSError:
            return False
        self.text += data.decode("utf-8", errors="replace").replace("\r\n", "\n")
        return bool(data)


def _own_terminal() -> None:
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
