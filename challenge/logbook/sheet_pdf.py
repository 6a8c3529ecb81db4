"""The paper diary: one page a day, large enough to write on, as a tagged PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from challenge.logbook.kinds import EVENTS
from challenge.logbook.sheet import Sheet, SheetDay, event_in_words, symptom_in_words
from challenge.typesetting import typeset
from challenge.wording import Words


def render_sheet_pdf(
    sheet: Sheet,
    words: Words,
    *,
    paper: Literal["a4", "us-letter"] = "a4",
    contact: str = "",
    font_dirs: Sequence[Path] = (),
) -> bytes:
    """Return the pages as PDF/UA-1; the same bytes for the same diary.

    The date in the file is the diary's first day, so that it does not depend on the clock.

    Parameters
    ----------
    sheet
        What it says.
    words
        The language.
    paper
        Size of the paper.
    contact
        How the client can ask a question; may be empty.
    font_dirs
        Folders with further fonts.

    Raises
    ------
    ChallengeError
        If a character cannot be drawn with the fonts at hand.
    """
    said = {**_said(sheet, words, contact), "paper": paper}
    files = {"main.typ": _template(), "sheet.json": json.dumps(said, ensure_ascii=False).encode()}
    return typeset(
        files,
        date=sheet.days[0].date,
        font_dirs=font_dirs,
        otherwise="Make the spreadsheet alone with --format xlsx.",
    )


@cache
def _template() -> bytes:
    folder = resources.files("challenge.logbook").joinpath("data", "sheet")
    return folder.joinpath("sheet.typ").read_bytes()


_SENTENCES = (
    "title", "name_line", "how_heading", "scale_heading", "scale_none", "scale_worst",
    "stool_heading", "unusual_heading", "plan_heading", "ate_all", "ate_some",
    "ate_none", "ate_at", "scores_heading", "symptom_column", "time_row", "stools_heading",
    "foods_heading", "caution", "tick",
)  # fmt: skip


def _said(sheet: Sheet, words: Words, contact: str) -> dict[str, Any]:
    first, last = sheet.days[0].date, sheet.days[-1].date
    return {
        "language": words.language,
        "file_title": words("sheet.file_title", client=sheet.client),
        "running": words("sheet.running", client=sheet.client),
        "code": words("sheet.code", client=sheet.client),
        "span": words("sheet.days", first=words.date(first), last=words.date(last)),
        # the two gaps stay open: only the layout knows the pages
        "page_label": words.get("sheet.page", ""),
        "contact": words("sheet.contact", contact=contact) if contact else "",
        **{name: words(f"sheet.{name}") for name in _SENTENCES},
        **{
            name: words.many(f"sheet.{name}")
            for name in ("how", "stool_header", "stool_forms", "stools_header", "foods_header")
        },
        "doctor_heading": words("client.doctor_heading"),
        "doctor_text": words("client.doctor_text"),
        "doctor_items": words.many("client.doctor_items"),
        "emergency": words("client.emergency"),
        "symptoms": [symptom_in_words(name, words) for name in sheet.symptoms],
        "events": [event_in_words(event, words) for event in EVENTS],
        "days": [_day(day, words) for day in sheet.days],
    }


def _day(day: SheetDay, words: Words) -> dict[str, Any]:
    return {
        "heading": day.heading,
        "place": day.place,
        "phase": day.phase,
        "eat": day.eat,
        "when": day.when,
        "plan": day.plan,
        "parts": [words(f"sheet.parts.{part}") for part in day.parts],
    }
