"""What a client can write down besides food and scores: stool form and unusual days, in words."""

from __future__ import annotations

from typing import Final

STOOL_FORMS: Final = (
    "separate hard lumps",
    "lumpy and firm",
    "firm with cracks",
    "smooth and soft",
    "soft pieces with clear edges",
    "mushy, ragged edges",
    "watery, nothing solid",
)
"""Bristol types 1 to 7 (Lewis and Heaton 1997), in our own words."""

EVENTS: Final = (
    "illness",
    "antibiotics",
    "new medicine",
    "menstruation",
    "alcohol",
    "travel",
    "stress",
    "other",
)
"""Disturbances that a client can mark; what each means for a day is a matter of the diary."""
