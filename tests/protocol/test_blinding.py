"""Blinded challenges: the draw, its seal, and days of which nobody knows the group."""

import datetime as dt
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from challenge.diary.sachets import LETTERS, find_sachet
from challenge.files.plan_file import parse_plan, plan_text
from challenge.protocol.blinding import (
    Trial,
    blinded_sources,
    commitment,
    design_problems,
    draw,
    draw_key,
    key_problems,
    n_orders,
    open_plan,
    trial_courses,
    trial_held,
)
from challenge.protocol.guidance import as_json, guide
from challenge.protocol.plan import Plan
from challenge.protocol.record import Record
from challenge.protocol.replan import replan
from challenge.protocol.schedule import build_plan, lay, washed_out
from challenge.protocol.settings import Settings

START = dt.date(2026, 3, 2)
SETTINGS = Settings.model_validate({"protocol": {"groups": ["lactose"]}})
OPEN = build_plan(SETTINGS, START)  # bbbbbbb L1 L2 L3 www
TRIAL = Trial(
    number=1,
    fodmap_group="lactose",
    control="glucose",
    letters=("A", "B", "C", "D"),
    block=2,
    steps=(1, 2, 3),
    portions=(3.0, 6.0, 12.0),
    sachets_per_step=1,
    grams=(3.0, 6.0, 12.0),
    control_grams=(3.0, 6.0, 12.0),
    powders=("pure lactose", "pure glucose"),
    drawn_on=START,
)
FIRST = OPEN.days[-1].date + dt.timedelta(days=1)
PLAN = Plan(
    (
        *OPEN,
        *lay(washed_out(trial_courses(TRIAL, SETTINGS.protocol), SETTINGS.protocol), FIRST, (),
             "lactose"),
    ),
    TRIAL,
)  # fmt: skip


def test_the_same_seed_gives_the_same_order_on_any_machine():
    assert draw("seed", 8, 2) == draw("seed", 8, 2)
    # worked out by hand from sha256("seed/0") ... "seed/3": the parity of the first eight bytes
    import hashlib

    expected = []
    for pair in range(4):
        number = int(hashlib.sha256(f"seed/{pair}".encode()).hexdigest()[:16], 16)
        expected += [True, False] if number % 2 == 0 else [False, True]
    assert draw("seed", 8, 2) == tuple(expected)


@given(
    seed=st.text(max_size=20), block=st.sampled_from([2, 4, 6]), blocks=st.integers(1, 4)
)  # fmt: skip
def test_half_of_each_block_holds_the_group(seed, block, blocks):
    order = draw(seed, block * blocks, block)
    for start in range(0, len(order), block):
        assert sum(order[start : start + block]) == block // 2


@pytest.mark.parametrize(("periods", "block", "orders"), [(4, 2, 4), (4, 4, 6), (8, 4, 36)])
def test_every_order_is_about_as_likely_as_any_other(periods, block, orders):
    n = 200 * orders
    counts = Counter(draw(f"seed {i}", periods, block) for i in range(n))
    assert len(counts) == orders == n_orders(periods, block)
    # chi-square with so many degrees of freedom lies under mean + 4 sd
    chi2 = sum((c - 200) ** 2 / 200 for c in counts.values())
    assert chi2 < orders - 1 + 4 * (2 * (orders - 1)) ** 0.5


def test_a_changed_key_is_noticed_whatever_was_changed():
    key = draw_key(TRIAL, "fern", "aa", "bb")
    trial = replace(TRIAL, commitment=commitment(key))
    assert key_problems(trial, key, "fern") == []
    other = tuple(x for x in TRIAL.letters if x not in key.holding)
    for changed in (
        replace(key, holding=other),
        replace(key, seed="ab"),
        replace(key, salt="bc"),
        replace(key, letters=("A", "B", "D", "C")),
        replace(key, block=4),
    ):
        (said,) = key_problems(trial, changed, "fern")
        assert "not the one that was drawn" in said
    assert "for client fern" in key_problems(trial, key, "ash")[0]
    # a key that was written with another order from the start does not follow from its seed
    forged = replace(key, holding=other)
    (said,) = key_problems(replace(trial, commitment=commitment(forged)), forged, "fern")
    assert "does not follow from its seed" in said


def test_the_commitment_cannot_be_found_by_trying_all_orders_without_the_salt():
    key = draw_key(TRIAL, "fern", "aa", "bb")
    assert commitment(key) != commitment(replace(key, salt="cc"))


def test_a_changed_design_is_noticed_too():
    key = draw_key(TRIAL, "fern", "aa", "bb")
    trial = replace(TRIAL, commitment=commitment(key))
    # four periods in one block would allow six orders and a smaller p
    for changed in (replace(trial, block=4), replace(trial, grams=(1.0, 2.0, 3.0))):
        (said,) = key_problems(changed, key, "fern")
        assert "trial.toml is not the one that was drawn" in said


def test_everything_wrong_with_a_design_at_once():
    assert [p.code for p in design_problems(3, 2, ())] == []
    assert [p.code for p in design_problems(3, 4, ())] == ["block-wrong"]
    assert [p.code for p in design_problems(0, 3, ())] == ["pairs-wrong", "block-wrong"]
    assert [p.code for p in design_problems(13, 2, ())] == ["pairs-wrong"]
    assert [p.code for p in design_problems(11, 22, ())] == ["block-wrong"]
    assert [p.code for p in design_problems(2, 2, tuple(LETTERS[:22]))] == ["pairs-wrong"]


@pytest.mark.parametrize(
    ("screening", "group"),
    [
        ({"conditions": ["hereditary-fructose-intolerance"]}, "fructose"),
        ({"conditions": ["hereditary-fructose-intolerance"]}, "sorbitol"),
        ({"conditions": ["galactosaemia"]}, "lactose"),
        ({"conditions": ["eating-disorder"]}, "mannitol"),
        ({"allergies": ["milk"]}, "lactose"),
        ({"alarm_features": ["rectal-bleeding"]}, "lactose"),
        ({"conditions": ["diabetes"]}, "lactose"),
    ],
)
def test_what_is_held_up_stays_held_up_blinded(screening, group):
    settings = Settings.model_validate({"screening": screening})
    sources, problems = blinded_sources(Plan(()), settings, group)
    assert sources is None
    assert problems and all(problem.severity == "error" for problem in problems)


def test_sachets_hold_powder_in_the_grams_of_the_plan():
    milk = {"protocol": {"doses": {"lactose": {"food": "cow's milk", "grams": [2, 5, 10]}}}}
    settings = Settings.model_validate(milk)
    (lactose, glucose), _ = blinded_sources(build_plan(settings, START), settings, "lactose")
    assert lactose.food == "pure lactose"
    assert [step.fodmap_g for step in lactose.steps] == [2, 5, 10]
    assert glucose.food == "pure glucose"
    many = {"protocol": {"doses": {"lactose": {"grams": [n / 2 for n in range(1, 11)]}}}}
    _, problems = blinded_sources(Plan(()), Settings.model_validate(many), "lactose")
    assert [problem.code for problem in problems] == ["too-many-steps"]
    vegan = Settings.model_validate({"diet": {"exclusions": ["vegan"]}})
    assert blinded_sources(Plan(()), vegan, "lactose")[0] is None


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("sachet A1", "sachet A1"), (" Sachet b2 ", "sachet B2"), ("SACHET-C 3", "sachet C3"),
        ("Beutelchen D1", "sachet D1"), ("sachet I1", None), ("sachet A", None), ("A1", None),
        ("vitamin B6", None), ("sachet A12", None),
    ],
)  # fmt: skip
def test_sachets_as_people_write_them(written, name):
    found = find_sachet(written)
    assert (found.name if found else None) == name


# -- the plan ------------------------------------------------------------------------------------


def test_in_the_file_a_sealed_day_is_a_day_outside_the_protocol():
    text = plan_text(PLAN)
    sealed = [line for line in text.splitlines() if "sachet" in line]
    assert sealed[0] == f"{FIRST},rest,,,,sachet A1,3,"
    assert len(sealed) == 12
    # whoever knows only the columns sees challenges with group, step and grams, as ever
    for line in text.splitlines()[1:]:
        cells = dict(zip(text.splitlines()[0].split(","), line.split(","), strict=True))
        if cells["phase"] == "challenge":
            assert cells["fodmap_group"] and cells["step"] and float(cells["fodmap_g"])
    assert parse_plan(text, "plan.csv") == (list(PLAN), [])
    assert PLAN.groups() == ("lactose",)


def eaten_until(last, score=lambda day: 1.0, skip=()):
    """A diary without anything amiss up to a day, but for the sachets skipped."""
    days = [day for day in PLAN if day.date <= last]
    return Record(
        scores={
            day.date: {"pain": dict.fromkeys(("morning", "midday", "evening"), score(day))}
            for day in days
        },
        eaten={
            day.date: {day.tested: 1.0 if day.sealed else day.fodmap_g}
            for day in days
            if day.tested and day.food not in skip
        },
    )


def sachets(plan):
    return [day.food.removeprefix("sachet ") for day in plan if day.sealed]


ORDER = [f"{letter}{step}" for letter in "ABCD" for step in (1, 2, 3)]


def test_a_diary_that_follows_the_plan_moves_nothing():
    for day in PLAN:
        laid = replan(PLAN, eaten_until(day.date - dt.timedelta(days=1)), SETTINGS, day.date)
        assert laid.plan == PLAN, day


def test_a_sachet_that_was_left_out_is_laid_again_and_the_rest_moves():
    missed = next(day.date for day in PLAN if day.food == "sachet B2")
    today = missed + dt.timedelta(days=1)
    laid = replan(PLAN, eaten_until(missed, skip=("sachet B2",)), SETTINGS, today)
    assert [d for d in laid.plan if d.date < today] == [d for d in PLAN if d.date < today]
    assert laid.plan.on(today).food == "sachet B2"
    future = Plan(tuple(d for d in laid.plan if d.date >= today))
    assert sachets(future) == ORDER[4:]
    assert laid.reasons == (f"Step 2 of sachet B was not eaten on {missed}: it is laid again.",)


def test_a_stop_ends_the_period_and_washes_out_before_the_next():
    stopped = next(day.date for day in PLAN if day.food == "sachet A2")
    today = stopped + dt.timedelta(days=1)
    record = eaten_until(stopped, score=lambda day: 8.0 if day.food == "sachet A2" else 1.0)
    laid = replan(PLAN, record, SETTINGS, today)
    future = [d for d in laid.plan if d.date >= today]
    assert sachets(future) == ORDER[3:]
    assert [d.phase for d in future[:3]] == ["washout"] * 3
    guidance = guide(PLAN, record, SETTINGS, today)
    assert guidance.situation == "washout" and guidance.stop.reason == "level"


@hypothesis_settings(max_examples=150, deadline=None)
@given(
    today=st.integers(0, len(PLAN) - 1),
    skip=st.sets(st.sampled_from([f"sachet {name}" for name in ORDER]), max_size=4),
    bad=st.sets(st.integers(0, 40), max_size=4),
)
def test_the_past_stays_and_sachets_keep_their_order_after_periods_under_way(today, skip, bad):
    date = START + dt.timedelta(days=today)

    def score(day):
        return 8.0 if (day.date - START).days in bad else 1.0

    record = eaten_until(date - dt.timedelta(days=1), score, skip)
    laid = replan(PLAN, record, SETTINGS, date).plan
    assert laid.trial == TRIAL
    assert [d for d in laid if d.date < date] == [d for d in PLAN if d.date < date]
    assert len({d.date for d in laid}) == len(laid)
    future = sachets([d for d in laid if d.date >= date])
    # periods under way are finished first, even if one before them was missed altogether
    begun = {name.removeprefix("sachet ") for eaten in record.eaten.values() for name in eaten}
    left = [name for name in future if name[0] in begun]
    untouched = [name for name in future if name[0] not in begun]
    assert future == [*sorted(left), *sorted(untouched)]


def test_settings_changed_in_the_middle_put_nothing_into_a_blinded_challenge():
    inside = next(day.date for day in PLAN if day.food == "sachet C1")
    more = Settings.model_validate({"protocol": {"groups": ["lactose", "gos"]}})
    laid = replan(PLAN, eaten_until(inside - dt.timedelta(days=1)), more, inside)
    kinds = [day.tested for day in laid.plan if day.tested and day.date >= inside]
    assert kinds == ["sachet C"] * 3 + ["sachet D"] * 3 + ["gos"] * 3


@pytest.mark.parametrize(
    ("screening", "word"),
    [({"conditions": ["galactosaemia"]}, "alactos"), ({"allergies": ["milk"]}, "milk")],
)
def test_a_block_found_after_the_draw_takes_the_sachets_out(screening, word):
    """Sachets may hold lactose powder: whoever must not have it gets none of them."""
    inside = next(day.date for day in PLAN if day.food == "sachet B1")
    held = Settings.model_validate({"screening": screening, "protocol": {"groups": ["mannitol"]}})
    assert word in trial_held(TRIAL, held)
    laid = replan(PLAN, eaten_until(inside - dt.timedelta(days=1)), held, inside)
    assert sachets([day for day in laid.plan if day.date >= inside]) == []
    assert any("blinded challenge is held up" in reason for reason in laid.reasons)
    assert trial_held(TRIAL, SETTINGS) == ""


def test_without_its_record_no_sachet_is_laid():
    lost = Plan(PLAN.days)
    laid = replan(lost, eaten_until(OPEN.days[-1].date), SETTINGS, FIRST).plan
    assert sachets([day for day in laid if day.date >= FIRST]) == []


def test_today_names_the_sachet_and_nothing_else():
    day = next(day for day in PLAN if day.food == "sachet B1")
    guidance = guide(PLAN, eaten_until(day.date - dt.timedelta(days=1)), SETTINGS, day.date)
    shown = as_json(guidance)["eat"]
    assert shown["food"] == "sachet B1"
    assert shown["fodmap_group"] is None and shown["fodmap_g"] is None
    assert (shown["step"], shown["steps"]) == (1, 3)


def test_opening_names_the_past_and_takes_the_future_out():
    key = draw_key(TRIAL, "fern", "aa", "bb")
    last = PLAN.days[-1].date
    whole = open_plan(PLAN, TRIAL, key, last)
    assert not any(day.sealed for day in whole)
    periods = {day.food[7]: (day.fodmap_group, day.cycle) for day in whole if "sachet" in day.food}
    groups = {x: "lactose" if x in key.holding else "glucose" for x in TRIAL.letters}
    assert {x: group for x, (group, _) in periods.items()} == groups
    # the open lactose challenge was cycle 1
    assert sorted(cycle for group, cycle in periods.values() if group == "lactose") == [2, 3]
    assert sorted(cycle for group, cycle in periods.values() if group == "glucose") == [1, 2]
    assert [d.fodmap_g for d in whole if d.food.startswith("sachet A")] == [3.0, 6.0, 12.0]
    after = [day for day in whole if day.phase == "washout"]
    assert all(day.fodmap_group for day in after)
    text = plan_text(whole)
    assert parse_plan(text, "plan.csv") == (list(whole), [])
    early = open_plan(PLAN, TRIAL, key, next(d.date for d in PLAN if d.food == "sachet C2"))
    assert [d.food for d in early if "sachet" in d.food][-1] == "sachet C2"
    assert [d.date for d in early] == [d.date for d in PLAN]
