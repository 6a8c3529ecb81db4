"""Fill in the grams of a challenge food that the client wrote with a portion only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from challenge.problems import Problem

if TYPE_CHECKING:
    import pandas as pd

    from challenge.foods.model import Content, Food

_CERTAINTY: Final = {
    "V": "read in the published text",
    "M": "from memory, to be checked",
    "CP": "common practice, no source",
}


def fill_in(foods: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Fill in group and grams from the table of challenge foods, and say so.

    Only where both are empty, the portion is known, and the table has one group with a figure for
    this very food. Nothing is ever estimated: of foods with several groups, or without a figure,
    it is only said that they are such.

    Returns
    -------
    tuple
        The table with ``filled_in`` set, and one note per food filled in or known but not filled.
    """
    empty = (foods["fodmap_group"] == "") & foods["fodmap_g"].isna() & foods["portion_g"].notna()
    if not bool(empty.any()):
        return foods, []
    from challenge.foods.table import find_food

    names = foods.loc[empty, "food"].unique().tolist()
    known = {name: food for name in names if (food := find_food(name)) is not None}
    figures = {
        name: content
        for name, food in known.items()
        if food.group is not None
        and (content := food.content()) is not None
        and content.per_100g is not None
    }
    notes = [
        note
        for name, food in known.items()
        if name not in figures and (note := _left_empty(name, food)) is not None
    ]
    if not figures:
        return foods, notes
    rows = foods.index[empty & foods["food"].isin(list(figures))]
    foods = foods.copy()
    written = foods.loc[rows, "food"].tolist()
    portions = foods.loc[rows, "portion_g"].tolist()
    foods.loc[rows, "fodmap_group"] = [figures[name].group for name in written]
    foods.loc[rows, "fodmap_g"] = [
        known[name].grams(portion) for name, portion in zip(written, portions, strict=True)
    ]
    foods.loc[rows, "filled_in"] = True
    filled = [_note(n, written.count(n), known[n], content) for n, content in figures.items()]
    return foods, [*filled, *notes]


def _note(name: str, count: int, food: Food, content: Content) -> Problem:
    unit = "mL" if food.drink else "g"
    doubts = ""
    if content.low is not None and content.high is not None:
        doubts += f" Published figures run from {content.low:g} to {content.high:g}."
    if food.purity == "variable":
        doubts += " The amount varies from sample to sample."
    if food.also:
        doubts += f" It also holds {' and '.join(food.also)}."
    return Problem(
        code="grams-filled-in",
        severity="note",
        file="foods.csv",
        column="fodmap_g",
        value=name,
        message=f"Grams of {content.group} were filled in from the food table in {count} row(s): "
        f"{content.per_100g:g} g per 100 {unit} ({_CERTAINTY[content.certainty]}; "
        f"{content.source}).{doubts}",
        remedy="Write fodmap_group and fodmap_g yourself if the food was another.",
    )


def _left_empty(name: str, food: Food) -> Problem | None:
    """Say of a food that holds FODMAPs why nothing was filled in; of others there is nothing."""
    groups = list(dict.fromkeys([*(content.group for content in food.contents), *food.also]))
    if food.purity == "unfit":
        return None
    if food.group is None:
        why = f"it holds {' and '.join(groups)}" if len(groups) > 1 else f"it holds {groups[0]}"
        why += ", which no one group's figure tells"
    else:
        why = f"no figure with a source is known for its {food.group}"
    return Problem(
        code="grams-not-known",
        severity="note",
        file="foods.csv",
        column="fodmap_g",
        value=name,
        message=f"Nothing was filled in for this food: {why}.",
        remedy="Write fodmap_group and fodmap_g yourself, from its label, if it was a challenge.",
    )
