"""What a dietitian is told while words in the diary wait for a doctor's answer."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from challenge.commands.screen import warn, wrapped

if TYPE_CHECKING:
    from challenge.protocol.alarms import Alarm


def alarm_sentences(alarms: Sequence[Alarm]) -> list[str]:
    """Return what the client wrote and when, a sentence each."""
    return [
        f"On {alarm.date} the client wrote what a doctor should hear: {alarm.text!r}."
        for alarm in alarms
    ]


def answer_command(folder: Path) -> str:
    """Return the command that records the doctor's answer, to be copied as it is."""
    return f"challenge new {shlex.quote(str(folder))} --doctor diary-alarm=GP --by AB"


def tell_waiting(alarms: Sequence[Alarm], folder: Path) -> None:
    """Say first of all what a doctor has not answered yet, and how the answer is recorded."""
    if not alarms:
        return
    for sentence in alarm_sentences(alarms):
        warn(wrapped(sentence))
    warn(
        wrapped(
            "No doctor's answer is on record. No food is brought back before it is, whatever was "
            "decided earlier. Once the doctor has answered:"
        )
    )
    warn(f"  {answer_command(folder)}")
