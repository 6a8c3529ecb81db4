"""``challenge export``: a client's whole folder as one encrypted file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import today
from challenge.commands.encryption import Encrypt, encryption_for
from challenge.commands.screen import say, say_json


@app.command()
def export(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    encrypt: Encrypt = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where to write; beside the folder by default."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file of the same day.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the path as JSON.")] = False,
) -> None:
    """Write everything in a client's folder as one encrypted file: a backup, or to hand it over.

    The file is a ZIP archive in the age format; any program of that format opens it.

    Example: challenge export juniper --encrypt practice-key.txt
    """
    from challenge.files.bundle import bundle
    from challenge.files.documents import write_documents
    from challenge.files.folder import client_code, client_folder

    folder = client_folder(client)
    encryption = encryption_for(encrypt)
    if encryption is None:
        raise typer.BadParameter(
            "say for whom: --encrypt with a public key, a file of them, or the word passphrase."
        )
    target = out if out is not None else folder.resolve().parent
    name = f"{client_code(folder)}-{today().isoformat()}.zip"
    paths = write_documents(encryption.encrypted({target / name: bundle(folder)}), force=force)
    if as_json:
        say_json({"file": str(paths[0])})
    else:
        say(str(paths[0]))
