"""What a dietitian is told while words in the diary wait for a doctor's answer."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from challenge.protocol.alarms import Alarm


def alarm_sentences(alarms: Sequence[Alarm]) -> list[str]:
    """Return what the client wrote and when, a sentence each."""
    return [
        f"On {alarm.date} the client wrote what a doctor should hear: {alarm.text!r}."
        for alarm in alarms
    ]


def answer_command(folder: Path) -> str:
    """Return the command that records the doctor's answer."""
    return f"challenge new {folder} --doctor diary-alarm=GP --by AB"
