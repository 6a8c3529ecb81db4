"""Write client.toml: answers and settings that a dietitian can read and edit by hand."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from challenge.diary.disturbances import KINDS
from challenge.errors import ChallengeError
from challenge.files.atomic import write_atomic
from challenge.files.folder import SETTINGS

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")

_HEAD: Final = """\
# Settings of one client. Every key may be left out; the program's defaults hold then.
# Written by the program: comments of your own are lost when it writes again.
"""

_HINTS: Final = """\

# Keys of [protocol] that are often changed, with their defaults:
#   baseline_days = 7          days before the first challenge
#   days_per_step = 1          days at each dose
#   days_between_steps = 0     rest days between doses, for sensitive clients
#   washout_days = 3           least days after each challenge, then until symptoms have settled
#   washout_max_days = 14      then the dietitian is asked
#   cycles = 1                 how often each group is challenged
#   repeats = [{ fodmap_group = "lactose", cycle = 2, steps = [2] }]    by `plan --repeat`
#   control = false            a challenge with glucose as well
#   order = "as-listed"        or "random", with seed
#   closed = [{ start = 2026-04-01, end = 2026-04-07, reason = "travel" }]
# Doses of a group: grams of the carbohydrate at each step, food, figure and its source:
#   [protocol.doses.lactose]
#   food = "cow's milk"
#   grams = [3.0, 6.0, 12.0]
# The client's time zone, to find times that a change of the clocks makes impossible or double:
#   [diary] timezone = "Europe/London"
# Ratings asked for a day, and on challenge days, where more of them buy certainty:
#   [diary] ratings_per_day = 3, ratings_per_challenge_day = 5
# The stop rule: [protocol.stop] level = 7.0, rise = 3.0, slots = 2
# Logged events, by default (a line can be changed under [disturbances.NAME], with its source; a
# kind of your own needs words = ["..."]; hold_days = n: no challenge starts within n days):
"""


def read_document(path: Path) -> dict[str, Any]:
    """Return the tables of a TOML file as they stand.

    Raises
    ------
    ChallengeError
        If the file is missing or is no TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise ChallengeError(f"There is no file {path}.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise ChallengeError(f"{path.name} cannot be read as text in UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise ChallengeError(f"{path.name} is no TOML: {error}.") from error


def write_document(folder: str | os.PathLike[str], document: Mapping[str, Any]) -> Path:
    """Write client.toml, with keys of other programs kept as they are."""
    text = _HEAD + dumps(document) + _HINTS + "".join(_kinds())
    return write_atomic(Path(folder) / SETTINGS, text)


def _kinds() -> Iterator[str]:
    for kind in KINDS:
        rule = [f"leaves_out = {str(kind.leaves_out).lower()}"]
        if kind.days_after:
            rule.append(f"days_after = {kind.days_after}")
        if kind.hold_days is not None:
            rule.append(f"hold_days = {kind.hold_days}")
        yield f"#   {kind.key}: {', '.join(rule)}\n#     {kind.source}\n"


def dumps(document: Mapping[str, Any]) -> str:
    """Return tables as TOML text; None is left out, for TOML has no word for it."""
    return "\n".join(_table(document, ())) + "\n"


def _table(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    inner = {key: value for key, value in table.items() if isinstance(value, Mapping)}
    if path and (len(inner) < len(table) or not table):
        yield ""
        yield f"[{'.'.join(_key(part) for part in path)}]"
    for key, value in table.items():
        if key not in inner and value is not None:
            yield f"{_key(key)} = {_value(value)}"
    for key, value in inner.items():
        yield from _table(value, (*path, key))


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _text(text: str) -> str:
    # JSON strings are TOML strings, except for the delete character
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        items = [_value(item) for item in value]
        if any(isinstance(item, Mapping) for item in value):
            return "[\n" + "".join(f"    {item},\n" for item in items) + "]"
        return "[" + ", ".join(items) + "]"
    if isinstance(value, Mapping):
        pairs = (f"{_key(k)} = {_value(v)}" for k, v in value.items() if v is not None)
        return "{ " + ", ".join(pairs) + " }"
    return repr(value)
