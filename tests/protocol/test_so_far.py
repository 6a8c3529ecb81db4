"""The part of a plan that can be judged by now."""

import datetime as dt

import pytest

from challenge.protocol.so_far import plan_so_far
from tests.analysis.making import START, make_plan

PLAN = make_plan(("lactose", "gos"))  # baseline 1-7, lactose 8-10, washout 11-13, gos 14-16


def day(number):
    return START + dt.timedelta(days=number - 1)


@pytest.mark.parametrize(
    ("today", "eaten", "entered", "last"),
    [
        (3, (), None, 2),
        (8, (), 8, 7),  # the first dose is due today and not eaten yet
        (8, ((8, "lactose"),), 8, 10),
        (9, (), None, 10),  # the first dose was missed
        (12, (), None, 11),
        (12, (), 12, 12),
        (14, (), 14, 13),
        (15, ((14, "gos"),), 14, 16),
        (90, (), None, 19),
        (1, ((14, "gos"),), 15, 16),  # a clock that is behind the diary
    ],
)
def test_days_over_and_challenges_begun(today, eaten, entered, last):
    found = plan_so_far(
        PLAN,
        day(today),
        {(day(number), group) for number, group in eaten},
        None if entered is None else day(entered),
    )
    assert [d for d in found if d.date <= day(last)] == list(found)
    assert found.days[-1].date == day(last)
    assert set(found) <= set(PLAN)
