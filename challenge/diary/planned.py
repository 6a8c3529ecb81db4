"""Fill in the grams of a planned food that the client wrote with a portion only."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from challenge.problems import Problem
from challenge.terms import FodmapGroup

if TYPE_CHECKING:
    import pandas as pd


class PlannedFood(NamedTuple):
    """What the plan knows of a food on a day: group, its grams [g], portion [g or mL]."""

    date: dt.date
    food: str
    group: FodmapGroup
    grams: float
    portion_g: float


def lacks_figures(foods: pd.DataFrame) -> bool:
    """Say whether a plan could fill in anything: a food with a portion, but no group and grams."""
    return bool(_without_figures(foods).any())


def _without_figures(foods: pd.DataFrame) -> pd.Series[bool]:
    return (foods["fodmap_group"] == "") & foods["fodmap_g"].isna() & foods["portion_g"].notna()


def fill_planned(
    foods: pd.DataFrame, planned: Sequence[PlannedFood]
) -> tuple[pd.DataFrame, list[Problem]]:
    """Fill in group and grams of foods that the plan names, in proportion to its portions.

    The plan knows figures that no table has: those of a label, or of a food of the practice's own.
    Only where group and grams are empty and the portion is known. A food eaten on a day that plans
    it counts by that day's figures, on other days by those of its largest planned portion.

    Parameters
    ----------
    foods
        The table of foods.
    planned
        The plan's foods.

    Returns
    -------
    tuple
        The table with ``filled_in`` set, and one note per food filled in.
    """
    if not planned or not lacks_figures(foods):
        return foods, []
    empty = _without_figures(foods)
    named = {
        name: matching
        for name in foods.loc[empty, "food"].unique().tolist()
        if (matching := _named(name, planned))
    }
    rows = foods.index[empty & foods["food"].isin(list(named))]
    if not len(rows):
        return foods, []
    foods = foods.copy()
    names: list[str] = foods.loc[rows, "food"].tolist()
    dates = foods.loc[rows, "time"].dt.date.tolist()
    portions: list[float] = foods.loc[rows, "portion_g"].tolist()
    known = [_on(date, named[name]) for date, name in zip(dates, names, strict=True)]
    foods.loc[rows, "fodmap_group"] = [day.group for day in known]
    foods.loc[rows, "fodmap_g"] = [
        portion * day.grams / day.portion_g for portion, day in zip(portions, known, strict=True)
    ]
    foods.loc[rows, "filled_in"] = True
    return foods, [_note(name, names.count(name), named[name][0].group) for name in named]


def _named(name: str, planned: Sequence[PlannedFood]) -> list[PlannedFood]:
    """Return the plan's days of a food, by its name as written or by what the table knows it as."""
    from challenge.foods.table import find_food

    key, meant = name.strip().casefold(), find_food(name)
    return [
        day
        for day in planned
        if day.food.strip().casefold() == key
        or (meant is not None and find_food(day.food) is meant)
    ]


def _on(date: dt.date, planned: Sequence[PlannedFood]) -> PlannedFood:
    """Return the figures of the day, or else those least rounded."""
    that_day = [day for day in planned if day.date == date]
    return that_day[0] if that_day else max(planned, key=lambda day: day.portion_g)


def _note(name: str, count: int, group: str) -> Problem:
    return Problem(
        code="grams-from-plan",
        severity="note",
        file="foods.csv",
        column="fodmap_g",
        value=name,
        message=f"Grams of {group} were filled in from the plan in {count} row(s), in proportion "
        "to the portion.",
        remedy="Write fodmap_group and fodmap_g yourself if the food was another.",
    )
