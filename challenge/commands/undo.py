"""``challenge undo``: take the last import back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final

import typer

from challenge.commands.app import app
from challenge.commands.clock import now
from challenge.commands.screen import say, say_json, wrapped

_WHAT: Final = {
    "files": "the files of import",
    "entries": "the entries of import",
    "by-hand": "the changes made by hand, kept as import",
}


@app.command()
def undo(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Take the last import back; again, and the one before it.

    Nothing is destroyed: the files stay in the folder imports under another name.

    Example: challenge undo juniper
    """
    from challenge.files.imports import undo_last

    back = undo_last(client, when=now())
    if as_json:
        say_json(
            {
                "import": back.name,
                "kind": back.kind,
                "kept": str(back.kept),
                "held": {"foods": back.foods, "symptoms": back.symptoms, "events": back.events},
            }
        )
        return
    say(
        wrapped(
            f"Took back {_WHAT[back.kind]} {back.name} ({back.foods} foods, {back.symptoms} "
            f"scores, {back.events} events). Its files stay in {back.kept}."
        )
    )
