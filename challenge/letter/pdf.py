"""A letter as a tagged PDF (PDF/UA-1), set by typst from one fixed template."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, cast

from challenge.errors import ChallengeError
from challenge.letter.content import Letter, PictureFile, to_plain


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

    Only the fonts that come with typst are used, and those in ``font_dirs``, so that a letter looks
    the same on every machine.

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
    import typst

    files: dict[str, bytes] = {
        "main.typ": _template(),
        "letter.json": json.dumps(
            {**to_plain(letter), "tail": letter.tail()}, ensure_ascii=False
        ).encode(),
    }
    files |= {f"{picture.name}.svg": pictures[picture.name].svg for picture in letter.pictures()}
    stamp = dt.datetime.combine(date, dt.time(12), tzinfo=dt.UTC)
    try:
        made = typst.compile(
            cast(Any, files),  # a dictionary is taken, though the stubs do not say so
            format="pdf",
            pdf_standards=["ua-1"],
            ignore_system_fonts=True,
            font_paths=[str(folder) for folder in font_dirs],
            timestamp=int(stamp.timestamp()),
        )
    except typst.TypstError as error:
        raise _explain(error) from error
    return made


def _explain(error: Exception) -> Exception:
    """Turn "this glyph cannot be drawn" into a remedy; anything else is a bug and stays one."""
    told = f"{error} {getattr(error, 'diagnostic', '')}"
    missing = re.findall(r"the text `\"(.+?)\"` could not be displayed", told)
    if not missing:
        return error
    shown = " ".join(dict.fromkeys(missing))
    return ChallengeError(
        f"The PDF fonts cannot draw {shown}, so no PDF was made. Make the letter with "
        "--format docx (the word processor has the fonts), or name a folder with a fitting font: "
        "--font-dir FOLDER, for example one with a Noto Sans font for that script."
    )
