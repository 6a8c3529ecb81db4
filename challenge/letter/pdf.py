"""A letter as a tagged PDF (PDF/UA-1), set by typst from one fixed template."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from pathlib import Path

from challenge.letter.content import Letter, PictureFile, to_plain
from challenge.typesetting import typeset


@cache
def _template() -> bytes:
    return (resources.files("challenge.letter") / "letter.typ").read_bytes()


def render_pdf(
    letter: Letter,
    pictures: Mapping[str, PictureFile],
    *,
    date: dt.date,
    font_dirs: Sequence[Path] = (),
) -> bytes:
    """Return the letter as PDF/UA-1; the same bytes for the same letter.

    Parameters
    ----------
    letter
        What it says.
    pictures
        The figures it names.
    date
        Date written into the file, so that it does not depend on the clock.
    font_dirs
        Folders with further fonts, for scripts that the built-in fonts lack.

    Raises
    ------
    ChallengeError
        If a character cannot be drawn with the fonts at hand: boxes in a name are worse than no
        letter.
    """
    files: dict[str, bytes] = {
        "main.typ": _template(),
        "letter.json": json.dumps(
            {**to_plain(letter), "tail": letter.tail()}, ensure_ascii=False
        ).encode(),
    }
    files |= {f"{picture.name}.svg": pictures[picture.name].svg for picture in letter.pictures()}
    return typeset(
        files,
        date=date,
        font_dirs=font_dirs,
        otherwise="Make the letter with --format docx (the word processor has the fonts).",
    )
