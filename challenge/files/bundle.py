"""A client's whole folder as one ZIP archive, made in memory."""

from __future__ import annotations

import contextlib
import io
import zipfile
from pathlib import Path
from typing import Final

from challenge.errors import ChallengeError
from challenge.files.atomic import FILE_MODE
from challenge.files.folder import FOLDER_MODE, IMPORTS, client_code
from challenge.files.import_store import LOCK
from challenge.files.lock import locked

_EARLIEST: Final = (1980, 1, 1, 0, 0, 0)


def bundle(folder: Path) -> bytes:
    """Return everything in a folder as a ZIP archive; the same bytes for the same content.

    No import can change the folder meanwhile. Hidden files are left out: locks, and what a crash
    left half-written. Links are not followed, for they may lead out of the folder.

    Parameters
    ----------
    folder
        The client's folder.

    Raises
    ------
    ChallengeError
        If a file cannot be read, for an archive that lacks something must not pass for a whole one;
        or if an import does not end.
    """
    held = folder / IMPORTS
    with locked(held / LOCK) if held.is_dir() else contextlib.nullcontext():
        return _packed(folder)


def _packed(folder: Path) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*"), key=lambda found: found.relative_to(folder).parts):
            inside = path.relative_to(folder)
            if any(part.startswith(".") for part in inside.parts) or path.is_symlink():
                continue
            name = f"{client_code(folder)}/{inside.as_posix()}"
            if path.is_dir():
                info = zipfile.ZipInfo(f"{name}/", _EARLIEST)
                info.external_attr = (0o040000 | FOLDER_MODE) << 16
                archive.writestr(info, b"")
            elif path.is_file():
                info = zipfile.ZipInfo(name, _EARLIEST)
                info.external_attr = (0o100000 | FILE_MODE) << 16
                info.compress_type = zipfile.ZIP_DEFLATED
                archive.writestr(info, _content(path))
    return out.getvalue()


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise ChallengeError(f"{path} cannot be read, so nothing was written: {error}.") from error
