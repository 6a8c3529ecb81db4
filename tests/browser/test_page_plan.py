"""What the page makes of its plan: held-up days, sealed sachets, foods of an earlier plan."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import io
from pathlib import Path

import pytest

from challenge.logbook.page import PageSettings, build_page
from challenge.protocol.plan import Plan
from tests.browser.conftest import make_plan
from tests.browser.driving import Browser

START = dt.date(2026, 3, 1)
MADE = dt.datetime(2026, 3, 9, 6)
SETTINGS = PageSettings(
    client="juniper",
    symptoms=("pain",),
    ratings=3,
    challenge_ratings=5,
    eat_at="in the morning",
    made=MADE,
)


@pytest.fixture
def browser(shared: Browser, tmp_path: Path) -> Browser:
    shared.set_zone("Europe/London")
    shared.set_clock("2026-03-09T19:10")
    show(shared, tmp_path, make_plan(START))
    shared.js("localStorage.clear()")
    shared.errors()
    return shared


def show(browser: Browser, place: Path, plan: Plan, **changes: object) -> None:
    page = place / "diary.html"
    settings = dataclasses.replace(SETTINGS, **changes)  # type: ignore[arg-type]
    page.write_text(build_page(plan, settings), "utf-8")
    browser.open(page)


def foods(browser: Browser) -> list[dict[str, str]]:
    text = browser.save_files()["foods"].removeprefix("\ufeff")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_held_up_challenge_shows_no_food_from_now_on(browser: Browser, tmp_path: Path) -> None:
    stop = "You may stop at any time."
    show(browser, tmp_path, make_plan(START), stop=stop)
    assert stop in browser.find("#plan").text
    show(browser, tmp_path, make_plan(START), held=lambda day: True, stop=stop)
    assert stop not in browser.find("#plan").text
    assert "a question has to be settled first" in browser.find("#plan").text
    assert not browser.all("#ate")
    assert "Ratings today: 0 of 5" in browser.find("#progress").text
    data = browser.js("return document.getElementById('data').textContent")
    # yesterday's dose may still have to be corrected; from today on no dose stands anywhere
    assert data.count('"portion_g"') == 1
    browser.press("#open-food")
    assert "(today)" not in browser.find("#food-known").text
    browser.press("form .cancel")
    assert browser.errors() == []


def test_a_dose_says_on_what_condition_it_is_eaten_and_whether_the_one_before_is_written_down(
    browser: Browser, tmp_path: Path
) -> None:
    only = "Eat this only if you ate the amount before it and it went well."
    show(browser, tmp_path, make_plan(START), only=lambda day: only)
    assert only in browser.find("#plan").text
    assert "The amount of 8 Mar is not written down here." in browser.find("#not-written").text
    browser.press("#ate")
    browser.set_value("#food-time", "2026-03-08T08:00")
    browser.press("form button[type=submit]")
    # the dose of the day before is known now; that of today is still to be eaten
    assert not browser.all("#not-written")
    assert only in browser.find("#plan").text
    browser.press("#ate")
    browser.press("form button[type=submit]")
    assert "Written down at" in browser.find("#plan").text
    assert not browser.all("#only")
    assert browser.errors() == []


def test_the_first_dose_of_a_challenge_waits_for_none_before_it(
    browser: Browser, tmp_path: Path
) -> None:
    browser.set_clock("2026-03-08T19:10")
    show(browser, tmp_path, make_plan(START), made=MADE - dt.timedelta(days=2))
    assert browser.all("#ate")
    assert not browser.all("#not-written")


def test_a_sealed_sachet_is_taken_whole_and_tells_no_group(
    browser: Browser, tmp_path: Path
) -> None:
    plan = make_plan(START)
    sealed = dataclasses.replace(
        plan.days[8], fodmap_group=None, fodmap_g=None, food="sachet A2", portion_g=15.0
    )
    assert sealed.sealed and sealed.date == dt.date(2026, 3, 9)
    days = tuple(sealed if day.date == sealed.date else day for day in plan)
    show(browser, tmp_path, Plan(days))
    text = browser.find("#plan").text
    assert "sachet A2 (all of it, stirred into a glass of water)" in text
    for word in ("lactose", "15", "null"):
        assert word not in text
    browser.press("#ate")
    assert "if you took all of it" in browser.find("#food-hint").text
    browser.press("form button[type=submit]")
    assert browser.said() == "Saved: sachet A2."
    (row,) = foods(browser)
    assert (row["food"], row["portion_g"], row["fodmap_group"], row["fodmap_g"]) == (
        "sachet A2", "", "", "",
    )  # fmt: skip
    assert browser.errors() == []


def test_a_corrected_food_of_an_earlier_plan_keeps_its_group(
    browser: Browser, tmp_path: Path
) -> None:
    show(browser, tmp_path, make_plan(START))
    browser.press("#ate")
    browser.press("form button[type=submit]")
    other = Plan(
        tuple(
            dataclasses.replace(day, food="yoghurt") if day.food else day
            for day in make_plan(START)
        )
    )
    show(browser, tmp_path, other)
    browser.press('button[aria-label^="Correct 19:10"]')
    browser.type("#food-portion", "100")
    browser.press("form button[type=submit]")
    (row,) = foods(browser)
    # the plan had 200 mL for 9.8 g
    assert (row["food"], row["portion_g"], row["fodmap_group"], row["fodmap_g"]) == (
        "milk", "100", "lactose", "4.9",
    )  # fmt: skip


def test_grams_are_those_of_the_days_own_step(browser: Browser, tmp_path: Path) -> None:
    """Portions are rounded: 245 mL for 12 g is not twenty-fold 60 mL for 3 g."""
    days = list(make_plan(START))
    days[7] = dataclasses.replace(days[7], portion_g=60.0, fodmap_g=3.0)
    days[8] = dataclasses.replace(days[8], portion_g=245.0, fodmap_g=12.0)
    show(browser, tmp_path, Plan(tuple(days)))
    browser.press("#ate")
    browser.press("form button[type=submit]")
    browser.press("#open-food")
    browser.set_value("#food-known", "milk")
    browser.set_value("#food-time", "2026-03-08T08:00")
    browser.type("#food-portion", "60")
    browser.press("form button[type=submit]")
    assert [row["fodmap_g"] for row in foods(browser)] == ["3", "12"]
