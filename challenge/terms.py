"""Words of the trade that files, tables and letters share. Names only; imports nothing."""

from __future__ import annotations

from typing import Final, Literal

FodmapGroup = Literal["fructans", "fructose", "lactose", "gos", "sorbitol", "mannitol", "glucose"]
Phase = Literal["baseline", "challenge", "washout", "rest"]
Outcome = Literal["tolerated", "reacted", "unclear"]

GROUPS: Final[tuple[FodmapGroup, ...]] = (
    "fructans",
    "fructose",
    "lactose",
    "gos",
    "sorbitol",
    "mannitol",
)
"""The six carbohydrate groups, in the order tables show them."""

CONTROL: Final[FodmapGroup] = "glucose"
"""The sugar given as a control challenge: absorbed early, not a FODMAP."""

GROUPS_AND_CONTROL: Final[tuple[FodmapGroup, ...]] = (*GROUPS, CONTROL)

PHASES: Final[tuple[Phase, ...]] = ("baseline", "challenge", "washout", "rest")

SYMPTOMS: Final[tuple[str, ...]] = ("pain", "bloating", "wind", "discomfort", "urgency")
"""Symptoms scored on a 0-10 numeric rating scale; higher is worse."""

STOOL_FORM: Final = "stool_form"
"""Bristol type 1-7, one entry per stool; not a 0-10 score and never averaged with them."""

SCORE_MIN: Final = 0
SCORE_MAX: Final = 10
