"""``challenge report``: everything about one client on one page, for the dietitian."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import today
from challenge.commands.encryption import Encrypt, encryption_for
from challenge.commands.screen import say


@app.command()
def report(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="CLIENT/report.html by default.")
    ] = None,
    language: Annotated[
        str | None, typer.Option(help="Language of the report: en, de; the practice's by default.")
    ] = None,
    encrypt: Encrypt = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a report that says something else.")
    ] = False,
) -> None:
    """Write one self-contained HTML page: figures, reasons, and the data behind them.

    Example: challenge report juniper
    """
    from challenge.commands.client import load_analysed
    from challenge.figures.alt import describe_group, describe_small_multiples, describe_timeline
    from challenge.figures.compose import draw_group, draw_small_multiples, draw_timeline
    from challenge.figures.style import to_svg
    from challenge.files.documents import write_documents
    from challenge.files.practice import read_practice
    from challenge.letter.background import background_from
    from challenge.letter.doctor import build_doctor_letter
    from challenge.letter.holds import held_up
    from challenge.letter.people import Recipient, Sender
    from challenge.letter.report import render_report
    from challenge.letter.story import tell
    from challenge.wording import load_words

    encryption = encryption_for(encrypt)
    known = load_analysed(client)
    words = load_words(language or read_practice(known.folder).language)
    analysis = known.analysis
    held = held_up(analysis, known.settings.screening)
    figures = {
        "timeline": (to_svg(draw_timeline(analysis, words)), describe_timeline(analysis, words)),
        "small_multiples": (
            to_svg(draw_small_multiples(analysis, words)),
            describe_small_multiples(analysis, words),
        ),
    }
    for group in analysis.groups:
        figures[group.fodmap_group] = (
            to_svg(draw_group(analysis, group, words)),
            describe_group(analysis, group, words),
        )
    letter = build_doctor_letter(
        analysis,
        decisions=known.decisions,
        date=today(),
        words=words,
        sender=Sender(),
        recipient=Recipient(),
        background=background_from(known.settings.screening, words),
        held=held,
    )
    path = out if out is not None else known.folder / "report.html"
    page = render_report(analysis, letter, tell(analysis, known.decisions, held), figures, words)
    files = {path: page}
    for written in write_documents(
        encryption.encrypted(files) if encryption else files, force=force
    ):
        say(str(written))
