"""Letters and reports on the disk: never replaced by other content unless that was asked for."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from challenge.errors import ChallengeError
from challenge.files.atomic import write_atomic
from challenge.files.folder import make_folder


def write_documents(documents: Mapping[Path, bytes], *, force: bool = False) -> list[Path]:
    """Write all of them or none.

    Parameters
    ----------
    documents
        Content by path; folders are made as needed.
    force
        Replace files that hold something else: a letter may have been edited by hand.

    Returns
    -------
    list of Path
        The paths, in the order given.

    Raises
    ------
    ChallengeError
        If a file that is there holds something else and ``force`` is not set, or a folder is in
        the way.
    """
    for path, content in documents.items():
        if path.is_dir():
            raise ChallengeError(f"{path} is a folder. Choose another name with --out.")
        if not force and path.exists() and path.read_bytes() != content:
            raise ChallengeError(
                f"{path} is there already and says something else; it may have been edited by "
                "hand. Use --force to replace it, or --out for another folder."
            )
    for path, content in documents.items():
        try:
            make_folder(path.parent)
        except OSError as error:
            raise ChallengeError(f"The folder {path.parent} cannot be made: {error}.") from error
        write_atomic(path, content)
    return list(documents)
