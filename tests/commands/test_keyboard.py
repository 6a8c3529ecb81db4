"""Waiting for a key: what comes between the question and the reading is not slept through."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import threading
from functools import partial

import pytest

if sys.platform == "win32":
    pytest.skip("signals at a terminal are of POSIX", allow_module_level=True)

from challenge.commands import keyboard


@pytest.fixture
def typing(monkeypatch):
    """A standard input that nobody has typed at yet, and where to type."""
    shown, typed = os.pipe()

    class Input:
        def fileno(self):
            return shown

    monkeypatch.setattr(sys, "stdin", Input())
    yield typed
    os.close(shown)
    os.close(typed)


def test_an_interrupt_just_before_the_reading_interrupts(typing, monkeypatch):
    wait = keyboard.select.select

    def interrupted_first(*handles):
        # one after the other with no look at signals between, as when the machine is busy;
        # os.kill and the like would look
        kill = partial(ctypes.CDLL(None)["kill"], os.getpid(), int(signal.SIGINT))
        return list(map(partial.__call__, [kill, partial(wait, *handles)]))[-1]

    monkeypatch.setattr(keyboard.select, "select", interrupted_first)
    late = threading.Timer(5, os.write, (typing, b"x"))
    late.start()
    with pytest.raises(KeyboardInterrupt):
        keyboard._next_key()
    assert late.is_alive(), "the interrupt was noticed only when a key came"
    late.cancel()


def test_what_listened_for_signals_before_does_so_afterwards(typing):
    woken, wake = os.pipe()
    os.set_blocking(wake, False)
    before = signal.set_wakeup_fd(wake)
    try:
        os.write(typing, b"x")
        assert keyboard._next_key() == "x"
        assert signal.set_wakeup_fd(before) == wake
    finally:
        signal.set_wakeup_fd(before)
        os.close(woken)
        os.close(wake)
