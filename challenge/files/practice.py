"""practice.toml: letterhead, signature, language and paper of the practice.

It holds nothing about any client. It stands beside the client folders, or in one of them.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from challenge.errors import ChallengeError
from challenge.problems import Problem

PRACTICE: Final = "practice.toml"


class Practice(BaseModel):
    """All of practice.toml; every key has a default."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    letterhead: tuple[str, ...] = ()
    """Lines at the top of each letter: name of the practice first."""
    signature: tuple[str, ...] = ()
    """Lines of the signature block: name, title, registration."""
    contact: str = ""
    """How the client can ask a question: a telephone number, an address."""
    language: str = "en"
    """Language of letters: the name of a language file."""
    paper: Literal["a4", "us-letter"] = "a4"
    """Paper size."""
    font_dirs: tuple[Path, ...] = ()
    """Folders with fonts for scripts that the built-in fonts lack."""


def read_practice(
    folder: str | os.PathLike[str], file: str | os.PathLike[str] | None = None
) -> Practice:
    """Read the practice file: the one named, else that of the client folder, else that beside it.

    Parameters
    ----------
    folder
        The client folder.
    file
        A practice file that must exist.

    Returns
    -------
    Practice
        Defaults when there is no file.

    Raises
    ------
    ChallengeError
        If the named file is missing or a file cannot be understood.
    """
    if file is not None:
        path = Path(file)
        if not path.is_file():
            raise ChallengeError(f"There is no practice file {path}.")
        return _parse(path)
    here = Path(folder)
    for path in (here / PRACTICE, here.resolve().parent / PRACTICE):
        if path.is_file():
            return _parse(path)
    return Practice()


def _parse(path: Path) -> Practice:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise ChallengeError(f"{path.name} cannot be read: {error}.") from error
    try:
        return Practice.model_validate(table)
    except ValidationError as error:
        problems = [
            Problem(
                code="practice-file",
                severity="error",
                message=_sentence(str(found["type"]), str(found["msg"])),
                file=path.name,
                column=".".join(str(part) for part in found["loc"]),
            )
            for found in error.errors()
        ]
        raise ChallengeError(f"{path.name} has entries that cannot be used.", problems) from error


def _sentence(kind: str, text: str) -> str:
    if kind == "extra_forbidden":
        return f"There is no such key; known are {', '.join(Practice.model_fields)}."
    return f"{text}."
