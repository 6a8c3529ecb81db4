"""The options that say how the practice's papers look, the same for letters and diaries."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from challenge.files.practice import Practice


class Paper(StrEnum):
    """Paper sizes."""

    a4 = "a4"
    us_letter = "us-letter"


PaperSize = Annotated[Paper | None, typer.Option(help="Paper size.")]
PracticeFile = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Practice file; by default practice.toml."),
]
FontDirs = Annotated[
    list[Path] | None,
    typer.Option(metavar="DIR", help="A folder with further fonts for the PDF."),
]


def house_style(
    folder: Path,
    practice: Path | None,
    language: str | None,
    paper: Paper | None,
    font_dir: Sequence[Path] | None,
) -> Practice:
    """Return the practice file with what the options change.

    Raises
    ------
    ChallengeError
        If the practice file cannot be read.
    """
    from challenge.files.practice import read_practice

    changes: dict[str, object] = {}
    if language is not None:
        changes["language"] = language
    if paper is not None:
        changes["paper"] = paper.value
    if font_dir:
        changes["font_dirs"] = tuple(font_dir)
    return read_practice(folder, practice).model_copy(update=changes)
