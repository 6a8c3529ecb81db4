"""Write a file wholly or not at all, readable by its owner only."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import Final

FILE_MODE: Final = 0o600
ASIDE: Final = ".writing-"
"""What names of things begin with that are being written; a process that is killed leaves them."""


def write_atomic(path: str | os.PathLike[str], data: bytes | str) -> Path:
    """Replace a file by new content in one step.

    A reader, or a crash at any moment, meets the old content or the new, never a part. The
    content is on the disk before the name points to it.

    Parameters
    ----------
    path
        Where; the folder must exist.
    data
        Bytes, or text to be written as UTF-8 with line ends as they are.

    Returns
    -------
    Path
        The file written.
    """
    target = Path(path)
    raw = data.encode("utf-8") if isinstance(data, str) else data
    # mkstemp makes the file with mode 0600, in the same folder so that the rename is atomic
    handle, name = tempfile.mkstemp(prefix=f"{ASIDE}{target.name}-", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
    sync_folder(target.parent)
    return target


def private(name: str, flags: int) -> int:
    """Open a file for ``open(..., opener=private)``: one that is made is for its owner only."""
    return os.open(name, flags, FILE_MODE)


def sync_folder(folder: Path) -> None:
    """Ask the disk to keep the folder's entries; a system that cannot is left alone."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):
            os.fsync(descriptor)
    finally:
        os.close(descriptor)
