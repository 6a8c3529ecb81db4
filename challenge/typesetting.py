"""One fixed template and its data to a tagged PDF (PDF/UA-1), by typst."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, cast

from challenge.errors import ChallengeError


def typeset(
    files: Mapping[str, bytes],
    *,
    date: dt.date,
    font_dirs: Sequence[Path] = (),
    otherwise: str = "",
) -> bytes:
    """Return the PDF of ``main.typ``; the same bytes for the same files.

    Only the fonts that come with typst are used, and those in ``font_dirs``, so that a document
    looks the same on every machine.

    Parameters
    ----------
    files
        The template, ``main.typ``, and whatever it reads, by name.
    date
        Date written into the file, so that it does not depend on the clock.
    font_dirs
        Folders with further fonts, for scripts that the built-in fonts lack.
    otherwise
        What else can be done when a character cannot be drawn: a sentence, or nothing.

    Raises
    ------
    ChallengeError
        If a character cannot be drawn with the fonts at hand: boxes in a name are worse than no
        document.
    """
    import typst

    stamp = dt.datetime.combine(date, dt.time(12), tzinfo=dt.UTC)
    try:
        made = typst.compile(
            cast(Any, dict(files)),  # a dictionary is taken, though the stubs do not say so
            format="pdf",
            pdf_standards=["ua-1"],
            ignore_system_fonts=True,
            font_paths=[str(folder) for folder in font_dirs],
            timestamp=int(stamp.timestamp()),
        )
    except typst.TypstError as error:
        raise _explain(error, otherwise) from error
    return made


def _explain(error: Exception, otherwise: str) -> Exception:
    """Turn "this glyph cannot be drawn" into a remedy; anything else is a bug and stays one."""
    told = f"{error} {getattr(error, 'diagnostic', '')}"
    missing = re.findall(r"the text `\"(.+?)\"` could not be displayed", told)
    if not missing:
        return error
    shown = " ".join(dict.fromkeys(missing))
    ways = f"{otherwise} Or name" if otherwise else "Name"
    return ChallengeError(
        f"The PDF fonts cannot draw {shown}, so no PDF was made. {ways} a folder with a fitting "
        "font: --font-dir FOLDER, for example one with a Noto Sans font for that script."
    )
