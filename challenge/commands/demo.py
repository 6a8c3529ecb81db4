"""``challenge demo``: an invented client's folder and the whole job on it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.screen import say, wrapped

if TYPE_CHECKING:
    from challenge.commands.client import Analysed

_MARGIN = 1.0


@app.command()
def demo(
    directory: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="Where to put the invented client.")
    ] = Path("demo"),
) -> None:
    """Write an invented client's folder and run the whole job on it.

    Check, analysis, figures and both letters. Nobody real stands behind the data.

    Example: challenge demo
    """
    from challenge.commands.analyse import write_figures
    from challenge.commands.client import load_analysed
    from challenge.commands.tables import analysis_text
    from challenge.practice.folders import write_client
    from challenge.simulation.showcase import DEMO_CODE, demo_client

    folder = directory / DEMO_CODE
    if not folder.exists():
        directory.mkdir(parents=True, exist_ok=True)
        write_client(directory, demo_client(), _MARGIN)
    say(f"Invented client, nobody real: {folder}")
    known = load_analysed(folder)
    written_on = known.analysis.days[-1].date + dt.timedelta(days=1)
    say(wrapped(_checked(folder, written_on)))
    say()
    say(analysis_text(known.analysis, brief=True))
    say()
    write_figures(known.analysis, folder / "figures")
    say(f"Figures: {folder / 'figures'}")
    for path in _letters(known, written_on):
        say(f"Letter:  {path}")


def _checked(folder: Path, today: dt.date) -> str:
    from challenge.commands.check import check_folder

    count = len(check_folder(folder, today).problems)
    found = {0: "nothing to ask about", 1: "1 thing to look at"}.get(
        count, f"{count} things to look at"
    )
    return f"Check of the diary: {found} (`challenge check {folder}` lists everything)."


def _letters(known: Analysed, date: dt.date) -> list[Path]:
    from challenge.commands.letter import make_letter
    from challenge.files.documents import write_documents
    from challenge.files.practice import read_practice
    from challenge.letter.people import Recipient

    practice = read_practice(known.folder, None)
    made: dict[Path, bytes] = {}
    pictures: dict[str, object] = {}
    for to in ("client", "doctor"):
        letters = make_letter(
            known.analysis,
            known.settings,
            known.decisions,
            practice,
            to=to,
            recipient=Recipient(name="", address=()),
            date=date,
            pictures=pictures,  # type: ignore[arg-type]
        )
        made |= {known.folder / "letters" / name: content for name, content in letters.items()}
    return write_documents(made, force=True)
