"""Reintroduction stage of a low-FODMAP diet: plan, diary, analysis, suggestion, letter.

Public names are loaded on first use, so that ``import challenge`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_HOMES = {
    "Diary": "challenge.diary.model",
    "Plan": "challenge.protocol.plan",
    "Settings": "challenge.protocol.settings",
    "Analysis": "challenge.analysis.result",
    "ChallengeError": "challenge.errors",
    "read_diary": "challenge.files.reading",
    "read_plan": "challenge.files.reading",
    "read_settings": "challenge.files.reading",
    "analyse": "challenge.analysis.analyse",
}

if TYPE_CHECKING:
    from challenge.analysis.analyse import analyse as analyse
    from challenge.analysis.result import Analysis as Analysis
    from challenge.diary.model import Diary as Diary
    from challenge.errors import ChallengeError as ChallengeError
    from challenge.files.reading import read_diary as read_diary
    from challenge.files.reading import read_plan as read_plan
    from challenge.files.reading import read_settings as read_settings
    from challenge.protocol.plan import Plan as Plan
    from challenge.protocol.settings import Settings as Settings

__all__ = [
    "Analysis",
    "ChallengeError",
    "Diary",
    "Plan",
    "Settings",
    "analyse",
    "read_diary",
    "read_plan",
    "read_settings",
]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'challenge' has no attribute {name!r}")
    # ``analyse`` the function would otherwise be shadowed by a submodule of the same name
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
