"""What a written diary says of each kind of day."""

import datetime as dt

import pytest
import textstat

from challenge.diary.day import part_of_day
from challenge.diary.disturbances import kind_of
from challenge.logbook.kinds import EVENTS, STOOL_FORMS
from challenge.logbook.sheet import (
    conditions,
    dose_before,
    event_in_words,
    parts_wanted,
    symptom_in_words,
)
from challenge.logbook.sheet_book import suggested_times
from challenge.wording import languages, load_words
from tests.logbook.making import LONG, make_plan, make_sheet, on


def test_a_challenge_day_says_what_how_much_when_and_when_to_stop():
    day = on(make_sheet(), 2)
    assert day.heading.replace("\u00a0", " ") == "Monday, 2 March 2026"
    assert day.place == "Day 2 of 9"
    assert day.phase == "Test day, amount 1 of 2"
    assert day.eat.replace("\u00a0", " ") == "Eat today: 62 mL (¼ cup) of cow's milk"
    assert day.when == "When: in the morning, at the same time each day"
    assert "7 or more 2 times" in " ".join(day.plan)


@pytest.mark.parametrize("date", [1, 4, 5, 6, 8])
def test_other_days_name_no_challenge_food(date):
    day = on(make_sheet(), date)
    assert day.eat == day.when == ""
    assert "milk" not in " ".join((day.phase, *day.plan))


def test_after_a_break_a_challenge_begins_only_when_symptoms_have_settled():
    sheet = make_sheet()
    first = "Start only if your symptoms are back to how they were before."
    begins = [day.date.day for day in sheet.days if any(first in text for text in day.plan)]
    assert begins == [7, 9]


def test_what_is_printed_ahead_says_on_what_condition_it_is_eaten():
    """Paper cannot know whether the step before was eaten, nor whether an alarm waits."""
    sheet = make_sheet()
    went_well = "Eat this only if you ate the amount before it and it went well."
    signs = "Eat none of it if you have a warning sign (see below)."
    later = [day.date.day for day in sheet.days if went_well in " ".join(day.plan)]
    all_doses = [day.date.day for day in sheet.days if signs in day.plan[0]]
    assert later == [3]
    assert all_doses == [2, 3, 7, 9] == [day.date.day for day in sheet.days if day.eat]
    assert on(sheet, 3).plan[0].startswith(went_well)
    only = on(sheet, 3).only
    assert only.startswith("Only if the amount before was eaten and went well. Not with")
    assert load_words("en")("sheet.caution").startswith("Warning signs. ")


def test_days_without_a_dose_make_no_conditions():
    sheet = make_sheet(held=lambda day: day.fodmap_group == "lactose")
    assert [day.date.day for day in sheet.days if day.only] == [7, 9]


PREFIX = "date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g\n"
MILK = "{},challenge,{},lactose,{},milk,{},{}\n"


@pytest.mark.parametrize(
    ("between", "cycle", "told"),
    [
        ("2026-03-03,rest,,,,,,\n", 1, ("next", "signs")),
        ("2026-03-03,washout,,lactose,,,,\n", 1, ("first", "next", "signs")),
        ("2026-03-03,washout,,lactose,,,,\n", 2, ("first", "signs")),
        ("", 1, ("next", "signs")),
    ],
)
def test_conditions_follow_from_what_the_plan_has_before(between, cycle, told):
    plan = make_plan(
        PREFIX
        + MILK.format("2026-03-02", 1, 1, 62, 3)
        + between
        + MILK.format("2026-03-04", cycle, 2 if cycle == 1 else 1, 250, 12)
    )
    assert conditions(plan.days[0], plan, 1) == ("signs",)
    assert conditions(plan.days[-1], plan, 1) == told


def test_a_step_laid_again_does_not_ask_for_itself_to_have_been_eaten():
    def days(*steps):
        rows = [MILK.format(f"2026-03-{2 + n:02}", 1, s, 62, 3) for n, s in enumerate(steps)]
        return make_plan(PREFIX + "".join(rows))

    # the first was missed: the second day of it is as if it were the first
    plan = days(1, 1)
    assert conditions(plan.days[-1], plan, 1) == ("signs",)
    plan = days(1, 2, 2)
    assert dose_before(plan.days[-1], plan, 1) == plan.days[0]
    # two days at each step: the day before is the dose before
    assert dose_before(plan.days[-1], plan, 2) == plan.days[1]


def test_a_sealed_day_names_the_sachet_and_nothing_that_tells_its_content():
    day = on(make_sheet(), 9)
    assert day.phase == "Test day"
    assert "sachet A1" in day.eat
    assert not any(told in " ".join((day.phase, day.eat, *day.plan)) for told in ("12", "1 of"))


def test_the_group_is_never_named():
    """An open challenge names the food; the group is the dietitian's business."""
    sheet = make_sheet()
    said = " ".join(text for day in sheet.days for text in (day.phase, day.eat, *day.plan))
    assert "lactose" not in said
    assert "sorbitol" not in said


def test_a_food_held_up_is_not_named_and_not_listed():
    sheet = make_sheet(held=lambda day: day.fodmap_group == "lactose")
    for date in (2, 3):
        day = on(sheet, date)
        assert day.eat == ""
        assert day.phase == "No test food"
        assert day.plan[0].startswith("Do not eat any test food.")
    assert sheet.foods == (LONG, "sachet A1")


def test_foods_of_the_table_are_named_in_the_language():
    sheet = make_sheet("de")
    assert sheet.foods == ("Kuhmilch", LONG, "sachet A1")
    assert "Kuhmilch" in on(sheet, 2).eat


@pytest.mark.parametrize(
    ("ratings", "parts"),
    [
        (1, "e"),
        (2, "me"),
        (3, "mde"),
        (4, "mdde"),
        (5, "mddee"),
        (6, "mmddee"),
        (12, "mmmmddddeeee"),
    ],
)
def test_so_many_ratings_a_day_in_order_each_in_its_part(ratings, parts):
    names = {"m": "morning", "d": "midday", "e": "evening"}
    wanted = parts_wanted(ratings)
    assert wanted == tuple(names[letter] for letter in parts)
    times = suggested_times(wanted)
    assert list(times) == sorted(set(times))
    date = dt.date(2026, 3, 1)
    assert [part_of_day(dt.datetime.combine(date, time)) for time in times] == list(wanted)


def test_more_ratings_on_challenge_days():
    sheet = make_sheet(ratings_per_day=1, ratings_per_challenge_day=5)
    assert [len(day.parts) for day in sheet.days] == [1, 5, 5, 1, 1, 1, 5, 1, 5]


@pytest.mark.parametrize("language", languages())
def test_disturbances_and_stool_forms_mean_the_same_in_each_language(language):
    """A word ticked in a language is understood as the same kind of disturbance on reading."""
    words = load_words(language)
    for event in EVENTS[:-1]:
        assert kind_of(event_in_words(event, words)) == kind_of(event), event
    assert event_in_words("other", words) in ("other", "anderes")
    assert len(words.many("sheet.stool_forms")) == len(STOOL_FORMS)
    assert load_words("en").many("sheet.stool_forms") == STOOL_FORMS


def test_a_declared_symptom_keeps_its_name():
    assert symptom_in_words("Nausea after meals", load_words("de")) == "Nausea after meals"
    assert symptom_in_words("pain", load_words("de")) == "Schmerz"


def told(words):
    """The sentences of the paper diary and of the workbook, without headings and labels."""
    sheet = words.table["sheet"]
    stop = words("sheet.stop", level=7, slots=2)
    only = [f"{text}." for text in sheet["only"].values()]
    paper = [
        *sheet["how"],
        *sheet["plan"].values(),
        *only,
        stop,
        sheet["caution"].replace(":", "."),
    ]
    hints = [text for name, text in sheet["book"].items() if name.endswith("_hint")]
    return " ".join(paper), " ".join((*sheet["book"]["how"], *hints))


def test_reading_age_is_about_eleven_or_less():
    """The same indices as in the client's letter, for the same reasons."""
    for text in told(load_words("en")):
        assert textstat.automated_readability_index(text) <= 6
        assert textstat.coleman_liau_index(text) <= 7


def test_german_is_easy_to_read():
    """LIX under 40 is easy to read (Björnsson 1968)."""
    textstat.set_lang("de")
    try:
        assert all(textstat.lix(text) < 40 for text in told(load_words("de")))
    finally:
        textstat.set_lang("en")
