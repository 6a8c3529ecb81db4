"""The option ``--encrypt``, the same for every command that writes what leaves the machine."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Final

import typer

from challenge.commands.screen import warn
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.files.encrypting import Encryption

PASSPHRASE: Final = "passphrase"

Encrypt = Annotated[
    list[str] | None,
    typer.Option(
        "--encrypt",
        metavar="RECIPIENT",
        help="Encrypt (age format) for a public key (age1...) or a file of them; may be repeated. "
        "The word passphrase: be asked for one.",
    ),
]


def encryption_for(told: Sequence[str] | None) -> Encryption | None:
    """Return the encryption that was asked for, or None; asks for a passphrase at a terminal only.

    A passphrase is never an option's value: the list of running programs and the shell's history
    would show it.

    Raises
    ------
    ChallengeError
        If a recipient cannot be used.
    """
    if not told:
        return None
    from challenge.files.encrypting import for_passphrase, for_recipients

    if PASSPHRASE not in told:
        return for_recipients(told)
    if len(told) > 1:
        raise typer.BadParameter("a passphrase goes with no other recipient.")
    for_recipients(())  # says at once when the library is missing
    if not sys.stdin.isatty():
        raise ChallengeError(
            "A passphrase can be asked for at a terminal only. Give a public key instead."
        )
    warn("Tell the passphrase to the recipient by another way than the file. Without it nobody")
    warn("can open the file; it is kept nowhere.")
    asked: str = typer.prompt("Passphrase", hide_input=True, confirmation_prompt=True, err=True)
    return for_passphrase(asked)
