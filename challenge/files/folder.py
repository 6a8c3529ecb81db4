"""Names and paths inside a client folder."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Final

from challenge.errors import ChallengeError

SETTINGS: Final = "client.toml"
PLAN: Final = "plan.csv"
FOODS: Final = "foods.csv"
SYMPTOMS: Final = "symptoms.csv"
EVENTS: Final = "events.csv"
DECISIONS: Final = "decisions.csv"
IMPORTS: Final = "imports"
BLINDED: Final = "blinded"

TABLES: Final = (FOODS, SYMPTOMS, EVENTS)
"""The diary's tables, in the order in which they are written."""

FOLDER_MODE: Final = 0o700
_CODE = re.compile(r"[A-Za-z0-9_-]+")


def client_folder(folder: str | os.PathLike[str]) -> Path:
    """Return the path of a client folder that exists.

    Raises
    ------
    ChallengeError
        If there is no such folder, or a file stands in its place.
    """
    path = Path(folder)
    if path.is_dir():
        return path
    if path.exists():
        raise ChallengeError(f"{path} is a file. Give the client's folder.")
    raise ChallengeError(
        f"There is no folder {path}. Check the spelling, or start one with `challenge new`."
    )


def client_code(folder: str | os.PathLike[str]) -> str:
    """Return the client's code: the folder's own name."""
    return Path(folder).resolve().name


def is_client_code(name: str) -> bool:
    """Say whether a name can be a client's code: letters, digits, ``-`` and ``_`` only."""
    return _CODE.fullmatch(name) is not None


def make_folder(path: Path) -> Path:
    """Make a folder that only its owner can open; leave one that is there as it is."""
    path.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    return path
