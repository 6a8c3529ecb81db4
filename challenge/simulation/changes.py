"""Single settings of a world changed by name, as the command line gives them: ``key=value``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from typing import Any

from challenge.errors import ChallengeError
from challenge.simulation.world import World
from challenge.simulation.worlds import WORLDS

_CHOICES: Mapping[str, tuple[str, ...]] = {
    "kernel": ("rise-and-fade", "box", "gamma", "two-humps"),
    "order": ("fixed", "shuffled"),
}


def world_by_name(name: str) -> World:
    """Return a world.

    Raises
    ------
    ChallengeError
        If there is none of that name; the message lists those that there are.
    """
    try:
        return WORLDS[name]
    except KeyError:
        raise ChallengeError(
            f"There is no world called {name!r}. There are: {', '.join(WORLDS)}."
        ) from None


def change(world: World, settings: Iterable[str]) -> World:
    """Return the world with settings such as ``flare_rate=0.05`` or ``reacting_share.gos=0.2``.

    Raises
    ------
    ChallengeError
        If a setting does not exist or its value cannot be used.
    """
    for text in settings:
        key, sign, value = text.partition("=")
        name, _, part = key.strip().partition(".")
        if not sign or name not in {entry.name for entry in fields(world)}:
            raise ChallengeError(
                f"{text!r} is no setting of a world; write one like flare_rate=0.05."
            )
        old = getattr(world, name)
        new: Any
        if isinstance(old, Mapping) and part in old and isinstance(old[part], float | int):
            new = {**old, part: _number(text, value)}
        else:
            new = _value(text, name, old, value.strip())
        world = replace(world, **{name: new})
    return world


def _value(text: str, name: str, old: Any, value: str) -> Any:
    if name in _CHOICES:
        if value not in _CHOICES[name]:
            raise ChallengeError(f"{text!r}: {name} is one of {', '.join(_CHOICES[name])}.")
        return value
    if isinstance(old, bool):
        if value not in {"true", "false"}:
            raise ChallengeError(f"{text!r}: {name} is true or false.")
        return value == "true"
    if isinstance(old, int):
        number = _number(text, value)
        if number != int(number):
            raise ChallengeError(f"{text!r}: {name} is a whole number.")
        return int(number)
    if isinstance(old, float) or name == "noise_tail_df":
        return _number(text, value)
    raise ChallengeError(f"{text!r}: {name} can be changed from Python only.")


def _number(text: str, value: str) -> float:
    try:
        number = float(value)
    except ValueError:
        number = float("nan")
    if not 0.0 <= abs(number) < float("inf"):
        raise ChallengeError(f"{text!r}: {value.strip()!r} is no number.")
    return number
