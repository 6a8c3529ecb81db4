"""One writer at a time in a client folder; the system frees the lock when a process dies."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from challenge.errors import ChallengeError
from challenge.files.atomic import FILE_MODE

_PATIENCE: Final = 60.0
_PAUSE: Final = 0.02


@contextlib.contextmanager
def locked(path: Path, patience: float = _PATIENCE) -> Iterator[None]:
    """Hold a lock file while the body runs.

    Parameters
    ----------
    path
        The lock file; it is made if need be and stays.
    patience
        How long to wait for another process [s].

    Raises
    ------
    ChallengeError
        If another process still holds it after that time.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT, FILE_MODE)
    try:
        end = time.monotonic() + patience
        while not _taken(handle):
            if time.monotonic() > end:
                raise ChallengeError(
                    f"Another import into {path.parent.parent} is under way. Try again later."
                )
            time.sleep(_PAUSE)
        yield
    finally:
        # closing frees the lock, as the end of the process does
        os.close(handle)


if sys.platform == "win32":
    import msvcrt

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
