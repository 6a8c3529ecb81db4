"""The screening matrix: every answer against every group and the foods it singles out.

Expected results were written down by hand from the sources named beside each block; they are not
computed from the rules.
"""

import datetime as dt

import pytest

from challenge.errors import ChallengeError
from challenge.foods import find_food
from challenge.protocol.schedule import build_plan, left_out
from challenge.protocol.screening import screen
from challenge.protocol.screening_rules import RULES
from challenge.protocol.settings import AlarmFeature, Condition, ScreeningSettings, Settings

DAY = dt.date(2026, 3, 2)
ANSWERED = {
    "asked_on": DAY,
    "asked_by": "AB",
    "diagnosed_by_doctor": True,
    "coeliac_test": "negative",
    "coeliac_test_on_gluten": True,
    "restriction_helped": True,
    "restriction_weeks": 5,
}
RESULT = {"g": "go", "a": "ask", "b": "blocked"}
GROUPS = ("fructans", "fructose", "lactose", "gos", "sorbitol", "mannitol", "glucose")
FOODS = (
    "pure inulin",
    "red onion",
    "wheat bread",
    "pure fructose",
    "agave syrup",
    "honey",
    "mango",
    "apple",
    "cow's milk",
    "lactose-free milk",
    "pure lactose",
    "pure GOS",
    "canned chickpeas",
    "almonds",
    "broad beans",
    "pure sorbitol",
    "sugar-free mints",
    "dried apricots",
    "pure mannitol",
    "button mushrooms",
    "celery",
    "pure glucose",
)
GO = "ggggggg"
ALL_ASK = "aaaaaaa"
ALL_BLOCKED = "bbbbbbb"

# columns of the second entry: fructans fructose lactose gos sorbitol mannitol glucose.
# third entry: the foods that fare worse than their group (or have none); all others as their group
MATRIX = {
    # GeneReviews NBK333439: fructose, sorbitol, sucrose absolute; inulin, honey, agave, fruit too;
    # mannitol: metabolic team. GOS: sucrose unit, common practice
    "hereditary-fructose-intolerance": (
        "bbgabag",
        {
            **dict.fromkeys(
                ("pure inulin", "red onion", "honey", "mango", "apple", "agave syrup"), "blocked"
            ),
            **dict.fromkeys(("pure sorbitol", "sugar-free mints", "dried apricots"), "blocked"),
            # hold some fructan, or are not one group alone
            **dict.fromkeys(("almonds", "button mushrooms", "wheat bread"), "blocked"),
        },
    ),
    # EFSA 2010: lactose absolute; a GOS trial excluded galactosaemia: metabolic team
    "galactosaemia": (
        "ggbaggg",
        {"cow's milk": "blocked", "lactose-free milk": "blocked", "pure lactose": "blocked",
         "wheat bread": "ask"},
    ),
    # Regulation (EU) 1169/2011, Annex III, 2.3
    "phenylketonuria": (GO, {"sugar-free mints": "blocked"}),
    # from memory
    "g6pd-deficiency": (GO, {"broad beans": "blocked"}),
    # common practice: the food, not the group
    "coeliac-disease": (GO, {"wheat bread": "blocked"}),
    # from memory: another food is chosen
    "sulphite-asthma": (GO, {"dried apricots": "blocked"}),
    "pollen-food-syndrome": (
        GO, {"apple": "blocked", "dried apricots": "blocked", "celery": "blocked"},
    ),
    "latex-allergy": (GO, {"mango": "blocked"}),
    # common practice: pure sugars, honey, agave, juice, fructose
    "diabetes": (
        "gaggggg",
        {"pure glucose": "ask", "pure lactose": "ask", "apple": "ask", "wheat bread": "ask"},
    ),
    # common practice: beans, mushrooms, fruit, fructose
    **dict.fromkeys(
        ("kidney-disease", "gout"),
        (
            "gaggggg",
            {
                **dict.fromkeys(("canned chickpeas", "broad beans", "button mushrooms"), "ask"),
                **dict.fromkeys(("apple", "dried apricots", "wheat bread"), "ask"),
            },
        ),
    ),
    # NICE CG61 and reviews: stop, refer; the rest from memory
    **dict.fromkeys(AlarmFeature.__args__, (ALL_ASK, {})),
    # AGA 2022: not suitable for restriction, ask doctor or specialist
    **dict.fromkeys(
        ("eating-disorder", "underweight", "food-insecurity", "uncontrolled-psychiatric-disorder"),
        (ALL_ASK, {}),
    ),
    # J Neurogastroenterol Motil 2022;28:343: ask
    **dict.fromkeys(("past-eating-disorder", "food-anxiety"), (ALL_ASK, {})),
    # common practice: ask first
    **dict.fromkeys(
        (
            "pregnancy", "breastfeeding", "under-18", "inflammatory-bowel-disease",
            "bowel-surgery", "stoma", "short-bowel", "stricture",
            "sucrase-isomaltase-deficiency", "other-sugar-disorder",
        ),
        (ALL_ASK, {}),
    ),
    # common practice (stop); antibiotics: trial exclusion window of four weeks
    **dict.fromkeys(("fever", "acute-gastroenteritis", "antibiotics"), (ALL_BLOCKED, {})),
    # common practice: flag only
    **dict.fromkeys(("new-medicine", "medicine-with-sorbitol-or-lactose"), (GO, {})),
}  # fmt: skip
MATRIX["lifelong-aversion-to-sweet-food"] = MATRIX["hereditary-fructose-intolerance"]
MATRIX["family-hereditary-fructose-intolerance"] = MATRIX["hereditary-fructose-intolerance"]

# allergy -> foods blocked; groups stay open (common practice; allergy challenges belong to trained
# staff, copy of ASCIA's text); cross-reactions from memory
ALLERGIES = {
    "milk": {"cow's milk", "lactose-free milk", "pure lactose", "pure GOS"},
    "wheat": {"wheat bread"},
    "tree nuts": {"almonds"},
    "peanut": {"canned chickpeas", "broad beans"},
    "lupin": {"canned chickpeas", "broad beans"},
    "mushrooms": {"button mushrooms"},
    "celery": {"celery", "apple", "dried apricots"},
    "onion": {"red onion"},
    "bee products": {"honey"},
    "sulphites": {"dried apricots"},
    "mango": {"mango"},
    "birch pollen": {"apple", "celery", "dried apricots"},
    "fish": set(),
    "egg and sesame": set(),
}


def answers(**more):
    return ScreeningSettings.model_validate({**ANSWERED, **more})


def with_condition(code):
    key = "alarm_features" if code in AlarmFeature.__args__ else "conditions"
    return answers(**{key: [code]})


def test_the_matrix_names_every_condition_and_alarm_feature():
    assert set(MATRIX) == {*Condition.__args__, *AlarmFeature.__args__}


@pytest.mark.parametrize("code", MATRIX)
def test_groups(code):
    clearance = screen(with_condition(code))
    expected = dict(zip(GROUPS, (RESULT[letter] for letter in MATRIX[code][0]), strict=True))
    assert {group: clearance.result(group) for group in GROUPS} == expected
    whole = set(expected.values())
    assert clearance.result() == (
        whole.pop() if MATRIX[code][0] in (ALL_ASK, ALL_BLOCKED) else "go"
    )


@pytest.mark.parametrize("code", MATRIX)
def test_foods(code):
    letters, worse = MATRIX[code]
    clearance = screen(with_condition(code))
    by_group = dict(zip(GROUPS, (RESULT[letter] for letter in letters), strict=True))
    everything = {ALL_ASK: "ask", ALL_BLOCKED: "blocked"}.get(letters, "go")
    for name in FOODS:
        food = find_food(name)
        expected = worse.get(name, by_group.get(food.group, everything))
        assert clearance.result(food.group, food) == expected, name


@pytest.mark.parametrize("allergy", ALLERGIES)
def test_an_allergy_blocks_its_foods_and_no_group(allergy):
    clearance = screen(answers(allergies=[allergy]))
    assert clearance.result() == "go"
    assert {clearance.result(group) for group in GROUPS} == {"go"}
    blocked = {n for n in FOODS if clearance.result(food=find_food(n)) == "blocked"}
    assert blocked == ALLERGIES[allergy]


def test_an_allergy_unknown_to_the_table_asks_about_everything():
    clearance = screen(answers(allergies=["curry leaf"]))
    assert clearance.result() == "ask"


def test_no_condition_is_go():
    clearance = screen(answers())
    assert clearance.findings == ()
    assert clearance.result() == "go"


@pytest.mark.parametrize(
    ("change", "expected", "code"),
    [
        # NICE CG61, NICE NG20
        ({"diagnosed_by_doctor": False}, "ask", "no-diagnosis"),
        ({"diagnosed_by_doctor": None}, "ask", "no-diagnosis"),
        ({"coeliac_test": "not-done"}, "ask", "coeliac-test-missing"),
        ({"coeliac_test": "unknown"}, "ask", "coeliac-test-missing"),
        ({"coeliac_test": None}, "ask", "coeliac-test-missing"),
        ({"coeliac_test_on_gluten": False}, "ask", "coeliac-test-without-gluten"),
        ({"coeliac_test_on_gluten": None}, "ask", "coeliac-test-without-gluten"),
        ({"coeliac_test": "positive"}, "ask", "coeliac-test-positive"),
        # AGA 2022, Whelan 2018: go on only if restriction worked
        ({"restriction_helped": False}, "blocked", "restriction-did-not-help"),
        ({"restriction_helped": None}, "ask", "restriction-not-judged"),
    ],
)
def test_the_record_itself(change, expected, code):
    clearance = screen(answers(**change))
    assert clearance.result() == expected
    assert code in {finding.code for finding in clearance.because()}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        # Francis 1997: 50 points are a reliable improvement
        ({"restriction_measure": "IBS-SSS", "restriction_change": 40}, "restriction-small-change"),
        ({"restriction_weeks": 1}, "restriction-short"),
        ({"restriction_weeks": 12}, "restriction-long"),
    ],
)
def test_notes_stop_nothing(change, code):
    clearance = screen(answers(**change))
    assert clearance.result() == "go"
    assert code in {finding.code for finding in clearance.findings}


def test_every_rule_has_reason_and_source():
    for rules in RULES.values():
        for rule in rules:
            assert rule.reason
            assert rule.source
            assert rule.certainty in {"V", "M", "CP"}


def doctor(condition, agreed=True):
    return {
        "condition": condition, "doctor": "GP", "recorded_by": "AB", "on": DAY, "agreed": agreed,
    }  # fmt: skip


@pytest.mark.parametrize("code", [code for code in MATRIX if "a" in MATRIX[code][0]])
def test_the_doctors_word_frees_what_waited_for_it(code):
    before = with_condition(code)
    after = before.model_copy(
        update={"doctor_asked": answers(doctor_asked=[doctor(code)]).doctor_asked}
    )
    for group in GROUPS:
        was = screen(before).result(group)
        assert screen(after).result(group) == ("go" if was == "ask" else was)


@pytest.mark.parametrize("code", [code for code in MATRIX if "b" in MATRIX[code][0]])
def test_no_record_lifts_a_block(code):
    more = answers(conditions=[code], doctor_asked=[doctor(code)])
    letters = MATRIX[code][0]
    for group, letter in zip(GROUPS, letters, strict=True):
        if letter == "b":
            assert screen(more).result(group) == "blocked"


def test_the_doctors_no_blocks():
    clearance = screen(answers(conditions=["pregnancy"], doctor_asked=[doctor("pregnancy", False)]))
    assert clearance.result() == "blocked"
    one = screen(answers(conditions=["diabetes"], doctor_asked=[doctor("diabetes", False)]))
    assert (one.result(), one.result("fructose"), one.result("lactose")) == ("go", "blocked", "go")


def test_the_record_is_shown_with_who_and_when():
    clearance = screen(answers(conditions=["pregnancy"], doctor_asked=[doctor("pregnancy")]))
    assert "GP, 2026-03-02, recorded by AB" in clearance.findings[0].sentence()


def test_conditions_count_even_when_nobody_signed_the_screening():
    clearance = screen(ScreeningSettings(conditions=("hereditary-fructose-intolerance",)))
    assert not clearance.screened
    assert clearance.result("fructose") == "blocked"


# ------------------------------------------------------------------ what it does to a plan


def planned(**screening):
    return Settings.model_validate({"screening": {**ANSWERED, **screening}})


def test_hereditary_fructose_intolerance_leaves_lactose_only():
    settings = planned(conditions=["hereditary-fructose-intolerance"])
    assert build_plan(settings, DAY).groups() == ("lactose",)
    assert len(left_out(settings)) == 5


def test_coeliac_disease_keeps_fructans_by_another_food():
    settings = Settings.model_validate(
        {
            "screening": {**ANSWERED, "conditions": ["coeliac-disease"]},
            "protocol": {"doses": {"fructans": {"food": "wheat bread", "per_100g": 1.0}}},
        }
    )
    foods = {day.food for day in build_plan(settings, DAY) if day.fodmap_group == "fructans"}
    assert foods == {"pure inulin", ""}
    assert any("wheat bread is not used" in problem.message for problem in left_out(settings))


def test_an_alarm_feature_stops_the_plan():
    with pytest.raises(ChallengeError) as caught:
        build_plan(planned(alarm_features=["rectal-bleeding"]), DAY)
    assert [problem.code for problem in caught.value.problems] == ["screening-rectal-bleeding"]


def test_diabetes_leaves_fructose_and_control_out_until_the_doctor_was_asked():
    settings = planned(conditions=["diabetes"])
    assert "fructose" not in build_plan(settings, DAY).groups()
    freed = planned(conditions=["diabetes"], doctor_asked=[doctor("diabetes")])
    assert "fructose" in build_plan(freed, DAY).groups()
