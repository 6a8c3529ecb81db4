"""What is known of a challenge food, each figure with its source and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from challenge.terms import FodmapGroup

Certainty = Literal["V", "M", "CP"]
Purity = Literal["clean", "variable", "mixed", "unfit"]

TRAITS: Final[dict[str, str]] = {
    "milk": "milk",
    "gluten": "cereals containing gluten",
    "tree-nuts": "tree nuts",
    "celery": "celery",
    "sulphites": "sulphites",
    "legume": "legumes, lupin and peanut among them",
    "mushroom": "mushrooms",
    "allium": "onion and garlic",
    "bee-product": "bee products",
    "latex-fruit": "fruit that cross-reacts with latex",
    "pollen-fruit": "fruit and vegetables that cross-react with pollen",
    "broad-bean": "broad beans",
    "aspartame": "aspartame",
    "animal": "of animal origin",
    "sugar": "sugars",
    "fruit": "fruit",
    "potassium": "rich in potassium",
    "fructose-source": "a source of fructose",
    "lactose-source": "a source of lactose",
}
"""What screening and dietary exclusions look at, in words."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Content:
    """Grams of one carbohydrate group per 100 g of food (drinks: per 100 mL).

    Attributes
    ----------
    group
        The carbohydrate group; for ``fructose`` what exceeds glucose.
    per_100g
        The figure used; None where none with a source is known.
    low, high
        Spread over sources; None where there is only one.
    certainty
        ``V`` read in the published text, ``M`` from memory, ``CP`` common practice.
    source
        Where the figure comes from.
    """

    group: FodmapGroup
    per_100g: float | None
    low: float | None
    high: float | None
    certainty: Certainty
    source: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Food:
    """One food of the table.

    Attributes
    ----------
    name, names
        The name shown; other spellings by which it is found.
    group
        The one group it can test; None where it cannot test one group alone.
    contents
        Figures, one per group.
    also
        Other groups present, as far as known.
    traits
        What screening and exclusions look at: keys of `TRAITS`.
    purity
        ``clean``, ``variable`` (one group, uncertain amount), ``mixed`` or ``unfit``.
    note
        What to know before using it.
    drink
        Portions are millilitres, not grams.
    measures
        Household measures: words and grams (or millilitres).
    portions
        Usual portions for the steps [g or mL], where the group's usual grams do not suit the food.
    """

    name: str
    names: tuple[str, ...]
    group: FodmapGroup | None
    contents: tuple[Content, ...]
    also: tuple[FodmapGroup, ...]
    traits: frozenset[str]
    purity: Purity
    note: str
    drink: bool
    measures: tuple[tuple[str, float], ...]
    portions: tuple[float, ...]

    @property
    def unit(self) -> str:
        """``mL`` for a drink, else ``g``."""
        return "mL" if self.drink else "g"

    def content(self, group: FodmapGroup | None = None) -> Content | None:
        """Return the figure of a group, by default of the group that the food tests."""
        wanted = group or self.group
        return next((content for content in self.contents if content.group == wanted), None)

    def grams(self, portion_g: float, group: FodmapGroup | None = None) -> float | None:
        """Return the grams of a group in a portion, or None where no figure is known.

        Parameters
        ----------
        portion_g
            Portion [g, or mL of a drink].
        group
            Carbohydrate group; by default the one that the food tests.
        """
        content = self.content(group)
        if content is None or content.per_100g is None:
            return None
        return portion_g * content.per_100g / 100.0

    def in_household_measure(self, portion_g: float) -> str | None:
        """Return a portion in the household measure that fits it best, as ``about 1/2 cup``.

        None where the table knows no measure in which the portion is between a quarter and four.
        """
        best: tuple[float, str] | None = None
        for words, size in self.measures:
            quarters = round(4 * portion_g / size)
            if not 1 <= quarters <= 16:
                continue
            error = abs(quarters * size / 4 - portion_g) / portion_g
            if best is None or error < best[0]:
                best = (error, _count(quarters, words))
        if best is None:
            return None
        return best[1] if best[0] < 0.02 else f"about {best[1]}"


_QUARTERS: Final = {0: "", 1: "1/4", 2: "1/2", 3: "3/4"}


def _count(quarters: int, words: str) -> str:
    """Write ``quarters`` quarters of a measure named ``1 cup`` in words."""
    number, _, noun = words.partition(" ")
    if number != "1":
        return words if quarters == 4 else f"{quarters / 4:g} x {words}"
    whole, rest = divmod(quarters, 4)
    amount = " ".join(part for part in (str(whole) if whole else "", _QUARTERS[rest]) if part)
    return f"{amount} {_plural(noun) if quarters > 4 else noun}"


def _plural(noun: str) -> str:
    head, comma, tail = noun.partition(",")
    return f"{head}s{comma}{tail}"
