"""Fill in the grams of a challenge food that the client wrote with a portion only."""

from __future__ import annotations

from typing import TYPE_CHECKING

from challenge.problems import Problem

if TYPE_CHECKING:
    import pandas as pd


def fill_in(foods: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Fill in group and grams from the table of challenge foods, and say so.

    Only where both are empty, the portion is known, and the table has one group with a figure for
    this very food. Nothing is ever estimated.

    Returns
    -------
    tuple
        The table with ``filled_in`` set, and one note per food filled in.
    """
    empty = (foods["fodmap_group"] == "") & foods["fodmap_g"].isna() & foods["portion_g"].notna()
    if not bool(empty.any()):
        return foods, []
    from challenge.foods.table import find_food

    known = {}
    for name in foods.loc[empty, "food"].unique().tolist():
        food = find_food(name)
        content = food.content() if food is not None and food.group is not None else None
        if content is not None and content.per_100g is not None:
            known[name] = content
    if not known:
        return foods, []
    rows = foods.index[empty & foods["food"].isin(list(known))]
    foods = foods.copy()
    names = foods.loc[rows, "food"].tolist()
    portions = foods.loc[rows, "portion_g"].to_numpy()
    foods.loc[rows, "fodmap_group"] = [known[name].group for name in names]
    foods.loc[rows, "fodmap_g"] = [
        float(portion * (known[name].per_100g or 0.0) / 100.0)
        for name, portion in zip(names, portions, strict=True)
    ]
    foods.loc[rows, "filled_in"] = True
    return foods, [_note(name, names.count(name), content) for name, content in known.items()]


def _note(name: str, count: int, content: object) -> Problem:
    per_100g = getattr(content, "per_100g", None)
    group, source = getattr(content, "group", ""), getattr(content, "source", "")
    certainty = getattr(content, "certainty", "")
    return Problem(
        code="grams-filled-in",
        severity="note",
        file="foods.csv",
        column="fodmap_g",
        value=name,
        message=f"Grams of {group} were filled in from the food table in {count} row(s): "
        f"{per_100g:g} g per 100 ({certainty}; {source}).",
        remedy="Write fodmap_group and fodmap_g yourself if the food was another.",
    )
