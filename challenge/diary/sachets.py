"""Names of blinded sachets: a letter for the period, a digit for the dose step, nothing else."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final, NamedTuple

from challenge.problems import Problem
from challenge.terms import FodmapGroup

if TYPE_CHECKING:
    import pandas as pd

LETTERS: Final = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Letters of periods; I and O are left out, for they look like digits."""

_NAME: Final = re.compile(r"(?:sachet|beutel(?:chen)?)[\s-]*([A-HJ-NP-Z])[\s-]*(\d)", re.IGNORECASE)


class Sachet(NamedTuple):
    """A sachet: letter of its period and dose step."""

    letter: str
    step: int

    @property
    def name(self) -> str:
        """As plan, page and label write it: ``sachet A1``."""
        return f"sachet {self.letter}{self.step}"

    @property
    def period(self) -> str:
        """What the period tests, as long as nobody knows: ``sachet A``."""
        return f"sachet {self.letter}"


def find_sachet(food: str) -> Sachet | None:
    """Return the sachet that a written food means, or None."""
    found = _NAME.fullmatch(food.strip())
    return Sachet(found[1].upper(), int(found[2])) if found else None


class SachetContent(NamedTuple):
    """What an opened sachet held: group, its grams [g], and weight of the powder [g]."""

    group: FodmapGroup
    grams: float
    portion_g: float


def fill_sachets(
    foods: pd.DataFrame, contents: Mapping[str, SachetContent]
) -> tuple[pd.DataFrame, list[Problem]]:
    """Fill in group and grams of sachets whose content is known by now, and say so.

    A sachet without a portion was eaten whole.

    Parameters
    ----------
    foods
        The table of foods.
    contents
        By the name of the sachet (`Sachet.name`).
    """
    known = {
        food: contents[sachet.name]
        for food in (foods["food"].unique().tolist() if contents else ())
        if (sachet := find_sachet(food)) is not None and sachet.name in contents
    }
    rows = foods.index[(foods["fodmap_group"] == "") & foods["food"].isin(list(known))]
    if not len(rows):
        return foods, []
    foods = foods.copy()
    eaten = [known[food] for food in foods.loc[rows, "food"].tolist()]
    portions = foods.loc[rows, "portion_g"].tolist()
    foods.loc[rows, "fodmap_group"] = [content.group for content in eaten]
    foods.loc[rows, "fodmap_g"] = [
        content.grams * (portion / content.portion_g if portion == portion else 1.0)
        for content, portion in zip(eaten, portions, strict=True)
    ]
    foods.loc[rows, "filled_in"] = True
    note = Problem(
        code="sachets-opened",
        severity="note",
        file="foods.csv",
        column="fodmap_g",
        message=f"Group and grams of {len(rows)} blinded sachet(s) were filled in from the opened "
        "key.",
    )
    return foods, [note]
