"""Find a challenge food by the name that somebody wrote."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from challenge.foods.model import Content, Food
from challenge.terms import FodmapGroup

_AMOUNT: Final = re.compile(
    r"""^(?:(?:\d+(?:[.,/]\d+)?|½|¼|¾|a|an|one|two|three|half)\s*
        (?:g|gr|gram|ml|cl|dl|l|kg|oz|tsp|tbsp|teaspoon|tablespoon|cup|glas|glass|slice|piece|portion)?
        e?s?\s+(?:of\s+)?)""",
    re.VERBOSE,
)
_AMOUNT_AFTER: Final = re.compile(
    r"[\s,]+\d+(?:[.,]\d+)?\s*(?:g|gr|grams?|ml|cl|dl|tsp|tbsp|cups?)$"
)


def find_food(name: str) -> Food | None:
    """Return the food of the table that a written name means, or None.

    Case, accents, hyphens, plurals and an amount written beside the name do not matter. A name
    that fits several foods with different figures (``onion``, ``bread``) fits none.

    Parameters
    ----------
    name
        Food as somebody wrote it.
    """
    key = _key(name)
    return _index().get(key) or _index().get(_key(_without_amount(name)))


def foods() -> tuple[Food, ...]:
    """Return every food of the table."""
    return _foods()


def foods_for(group: FodmapGroup) -> tuple[Food, ...]:
    """Return the foods that can test a group, the clean ones first, then in table order."""
    rank = {"clean": 0, "variable": 1, "mixed": 2, "unfit": 3}
    return tuple(
        sorted((food for food in foods() if food.group == group), key=lambda f: rank[f.purity])
    )


@cache
def _foods() -> tuple[Food, ...]:
    import tomllib
    from importlib.resources import files

    text = files("challenge.foods").joinpath("data/challenge_foods.toml").read_text("utf-8")
    document = tomllib.loads(text)
    return tuple(_food(row, document["sources"]) for row in document["food"])


def _food(row: Mapping[str, Any], sources: Mapping[str, str]) -> Food:
    contents = tuple(
        Content(
            group=item["group"],
            per_100g=item.get("per_100g"),
            low=item.get("low"),
            high=item.get("high"),
            certainty=item["certainty"],
            source=sources[item["source"]],
        )
        for item in row["contents"]
    )
    return Food(
        name=row["name"],
        names=tuple(row.get("names", ())),
        group=row.get("group"),
        contents=contents,
        also=tuple(row.get("also", ())),
        traits=frozenset(row.get("traits", ())),
        purity=row["purity"],
        note=row.get("note", ""),
        drink=row.get("drink", False),
        measures=tuple((words, float(size)) for words, size in row.get("measures", ())),
        portions=tuple(float(portion) for portion in row.get("portions", ())),
    )


@cache
def _index() -> dict[str, Food]:
    """Every spelling to its food; a spelling claimed twice is left out, for it would be a guess."""
    found: dict[str, Food | None] = {}
    for food in foods():
        for name in (food.name, *food.names):
            key = _key(name)
            taken = found.get(key, food)
            found[key] = food if taken is food else None
    return {key: food for key, food in found.items() if food is not None}


def _key(name: str) -> str:
    """Reduce a name to what all its usual spellings share."""
    plain = name.casefold().replace("ł", "l").replace("ß", "ss")
    decomposed = unicodedata.normalize("NFKD", plain)
    letters = "".join(char for char in decomposed if not unicodedata.combining(char))
    words = re.sub(r"[^a-z0-9]+", " ", letters.replace("'", "").replace("’", "")).split()
    return " ".join(_singular(word) for word in words)


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 4 and word.endswith(("oes", "ches", "shes")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        return word[:-1]
    return word


def _without_amount(name: str) -> str:
    text = name.strip().casefold()
    return _AMOUNT_AFTER.sub("", _AMOUNT.sub("", text))
