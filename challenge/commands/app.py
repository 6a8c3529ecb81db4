"""The Typer application; importing it loads no heavy library."""

from __future__ import annotations

import typer

app = typer.Typer(
    name="challenge",
    help=(
        "Plan, log, analyse and write up the reintroduction stage of a low-FODMAP diet.\n\n"
        "It supports a dietitian's judgement. Diagnosis stays with the doctor."
    ),
    no_args_is_help=True,
    add_completion=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
