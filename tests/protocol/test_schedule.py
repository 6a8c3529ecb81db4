"""Laying a protocol on dates: properties that hold whatever the settings, and published designs."""

import datetime as dt
from collections import Counter
from itertools import groupby

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from challenge.errors import ChallengeError
from challenge.foods import find_food
from challenge.protocol.schedule import build_plan, left_out
from challenge.protocol.screening import screen
from challenge.protocol.screening_rules import EXCLUSIONS, RULES
from challenge.protocol.settings import AlarmFeature, Condition, Settings
from challenge.terms import GROUPS, GROUPS_AND_CONTROL, PHASES

START = dt.date(2026, 3, 2)
CONDITIONS = Condition.__args__
ALARMS = AlarmFeature.__args__


def settings_of(**protocol):
    return Settings.model_validate({"protocol": protocol})


@st.composite
def closed_dates(draw):
    first = START + dt.timedelta(days=draw(st.integers(-3, 60)))
    return {"start": first, "end": first + dt.timedelta(days=draw(st.integers(0, 9)))}


PROTOCOLS = st.fixed_dictionaries(
    {
        "groups": st.lists(st.sampled_from(GROUPS_AND_CONTROL), min_size=1, unique=True),
        "order": st.sampled_from(["as-listed", "random"]),
        "seed": st.integers(0, 10_000),
        "baseline_days": st.integers(1, 14),
        "days_per_step": st.integers(1, 3),
        "days_between_steps": st.integers(0, 4),
        "washout_days": st.integers(1, 9),
        "washout_max_days": st.integers(10, 30),
        "cycles": st.integers(1, 3),
        "repeat": st.sampled_from(["blocks", "together"]),
        "control": st.booleans(),
        "closed": st.lists(closed_dates(), max_size=3),
    }
)
SCREENINGS = st.fixed_dictionaries(
    {
        "conditions": st.lists(st.sampled_from(CONDITIONS), max_size=3),
        "alarm_features": st.lists(st.sampled_from(ALARMS), max_size=1),
        "allergies": st.lists(
            st.sampled_from(["milk", "wheat", "peanut", "mushroom", "celery", "kiwi", "curry"]),
            max_size=2,
        ),
        # every question answered by a doctor's yes: the most that any option can free
        "doctor_asked": st.just(
            [
                {"condition": code, "doctor": "GP", "recorded_by": "AB", "on": START}
                for code in RULES
            ]
        ),
    }
)
DIETS = st.fixed_dictionaries(
    {"exclusions": st.lists(st.sampled_from(sorted(EXCLUSIONS)), max_size=2)}
)
FOODS = st.sampled_from(["", "honey", "wheat bread", "canned chickpeas", "garlic", "porridge"])
DOSES = st.dictionaries(
    st.sampled_from(GROUPS),
    st.fixed_dictionaries(
        {"food": FOODS, "grams": st.sampled_from([(), (1.0, 2.0)]), "per_100g": st.just(4.0)}
    ),
    max_size=3,
)


@given(protocol=PROTOCOLS)
@hypothesis_settings(max_examples=60, deadline=None)
def test_every_day_has_one_phase_and_dates_follow_each_other(protocol):
    plan = build_plan(settings_of(**protocol), START)
    dates = [day.date for day in plan]
    assert dates == [START + dt.timedelta(days=i) for i in range(len(dates))]
    assert all(day.phase in PHASES for day in plan)
    for day in plan:
        dosed = (day.cycle, day.step, day.portion_g, day.fodmap_g)
        assert all(dosed) if day.phase == "challenge" else not any(dosed)


def between_challenges(plan):
    """Yield the days after each challenge (a group and cycle), up to the next one or the end."""
    last = None
    after = []
    for day in plan:
        if day.phase == "challenge":
            course = (day.fodmap_group, day.cycle)
            if last is not None and course != last:
                yield last, after
            last, after = course, []
        elif last is not None:
            after.append(day)
    yield last, after


@given(protocol=PROTOCOLS)
@hypothesis_settings(max_examples=60, deadline=None)
def test_washout_is_never_shorter_than_its_minimum(protocol):
    plan = build_plan(settings_of(**protocol), START)
    for (group, _), after in between_challenges(plan):
        washout = [day for day in after if day.phase == "washout"]
        assert len(washout) >= protocol["washout_days"]
        assert {day.fodmap_group for day in washout} == {group}


@given(protocol=PROTOCOLS)
@hypothesis_settings(max_examples=60, deadline=None)
def test_no_two_groups_in_one_challenge_and_each_as_often_as_asked(protocol):
    settings = settings_of(**protocol)
    plan = build_plan(settings, START)
    doses = [day for day in plan if day.phase == "challenge"]
    runs = [key for key, _ in groupby(doses, key=lambda d: (d.fodmap_group, d.cycle))]
    assert len(runs) == len(set(runs))
    wanted = set(settings.protocol.groups) | ({"glucose"} if settings.protocol.control else set())
    assert Counter(group for group, _ in runs) == dict.fromkeys(wanted, settings.protocol.cycles)
    for _, days in groupby(doses, key=lambda d: (d.fodmap_group, d.cycle)):
        steps = [day.step for day in days]
        assert steps == sorted(steps)
        assert set(Counter(steps).values()) == {settings.protocol.days_per_step}


@given(protocol=PROTOCOLS)
@hypothesis_settings(max_examples=60, deadline=None)
def test_nothing_is_eaten_on_closed_dates(protocol):
    settings = settings_of(**protocol)
    for day in build_plan(settings, START):
        if any(span.start <= day.date <= span.end for span in settings.protocol.closed):
            assert day.phase == "rest"


@given(protocol=PROTOCOLS, shift=st.integers(-400, 400))
@hypothesis_settings(max_examples=40, deadline=None)
def test_shifting_the_start_shifts_all(protocol, shift):
    move = dt.timedelta(days=shift)
    moved = {
        **protocol,
        "closed": [
            {"start": c["start"] + move, "end": c["end"] + move} for c in protocol["closed"]
        ],
    }
    here = build_plan(settings_of(**protocol), START)
    there = build_plan(settings_of(**moved), START + move)
    assert [(d.date + move, *rest(d)) for d in here] == [(d.date, *rest(d)) for d in there]


def rest(day):
    return day.phase, day.cycle, day.fodmap_group, day.step, day.food, day.portion_g, day.fodmap_g


@given(protocol=PROTOCOLS)
@hypothesis_settings(max_examples=40, deadline=None)
def test_the_same_seed_gives_the_same_plan(protocol):
    assert build_plan(settings_of(**protocol), START) == build_plan(settings_of(**protocol), START)


def test_another_seed_gives_another_order():
    orders = {
        build_plan(settings_of(order="random", seed=seed), START).groups() for seed in range(20)
    }
    assert len(orders) > 10


@given(protocol=PROTOCOLS, screening=SCREENINGS, diet=DIETS, doses=DOSES)
@hypothesis_settings(max_examples=150, deadline=None)
def test_nothing_blocked_is_ever_scheduled(protocol, screening, diet, doses):
    settings = Settings.model_validate(
        {"protocol": {**protocol, "doses": doses}, "screening": screening, "diet": diet}
    )
    clearance = screen(settings.screening)
    try:
        plan = build_plan(settings, START)
    except ChallengeError:
        return
    assert clearance.result() == "go"
    excluded = {EXCLUSIONS[exclusion] for exclusion in settings.diet.exclusions}
    checked = clearance.concerns_foods() or excluded
    for day in plan:
        if day.phase != "challenge":
            continue
        food = find_food(day.food)
        assert food is not None or not checked
        assert clearance.result(day.fodmap_group, food) == "go"
        assert food is None or not food.traits & excluded


# ------------------------------------------------------------------ published designs


def test_six_groups_of_three_and_three_days_take_36_days():
    # own sum over six groups: 6 x (3 challenge + 3 washout) = 36; with 7-day washouts 60
    for washout, total in ((3, 36), (7, 60)):
        plan = build_plan(settings_of(washout_days=washout, baseline_days=7), START)
        assert len(plan) == 7 + total
        assert sum(day.phase != "baseline" for day in plan) == total


def test_rising_fructose_doses_of_three_mornings_each():
    # Cuff 2023, Neurogastroenterol Motil 35:e14575: 2.5, 5, 10, 15 g of fructose, three mornings
    # at each dose, three days of washout between doses
    plan = build_plan(
        settings_of(
            groups=["fructose"],
            days_per_step=3,
            days_between_steps=3,
            washout_days=3,
            doses={"fructose": {"grams": [2.5, 5.0, 10.0, 15.0]}},
        ),
        START,
    )
    after = [day for day in plan if day.phase != "baseline"]
    runs = [(phase, len(list(days))) for phase, days in groupby(after, key=lambda d: d.phase)]
    assert runs == [("challenge", 3), ("washout", 3)] * 4
    assert plan.steps("fructose") == {1: 2.5, 2: 5.0, 3: 10.0, 4: 15.0}
    assert {day.food for day in after if day.food} == {"pure fructose"}


def test_usual_fructose_steps_are_those_of_the_dose_finding_trial():
    # Cuff 2023: 2.5 -> 5 -> 10 (-> 15) g
    assert list(build_plan(Settings(), START).steps("fructose").values()) == [2.5, 5.0, 10.0]


def test_usual_lactose_steps_span_what_the_authority_found():
    # EFSA 2010: some react below 6 g, most manage 12 g at once, 24 g usually gives symptoms
    low, _, high = build_plan(Settings(), START).steps("lactose").values()
    assert low < 6 <= high <= 12


def test_milk_portions_hold_the_planned_grams_within_a_twentieth():
    # 4.9 g per 100 g: Facioni 2020, doi 10.1186/s12967-020-02429-2
    plan = build_plan(Settings(), START)
    for day in plan:
        if day.fodmap_group == "lactose" and day.phase == "challenge":
            assert day.portion_g * 4.9 / 100 == pytest.approx(day.fodmap_g, rel=0.05)


def test_polyol_food_says_what_the_label_rule_says():
    # Regulation (EU) 1169/2011, Annex III, 2.4: over 10 % added polyols, laxative warning
    for name in ("sugar-free mints", "sugar-free gum"):
        assert "over 10 % added polyols" in find_food(name).note


@pytest.mark.parametrize(("per_100g", "doubted"), [(10.0, True), (10.5, False), (90.0, False)])
def test_a_figure_for_sweets_is_held_against_the_label_rule(per_100g, doubted):
    # the same rule: a sweet that warns has more than 10 g of added polyols per 100 g
    dose = {"food": "sugar-free mints", "per_100g": per_100g, "grams": [1, 2], "source": "label"}
    found = left_out(settings_of(groups=["sorbitol"], doses={"sorbitol": dose}))
    assert ("figure-against-label" in {problem.code for problem in found}) is doubted
    # fruit and mushrooms hold polyols of their own; the rule is about added ones
    grown = {"food": "button mushrooms", "per_100g": 2.0, "grams": [1, 2]}
    found = left_out(settings_of(groups=["mannitol"], doses={"mannitol": grown}))
    assert "figure-against-label" not in {problem.code for problem in found}


# ------------------------------------------------------------------ edits are checked


def codes(settings):
    with pytest.raises(ChallengeError) as caught:
        build_plan(settings, START)
    return {problem.code for problem in caught.value.problems if problem.severity == "error"}


def test_a_dose_beyond_all_records_is_refused():
    assert codes(settings_of(doses={"fructose": {"grams": [10, 30]}})) == {"dose-too-high"}


def test_an_unusual_dose_is_planned_with_a_warning():
    settings = settings_of(groups=["lactose"], doses={"lactose": {"grams": [10, 20]}})
    assert build_plan(settings, START).steps("lactose") == {1: 10.0, 2: 20.0}
    assert [problem.code for problem in left_out(settings)] == ["dose-unusual"]


def test_a_portion_that_nobody_eats_is_refused():
    settings = settings_of(doses={"mannitol": {"food": "mushrooms", "grams": [2, 4]}})
    assert codes(settings) == {"portion-too-large"}


def test_a_food_without_a_figure_is_not_guessed():
    settings = settings_of(doses={"gos": {"food": "canned chickpeas"}})
    assert codes(settings) == {"dose-without-figure"}


def test_the_dietitian_can_give_the_figure():
    dose = {"food": "canned chickpeas", "per_100g": 1.0, "source": "label"}
    plan = build_plan(settings_of(groups=["gos"], doses={"gos": dose}), START)
    assert plan.steps("gos") == {1: 0.4, 2: 0.8, 3: 1.6}


def test_a_food_that_is_not_one_group_is_pointed_out():
    dose = {"food": "wheat bread", "per_100g": 1.0, "grams": [0.5, 1.0]}
    settings = settings_of(groups=["fructans"], doses={"fructans": dose})
    assert "food-not-single-group" in {problem.code for problem in left_out(settings)}


def test_an_unknown_food_cannot_be_used_beside_an_allergy():
    settings = Settings.model_validate(
        {
            "screening": {"allergies": ["peanut"]},
            "protocol": {"doses": {"fructans": {"food": "snack bar", "per_100g": 5}}},
        }
    )
    plan = build_plan(settings, START)
    assert "snack bar" not in {day.food for day in plan}


def test_steps_that_do_not_rise_are_no_settings():
    with pytest.raises(ValueError, match="steps must rise"):
        settings_of(doses={"lactose": {"grams": [6, 3]}})
