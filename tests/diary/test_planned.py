"""Foods written with a portion only take their group and grams from the plan that names them."""

import datetime as dt

import pytest

from challenge.diary.planned import PlannedFood, fill_planned
from challenge.diary.tables import foods_table

PLAN = [
    PlannedFood(dt.date(2026, 3, 9), "grey plum jelly", "sorbitol", 2.0, 50.0),
    PlannedFood(dt.date(2026, 3, 10), "grey plum jelly", "sorbitol", 4.1, 100.0),
    PlannedFood(dt.date(2026, 3, 16), "red onion", "fructans", 0.9, 30.0),
]


def table(*rows):
    return foods_table([(*row, "", "") for row in rows])


def test_a_food_no_table_knows_counts_by_the_figures_of_its_day():
    foods, notes = fill_planned(
        table(
            ("2026-03-09T08:00", "Grey plum jelly", "25", "", ""),
            ("2026-03-10T08:00", "grey plum jelly ", "100", "", ""),
            ("2026-03-12T08:00", "grey plum jelly", "50", "", ""),  # not planned on this day
        ),
        PLAN,
    )
    assert foods["fodmap_g"].tolist() == pytest.approx([1.0, 4.1, 2.05])
    assert set(foods["fodmap_group"]) == {"sorbitol"}
    assert foods["filled_in"].all()
    assert {note.code for note in notes} == {"grams-from-plan"}
    assert sum(int(note.message.split(" row(s)")[0].split()[-1]) for note in notes) == 3


def test_another_name_of_a_planned_food_counts_by_the_plan_not_by_the_table():
    foods, _ = fill_planned(table(("2026-03-16T08:00", "rote Zwiebel", "15", "", "")), PLAN)
    assert foods["fodmap_g"].tolist() == pytest.approx([0.45])


def test_what_the_client_wrote_stays():
    written = table(
        ("2026-03-09T08:00", "grey plum jelly", "50", "sorbitol", "1.5"),
        ("2026-03-09T09:00", "grey plum jelly", "", "", ""),  # how much is not known
        ("2026-03-09T12:00", "rice", "200", "", ""),
    )
    foods, notes = fill_planned(written, PLAN)
    assert foods.equals(written)
    assert notes == []


def test_without_a_plan_nothing_is_filled_in():
    written = table(("2026-03-09T08:00", "grey plum jelly", "50", "", ""))
    assert fill_planned(written, [])[0].equals(written)
