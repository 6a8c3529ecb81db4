"""The Typer application. A command's module is imported when that command is asked for."""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

import typer
from typer.core import TyperGroup
from typer.main import get_command_from_info

COMMANDS: Final = (
    "add",
    "analyse",
    "audit",
    "blind",
    "check",
    "decide",
    "demo",
    "export",
    "freeze",
    "letter",
    "log",
    "new",
    "page",
    "plan",
    "report",
    "sheet",
    "simulate",
    "today",
    "unblind",
    "undo",
)
"""Each is a function of this name in a module of this name beside this one."""


class _OnDemand(TyperGroup):
    """Commands that are loaded one by one: reading every command's options takes long."""

    def list_commands(self, ctx: Any) -> list[str]:
        for name in COMMANDS:
            self._load(name)
        return list(super().list_commands(ctx))

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name in COMMANDS:
            self._load(cmd_name)
        else:
            # what it may be a slip for is told from all of them
            self.list_commands(ctx)
        return super().get_command(ctx, cmd_name)

    def _load(self, name: str) -> None:
        if name in self.commands:
            return
        import_module(f"challenge.commands.{name}")
        info = next(i for i in app.registered_commands if i.callback.__name__ == name)  # type: ignore[union-attr]
        self.commands[name] = get_command_from_info(
            info, pretty_exceptions_short=False, rich_markup_mode=None
        )


app = typer.Typer(
    name="challenge",
    cls=_OnDemand,
    no_args_is_help=True,
    add_completion=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.callback()
def program() -> None:
    """Plan, log, analyse and write up the reintroduction stage of a low-FODMAP diet.

    It supports a dietitian's judgement. Diagnosis stays with the doctor.
    """
