"""Grams filled in from the table of foods: marked, exact, never where no figure is known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from challenge.diary.fill import fill_in
from challenge.diary.tables import food_rows, foods_table
from challenge.foods.table import find_food, foods

NAMES = sorted({name for food in foods() for name in (food.name, *food.names)})


def table(*rows):
    return foods_table(
        [(f"2026-03-01T{10 + n}:00", *row, "", "") for n, row in enumerate(rows)]
    )  # fmt: skip


def test_group_and_grams_come_from_the_portion_and_are_marked():
    # cow's milk, 4.9 g of lactose per 100 mL (V; the table names the source): 250 mL hold 12.25 g
    filled, (note,) = fill_in(table(("milk", "250", "", "")))
    row = filled.iloc[0]
    assert (row["fodmap_group"], row["filled_in"]) == ("lactose", True)
    assert row["fodmap_g"] == pytest.approx(12.25)
    assert (note.code, note.severity, note.value) == ("grams-filled-in", "note", "milk")
    for words in ("lactose", "1 row(s)", "4.9 g per 100 mL", "read in the published text",
                  "from 4.9 to 6.3"):  # fmt: skip
        assert words in note.message


def test_what_was_filled_in_is_not_written_as_if_the_client_had():
    filled, _ = fill_in(table(("milk", "250", "", "")))
    assert food_rows(filled)[0][2:5] == ("250", "", "")


@pytest.mark.parametrize(
    "row",
    [("milk", "", "", ""), ("milk", "250", "lactose", ""), ("milk", "250", "lactose", "9"),
     ("milk", "250", "glucose", "0"), ("milk shake of the day", "250", "", "")],
)  # fmt: skip
def test_nothing_is_filled_in_beside_what_the_client_wrote_or_without_a_portion(row):
    before = table(row)
    after, notes = fill_in(before)
    pd.testing.assert_frame_equal(after, before)
    assert notes == []


@pytest.mark.parametrize(
    ("name", "words"),
    [("apple", "fructose and sorbitol"), ("rye bread", "fructans and mannitol"),
     ("lentils", "gos"), ("canned chickpeas", "no figure with a source is known for its gos")],
)  # fmt: skip
def test_foods_of_several_groups_or_without_a_figure_are_named_not_filled(name, words):
    before = table((name, "100", "", ""))
    after, (note,) = fill_in(before)
    pd.testing.assert_frame_equal(after, before)
    assert note.code == "grams-not-known"
    assert words in note.message


def test_an_uncertain_or_impure_food_is_marked_as_such():
    _, notes = fill_in(table(("agave syrup", "10", "", ""), ("garlic", "3", "", "")))
    agave, garlic = notes
    assert "It also holds fructans." in agave.message
    assert "varies from sample to sample" in garlic.message
    assert "from memory, to be checked" in garlic.message


def test_a_food_with_hardly_any_is_no_news():
    for name in ("lactose-free milk", "cheddar", "blackberries"):
        assert fill_in(table((name, "100", "", "")))[1] == []


@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(NAMES) | st.text("abcdefg ", max_size=12),
            st.sampled_from(["", "0.5", "30", "250"]),
            st.sampled_from(["", "lactose", "gos"]),
            st.sampled_from(["", "0", "3"]),
        ),
        max_size=12,
    )
)
def test_every_figure_is_the_tables_or_the_clients(rows):
    rows = [row for row in rows if row[0].strip()]
    before = table(*rows)
    after, _ = fill_in(before)
    assert not before["filled_in"].any()  # the table given stays as it was
    kept = ~after["filled_in"].to_numpy()
    pd.testing.assert_frame_equal(after[kept], before[kept])
    for row in after[~kept].to_dict("records"):
        food = find_food(row["food"])
        assert row["fodmap_group"] == food.group
        assert row["fodmap_g"] == pytest.approx(food.grams(row["portion_g"]))
        assert not np.isnan(row["fodmap_g"])
