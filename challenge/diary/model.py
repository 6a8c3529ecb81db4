"""One client's diary: what was eaten, what was felt, what disturbed the days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import pandas as pd

    from challenge.diary.places import Places
    from challenge.problems import Problem

FOOD_COLUMNS: Final = (
    "time",
    "food",
    "portion_g",
    "fodmap_group",
    "fodmap_g",
    "note",
    "entered_at",
)
SYMPTOM_COLUMNS: Final = ("time", "symptom", "score", "note", "entered_at")
EVENT_COLUMNS: Final = ("start", "end", "event", "note")


@dataclass(frozen=True, kw_only=True)
class Diary:
    """A client's record as three tidy tables, sorted by time.

    The tables are shared, not copied: treat them as read-only.

    Attributes
    ----------
    foods
        One row per food eaten. ``time`` datetime64 (local wall clock, no zone), ``food`` str,
        ``portion_g`` float [g or mL], ``fodmap_group`` str ("" for an ordinary meal), ``fodmap_g``
        float [g of that carbohydrate], ``note`` str, ``entered_at`` datetime64 (NaT if unknown),
        ``filled_in`` bool (group or grams came from the food table, not from the client).
    symptoms
        One row per score. ``time`` datetime64, ``symptom`` str, ``score`` float (whole numbers,
        0-10; Bristol type 1-7 for ``stool_form``), ``note`` str, ``entered_at`` datetime64.
    events
        One row per disturbance. ``start`` and ``end`` datetime64 (midnight; equal for one day),
        ``event`` str, ``note`` str.
    client
        The client's code; never a name.
    problems
        What was doubtful while reading: warnings and notes (errors never get this far).
    places
        Where the entries stand in their files; None for a diary that comes from none.
    """

    foods: pd.DataFrame
    symptoms: pd.DataFrame
    events: pd.DataFrame
    client: str = ""
    problems: Sequence[Problem] = field(default=(), repr=False)
    places: Places | None = field(default=None, repr=False, compare=False)

    def __repr__(self) -> str:
        # no food, score or note: a repr ends up in logs and tracebacks
        return (
            f"Diary(client={self.client!r}, {len(self.foods)} foods, {len(self.symptoms)} scores)"
        )
