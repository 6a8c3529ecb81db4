"""The whole analysis: odd diaries, promises about order and sign, the form of the result."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import challenge
from challenge.analysis.analyse import analyse
from challenge.analysis.pairs import PairedDays
from challenge.analysis.tests import group_tests
from challenge.errors import ChallengeError
from challenge.protocol.plan import Plan
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS

from .making import make_diary, make_plan

SCHEMA = json.loads(files("challenge.analysis").joinpath("analysis.schema.json").read_text("utf-8"))
SAMPLES = Path(__file__).parents[2] / "sample_diaries"


def valid(analysis):
    text = json.dumps(analysis.to_json(), allow_nan=False)
    jsonschema.validate(json.loads(text), SCHEMA)
    for group in analysis.groups:
        if group.probability:
            assert sum(group.probability.values()) == pytest.approx(1)
        for sentence in map(str, (*group.reasons, group.next)):
            assert sentence.strip() == sentence and "nan" not in sentence.split()
        assert bool(group.why_unclear) == (group.outcome == "unclear")
    return text


@pytest.mark.parametrize("name", ["juniper", "rowan", "sorrel", "hazel"])
def test_sample_diaries_have_the_form_of_the_contract(name):
    folder = SAMPLES / name
    diary = challenge.read_diary(folder)
    analysis = analyse(diary, challenge.read_plan(folder / "plan.csv"))
    valid(analysis)
    assert len(analysis.tolerance) == len(analysis.groups)
    assert len(analysis.tests) == sum(len(g.tests) for g in analysis.groups)


def test_the_schema_is_one_and_refuses_what_the_contract_forbids():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    plan = make_plan()
    good = json.loads(valid(analyse(make_diary(plan), plan)))
    for spoil in (
        lambda g: g.update(outcome="safe"),
        lambda g: g.pop("reasons"),
        lambda g: g.update(why_unclear=["spread"]),
        lambda g: g.update(suggested_step=-1),
        lambda g: g["probability"].update(one=0.1),
        lambda g: g["tests"][0].update(pvalue=1.2),
    ):
        bad = json.loads(json.dumps(good))
        spoil(bad["groups"][0])
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(bad, SCHEMA)


ODD = {
    "constant scores": {"score": lambda day, hour, symptom: 2},
    "all zero": {"score": lambda day, hour, symptom: 0},
    "all ten": {"score": lambda day, hour, symptom: 10},
    "one symptom": {"symptoms": ("pain",)},
    "evenings only": {"hours": (21,)},
    "at odd hours": {"hours": (3.2, 10.9, 16.4, 23.8)},
    "after midnight": {"hours": (24.5, 26.0)},
    "one score a week": {"score": lambda day, hour, s: 3 if day % 7 == 0 and hour == 8 else None},
    "no baseline": {"score": lambda day, hour, symptom: None if day < 7 else 2},
    "baseline only": {"score": lambda day, hour, symptom: None if day > 6 else day % 3},
    "challenge days not scored": {
        "score": lambda day, hour, symptom: None if 7 <= day <= 10 else day % 3
    },
    "each symptom in a slot of its own": {
        "score": lambda day, hour, s: (day + hour) % 4 if (hour == 8) == (s == "pain") else None
    },
    "a single score": {
        "score": lambda day, hour, s: 4 if (day, hour, s) == (3, 8, "pain") else None
    },
    "nothing eaten": {"eaten": lambda day: None},
    "a dose off the plan": {"eaten": lambda day: 13.0 if day.step == 2 else day.fodmap_g},
    "only the first dose": {"eaten": lambda day: day.fodmap_g if day.step == 1 else None},
    "doses at night": {"hour": 23},
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_odd_diaries_give_a_plain_result(name):
    plan = make_plan()
    valid(analyse(make_diary(plan, **ODD[name]), plan))


@pytest.mark.parametrize("n_days", [1, 2, 8, 10])
def test_short_plans(n_days):
    whole = make_plan(baseline=0 if n_days < 3 else 7)
    plan = Plan(whole.days[:n_days])
    valid(analyse(make_diary(plan), plan))


def test_no_scores_and_no_challenge_are_said_plainly():
    plan = make_plan()
    with pytest.raises(ChallengeError, match="no symptom score"):
        analyse(make_diary(plan, lambda *_: None), plan)
    with pytest.raises(ChallengeError, match="no challenge day"):
        baseline = Plan(plan.days[:7])
        analyse(make_diary(baseline), baseline)


def test_scores_outside_the_plan_are_not_read():
    plan = make_plan()
    later = Plan(tuple(replace(d, date=d.date + dt.timedelta(days=400)) for d in plan))
    with pytest.raises(ChallengeError, match="no symptom score"):
        analyse(make_diary(plan), later)


def test_same_input_same_result():
    client = simulate_client(WORLDS["usual"], 3, 0)
    one, two = (analyse(client.diary, client.plan).to_json() for _ in range(2))
    assert json.dumps(one) == json.dumps(two)


def test_order_of_rows_does_not_matter():
    client = simulate_client(WORLDS["usual"], 3, 1)
    diary = client.diary
    shuffled = replace(
        diary,
        **{
            name: getattr(diary, name).sample(frac=1, random_state=2).reset_index(drop=True)
            for name in ("foods", "symptoms", "events")
        },
    )
    assert valid(analyse(diary, client.plan)) == valid(analyse(shuffled, client.plan))


@given(
    st.lists(
        st.tuples(st.integers(0, 10), st.integers(0, 10), st.integers(1, 3), st.integers(1, 4)),
        min_size=1, max_size=12, unique_by=lambda row: row[2:],
    )
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_swapping_challenge_and_reference_flips_the_sign(rows):
    a, b, step, cycle = np.array(sorted(rows, key=lambda row: row[:1:-1])).T
    shared = {
        "cycle": cycle, "step": step, "challenge_day": np.arange(len(a)) + 50,
        "reference_day": np.arange(len(a)), "n_missing": 0, "left_out": (),
    }  # fmt: skip

    def tested(x, y):
        pairs = PairedDays(
            challenge=x[:, None].astype(float), reference=y[:, None].astype(float), **shared
        )
        return group_tests(pairs, ("pain",), (1, 2, 3), 0.9)

    for one, other in zip(tested(a, b), tested(b, a), strict=True):
        assert (one.n_pairs, one.method) == (other.n_pairs, other.method)
        if one.difference is None:
            continue
        assert one.difference == pytest.approx(-other.difference)
        assert one.pvalue == pytest.approx(other.pvalue)
        assert (one.low is None) == (other.low is None)
        if one.low is not None:
            assert one.low == pytest.approx(-other.high)


@pytest.mark.parametrize("first_too_much", [1, 2, 3, None])
def test_a_huge_effect_is_found_and_its_step_is_right(first_too_much):
    """Six points for the twelve hours after each dose from one step on; a little noise."""
    plan = make_plan()
    noise = np.random.default_rng(1).integers(0, 3, size=(len(plan), 24, 2))

    def score(day, hour, symptom):
        planned = plan.days[day]
        hit = first_too_much is not None and planned.step is not None
        up = 6 if hit and planned.step >= first_too_much and hour > 8 else 0
        return up + int(noise[day, hour, int(symptom == "pain")])

    found = analyse(make_diary(plan, score), plan).group("lactose")
    highest = 3 if first_too_much is None else first_too_much - 1
    assert found.suggested_step == highest
    assert found.outcome == ("tolerated" if highest == 3 else "reacted")
    assert max(found.probability, key=found.probability.__getitem__) == highest


def test_huge_reactions_of_simulated_clients_are_told_as_reactions():
    """Every group reacts by 7 points; measured: 18 of 19 answers."""
    told = reacted = 0
    world = replace(WORLDS["huge"], flare_rate=0.0, missed_dose=0.0, mistaken_dose=0.0)
    for index in range(4):
        client = simulate_client(world, 17, index)
        for group in analyse(client.diary, client.plan).groups:
            told += group.outcome != "unclear"
            reacted += group.outcome == "reacted"
    assert told >= 14  # of 24: many stop at the first step that acts
    assert reacted >= 0.85 * told


@pytest.mark.slow
def test_few_are_told_of_a_reaction_where_nobody_reacts():
    """Measured: 5 of 150 (3.3 %). The limit stands far above it, to fail for a fault alone."""
    reacted = n = 0
    for index in range(25):
        client = simulate_client(WORLDS["nobody-reacts"], 23, index)
        groups = analyse(client.diary, client.plan).groups
        n += len(groups)
        reacted += sum(group.outcome == "reacted" for group in groups)
    assert reacted <= 0.10 * n


def test_a_challenge_that_has_not_begun_is_not_judged_but_named():
    plan = make_plan(("lactose", "gos"))
    diary = make_diary(plan, lambda *_: 2.0)
    over = plan.days[12].date
    before = diary.foods["time"].dt.date <= over
    early = replace(
        diary,
        foods=diary.foods[before],
        symptoms=diary.symptoms[diary.symptoms["time"].dt.date <= over],
    )
    found = analyse(early, plan, today=over + dt.timedelta(days=1))
    assert [group.fodmap_group for group in found.groups] == ["lactose"]
    assert found.cautions[0].code == "still-to-come"
    assert "GOS" in str(found.cautions[0])
    assert found.completeness["all"] == 1.0
    valid(found)
    assert "still-to-come" not in [c.code for c in analyse(diary, plan, today=over).cautions]
    with pytest.raises(ChallengeError, match="No challenge has begun yet"):
        analyse(
            replace(
                early,
                foods=early.foods[:0],
                symptoms=early.symptoms[early.symptoms["time"].dt.date < plan.days[7].date],
            ),
            plan,
            today=plan.days[5].date,
        )


def test_words_for_a_doctor_stand_before_every_result():
    plan = make_plan()
    diary = make_diary(plan, lambda *_: 2.0)
    symptoms = diary.symptoms.copy()
    symptoms.loc[symptoms.index[0], "note"] = "blood in the stool"
    found = analyse(replace(diary, symptoms=symptoms), plan)
    assert found.cautions[0].code == "diary-alarm"
    assert "2\u00a0Mar\u00a02026" in str(found.cautions[0])
    valid(found)
