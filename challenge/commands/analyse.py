"""``challenge analyse``: tests, tolerance suggestion, figures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import today
from challenge.commands.screen import list_problems, say, say_json, wrapped

if TYPE_CHECKING:
    from challenge.analysis.result import Analysis
    from challenge.commands.client import Analysed


@app.command()
def analyse(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    figures: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write the figures (SVG and PNG) into this folder."),
    ] = None,
    brief: Annotated[bool, typer.Option("--brief", help="Only the table, no sentences.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Compare challenges with baseline and suggest how much of each group is tolerated.

    Example: challenge analyse sample_diaries/juniper --figures figures
    """
    from challenge.commands.client import load_analysed
    from challenge.commands.tables import analysis_text
    from challenge.commands.waiting import tell_waiting

    known = load_analysed(client)
    tell_waiting(known.alarms, known.folder)
    if as_json:
        say_json(known.analysis.to_json())
    else:
        list_problems(known.problems)
        say(analysis_text(known.analysis, brief=brief))
        _say_repeats(known)
    if figures is not None:
        for path in write_figures(known.analysis, figures):
            if not as_json:
                say(str(path))


def _say_repeats(known: Analysed) -> None:
    """Say how what is unclear is laid again, unless a doctor has to answer first."""
    from challenge.commands.repeats import repeat_commands, unclear_groups

    commands = repeat_commands(known, unclear_groups(known.analysis), today())
    if commands and not known.alarms:
        say()
        say(wrapped("What is unclear and not in the plan any more is laid again with:"))
        for command in commands:
            say(f"  {command}")


def write_figures(analysis: Analysis, folder: Path) -> list[Path]:
    """Draw the timeline and the dose-response of every group; replaces figures of the same name."""
    from challenge.figures.compose import draw_small_multiples, draw_timeline
    from challenge.figures.style import to_png, to_svg
    from challenge.files.documents import write_documents
    from challenge.wording import load_words

    words = load_words("en")
    made: dict[Path, bytes] = {}
    for name, figure in (
        ("timeline", draw_timeline(analysis, words)),
        ("dose_response", draw_small_multiples(analysis, words)),
    ):
        made[folder / f"{name}.svg"] = to_svg(figure)
        made[folder / f"{name}.png"] = to_png(figure)
    return write_documents(made, force=True)
