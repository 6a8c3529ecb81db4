"""``challenge letter``: the tolerance summary to the client or to the doctor."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import today
from challenge.commands.encryption import Encrypt, encryption_for
from challenge.commands.house import FontDirs, PaperSize, PracticeFile, house_style
from challenge.commands.screen import say, say_json, warn

if TYPE_CHECKING:
    from challenge.analysis.decision import Decision
    from challenge.analysis.result import Analysis
    from challenge.files.practice import Practice
    from challenge.letter.content import Letter, PictureFile
    from challenge.letter.people import Recipient
    from challenge.protocol.alarms import Alarm
    from challenge.protocol.settings import Settings
    from challenge.wording import Words


class To(StrEnum):
    """Whom a letter is for."""

    client = "client"
    doctor = "doctor"


class Format(StrEnum):
    """File formats of a letter."""

    pdf = "pdf"
    docx = "docx"
    both = "both"


@app.command()
def letter(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    to: Annotated[To, typer.Option(help="Whom the letter is for.")],
    form: Annotated[Format, typer.Option("--format", help="PDF, editable .docx, or both.")] = (
        Format.both
    ),
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where to write; CLIENT/letters by default."),
    ] = None,
    name: Annotated[
        str | None, typer.Option(help="Name of the recipient; asked for at a terminal, not stored.")
    ] = None,
    address: Annotated[
        list[str] | None, typer.Option(help="A line of the address; repeat it for more lines.")
    ] = None,
    about: Annotated[
        str, typer.Option(help="Name of the client, in a letter to the doctor; not stored.")
    ] = "",
    referral: Annotated[
        str, typer.Option(help="Reason for referral, in a letter to the doctor.")
    ] = "",
    request: Annotated[
        list[str] | None, typer.Option(help="What the doctor is asked to do; may be repeated.")
    ] = None,
    date: Annotated[
        str | None, typer.Option(metavar="YYYY-MM-DD", help="Date of the letter; today by default.")
    ] = None,
    language: Annotated[str | None, typer.Option(help="Language of the letter: en, de.")] = None,
    paper: PaperSize = None,
    practice: PracticeFile = None,
    font_dir: FontDirs = None,
    encrypt: Encrypt = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a letter that says something else.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the paths as JSON.")] = False,
) -> None:
    """Write the tolerance summary letter, as PDF and as an editable document.

    It is a draft on every page until every group has been decided with `challenge decide`.

    Example: challenge letter juniper --to client --name "Sam Sample"
    """
    from challenge.commands.client import load_analysed
    from challenge.files.documents import write_documents
    from challenge.letter.people import Recipient

    written_on = _date(date)
    encryption = encryption_for(encrypt)
    known = load_analysed(client)
    house = house_style(known.folder, practice, language, paper, font_dir)
    documents = make_letter(
        known.analysis,
        known.settings,
        known.decisions,
        house,
        to=to.value,
        recipient=Recipient(
            name=_ask_name(to) if name is None else name.strip(),
            address=tuple(address or ()),
            about=about.strip(),
        ),
        date=written_on,
        formats=("pdf", "docx") if form is Format.both else (form.value,),
        referral=referral,
        requests=(*_of_the_diary(known.alarms, house.language), *(request or ())),
    )
    folder = out if out is not None else known.folder / "letters"
    files = {folder / name: content for name, content in documents.items()}
    paths = write_documents(encryption.encrypted(files) if encryption else files, force=force)
    if as_json:
        say_json({"letters": [str(path) for path in paths]})
    else:
        for path in paths:
            say(str(path))


def _of_the_diary(alarms: Sequence[Alarm], language: str) -> tuple[str, ...]:
    """Return what the doctor is asked because of words in the diary that nobody has answered."""
    from challenge.wording import load_words

    words = load_words(language)
    return tuple(
        words("doctor.request_diary", date=words.date(alarm.date), text=alarm.text)
        for alarm in alarms
    )


def make_letter(
    analysis: Analysis,
    settings: Settings,
    decisions: Sequence[Decision],
    practice: Practice,
    *,
    to: str,
    recipient: Recipient,
    date: dt.date,
    formats: Sequence[str] = ("pdf", "docx"),
    referral: str = "",
    requests: tuple[str, ...] = (),
    pictures: dict[str, PictureFile] | None = None,
) -> dict[str, bytes]:
    """Return the letter's files by name, nothing written.

    ``pictures`` of an earlier letter on the same analysis in the same language may be given, so
    that they are not drawn again.
    """
    from challenge.letter.docx import render_docx
    from challenge.letter.pdf import render_pdf
    from challenge.wording import load_words

    words = load_words(practice.language)
    said = _say(
        analysis, settings, decisions, practice, words, to, recipient, date, referral, requests
    )
    drawn = {} if pictures is None else pictures
    for picture in said.pictures():
        if picture.name not in drawn:
            drawn[picture.name] = draw_picture(picture.name, analysis, words)
    stem = f"letter-{to}-{date.isoformat()}"
    made: dict[str, bytes] = {}
    if "pdf" in formats:
        made[f"{stem}.pdf"] = render_pdf(said, drawn, date=date, font_dirs=practice.font_dirs)
    if "docx" in formats:
        made[f"{stem}.docx"] = render_docx(said, drawn, date=date)
    return made


def _say(
    analysis: Analysis,
    settings: Settings,
    decisions: Sequence[Decision],
    practice: Practice,
    words: Words,
    to: str,
    recipient: Recipient,
    date: dt.date,
    referral: str,
    requests: tuple[str, ...],
) -> Letter:
    from challenge.figures.alt import describe_small_multiples, describe_timeline
    from challenge.letter.background import background_from
    from challenge.letter.client import build_client_letter
    from challenge.letter.doctor import build_doctor_letter
    from challenge.letter.holds import held_up
    from challenge.letter.people import Sender

    sender = Sender(
        letterhead=practice.letterhead,
        signature=practice.signature,
        contact=practice.contact,
        paper=practice.paper,
    )
    small = describe_small_multiples(analysis, words)
    held = held_up(analysis, settings.screening)
    if to == "client":
        return build_client_letter(
            analysis, decisions=decisions, date=date, words=words, sender=sender,
            recipient=recipient, picture_alt=small, held=held,
        )  # fmt: skip
    return build_doctor_letter(
        analysis,
        decisions=decisions,
        date=date,
        words=words,
        sender=sender,
        recipient=recipient,
        background=background_from(
            settings.screening, words, reason=referral, requests=requests
        ),
        picture_alts={"timeline": describe_timeline(analysis, words), "small_multiples": small},
        held=held,
    )  # fmt: skip


def draw_picture(name: str, analysis: Analysis, words: Words) -> PictureFile:
    """Draw one of the figures that letters name."""
    from challenge.figures.compose import draw_small_multiples, draw_timeline
    from challenge.figures.style import to_png, to_svg
    from challenge.letter.content import PictureFile

    draw = {"timeline": draw_timeline, "small_multiples": draw_small_multiples}[name]
    figure = draw(analysis, words)
    return PictureFile(svg=to_svg(figure), png=to_png(figure, 150))


def _date(text: str | None) -> dt.date:
    if text is None:
        return today()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text!r} is no date; write it like 2026-03-31.") from None


def _ask_name(to: To) -> str:
    """Ask at a terminal; elsewhere the letter goes out without a name."""
    if not sys.stdin.isatty():
        return ""
    warn("The name is written into this letter only; it is not kept anywhere else.")
    asked: str = typer.prompt(f"Name of the {to.value} (Enter for none)", default="", err=True)
    return asked.strip()
