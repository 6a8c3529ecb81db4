"""What several commands start with: the diary of a folder in plain values."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from challenge.protocol.record import Record


def read_record(folder: Path) -> Record:
    """Return a client's diary in plain values; an empty one, without pandas, if there is none.

    Raises
    ------
    ChallengeError
        If the diary cannot be read.
    """
    from challenge.files.folder import TABLES
    from challenge.protocol.record import EMPTY, record_of

    if not any((folder / name).exists() for name in TABLES):
        return EMPTY
    from challenge.files.reading import read_diary

    return record_of(read_diary(folder))
