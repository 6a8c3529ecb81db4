"""``challenge page``: the client's diary as one HTML file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import now
from challenge.commands.screen import say, say_json


@app.command()
def page(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="PATH", help="File to write (with --host: folder)."),
    ] = None,
    host: Annotated[
        bool,
        typer.Option("--host", help="A folder for the practice's https host, with its manifest."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the paths as JSON.")] = False,
) -> None:
    """Write the diary page for this client's plan: one HTML file that needs no network.

    What the client writes stays in the browser; they export CSV files for `challenge add`. The
    file works in a browser on a computer or an Android phone. It cannot be used from a mail
    attachment on an iPhone or iPad: put it on an https address of the practice (--host) or use
    `challenge sheet`.

    Example: challenge page juniper
    """
    from challenge.commands.held import held_days
    from challenge.files.atomic import write_atomic
    from challenge.files.folder import PLAN, client_code, client_folder, make_folder
    from challenge.files.reading import read_plan, read_settings
    from challenge.logbook.page import PageSettings, build_hosted_files, build_page
    from challenge.logbook.sheet import conditions
    from challenge.wording import load_words

    folder = client_folder(client)
    plan, settings = read_plan(folder / PLAN), read_settings(folder)
    diary, stop, words = settings.diary, settings.protocol.stop, load_words("en")
    each = settings.protocol.days_per_step
    known = PageSettings(
        client=settings.client or client_code(folder),
        symptoms=diary.symptoms,
        ratings=diary.ratings_per_day,
        challenge_ratings=diary.ratings_per_challenge_day or diary.ratings_per_day,
        eat_at=settings.protocol.eat_at,
        made=now(),
        held=held_days(folder, plan, plan.days, settings),
        stop=words("sheet.stop", level=f"{stop.level:g}", slots=stop.slots),
        only=lambda day: " ".join(
            words(f"sheet.plan.{told}") for told in conditions(day, plan, each)
        ),
        days_per_step=each,
    )
    if host:
        target = make_folder(out if out is not None else folder / "page")
        files = build_hosted_files(plan, known)
        paths = [write_atomic(target / name, text) for name, text in files.items()]
    else:
        target = out if out is not None else folder / f"diary-{known.client}.html"
        make_folder(target.parent)
        paths = [write_atomic(target, build_page(plan, known))]
    if as_json:
        say_json({"files": [str(path) for path in paths]})
        return
    for path in paths:
        say(str(path))
    say("Open it in a browser. Entries stay on that device until the client exports them.")
