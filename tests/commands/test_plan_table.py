"""The table that ``challenge plan`` shows."""

import datetime as dt
from dataclasses import replace

import pytest

from challenge.commands.plan_table import table
from challenge.protocol.plan import Plan
from challenge.protocol.schedule import build_plan
from challenge.protocol.settings import Settings

START = dt.date(2026, 3, 2)
PLAN = build_plan(Settings.model_validate({"protocol": {"control": True}}), START)


def test_it_fits_a_terminal_and_names_every_dose_with_both_measures():
    lines = list(table(PLAN, START))
    assert max(map(len, lines)) <= 80
    assert lines[0] == "49 days, Mon 02 Mar 2026 to Sun 19 Apr 2026 (> marks today)"
    assert lines[2] == "Mon 02 Mar   1> baseline, 7 days, to Sun 08 Mar"
    doses = [day for day in PLAN if day.phase == "challenge"]
    for day in doses:
        (line,) = (line for line in lines if line.startswith(f"{day.date:%a %d %b}"))
        assert f"{day.fodmap_group} {day.step} " in line
        assert f" {day.fodmap_g:g} g  " in line
        assert f"{day.portion_g:g} " in line
        assert day.food in line
        assert "spoon" in line or "cup" in line or "gram" in line


@pytest.mark.parametrize("number", [1, 3, 7, 8, 10, 11, 49])
def test_one_line_is_marked_and_it_is_that_of_today(number):
    today = START + dt.timedelta(days=number - 1)
    marked = [line for line in table(PLAN, today) if line[14:15] == ">"]
    assert len(marked) == 1
    starts = [int(line[10:14]) for line in list(table(PLAN, today))[2:]]
    assert int(marked[0][10:14]) == max(start for start in starts if start <= number)


def test_outside_the_plan_nothing_is_marked():
    assert not any(">" in line for line in table(PLAN, START - dt.timedelta(days=1)))


def test_every_day_is_covered_once():
    lines = list(table(PLAN, START))[2:]
    starts = [int(line[10:14]) for line in lines]
    lengths = [b - a for a, b in zip(starts, [*starts[1:], len(PLAN) + 1], strict=True)]
    for line, length in zip(lines, lengths, strict=True):
        assert length == 1 or f", {length} days" in line
    assert sum(lengths) == len(PLAN)


def test_a_repeat_and_a_portion_without_grams_are_told_as_such():
    twice = Plan(tuple(replace(day, cycle=2) if day.step else day for day in PLAN))
    lines = list(table(twice, START))
    assert any("fructans 1, cycle 2" in line for line in lines)
    assert any("fructose 1, cycle 2 2.5 g" in line for line in lines)
    assert max(map(len, lines)) <= 80
    assert "(about 1/2 level teaspoon)" in [line.strip() for line in lines]
    bare = Plan(tuple(replace(d, fodmap_g=None, portion_g=None) if d.step else d for d in PLAN))
    assert any(line.endswith("fructans 1") for line in table(bare, START))
