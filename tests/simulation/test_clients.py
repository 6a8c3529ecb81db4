import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.simulation.clients import simulate_client, simulate_clients
from challenge.simulation.world import World
from challenge.simulation.worlds import USUAL, WORLDS


def practice(world, n=60, seed=5):
    return list(simulate_clients(world, seed, n))


@pytest.fixture(scope="module")
def usual():
    return practice(USUAL, n=250)


def test_same_seed_same_client_whoever_was_made_before():
    alone = simulate_client(USUAL, 7, 3)
    among = practice(USUAL, n=4, seed=7)[3]
    pd.testing.assert_frame_equal(alone.diary.symptoms, among.diary.symptoms)
    pd.testing.assert_frame_equal(alone.diary.foods, among.diary.foods)
    assert alone.plan == among.plan
    assert alone.truth == among.truth
    other = simulate_client(USUAL, 8, 3)
    assert other.truth != alone.truth or other.plan != alone.plan


def test_one_setting_leaves_the_rest_of_the_client_alone():
    whole = simulate_client(replace(USUAL, missing_day=0.0), 7, 3)
    gaps = simulate_client(replace(USUAL, missing_day=0.3), 7, 3)
    assert np.array_equal(whole.lived.felt, gaps.lived.felt)
    assert len(gaps.diary.symptoms) < len(whole.diary.symptoms)


@pytest.mark.parametrize(("cycles", "days"), [(1, 45), (2, 83), (3, 121)])
def test_protocol_has_the_usual_length_and_one_phase_per_day(cycles, days):
    plan = simulate_client(replace(USUAL, cycles=cycles), 1, 0).plan
    assert len(plan) == days
    dates = [day.date for day in plan]
    assert dates == [dates[0] + dt.timedelta(days=k) for k in range(days)]
    assert sum(day.phase == "challenge" for day in plan) == 18 * cycles
    assert plan.steps("lactose") == {1: 3, 2: 6, 3: 12}
    washed = {d.fodmap_group for d in plan if d.phase == "washout"}
    assert washed == set(plan.groups())


def test_tables_have_the_columns_and_values_of_a_diary(usual):
    for client in usual[:20]:
        diary = client.diary
        assert list(diary.foods.columns) == [*FOOD_COLUMNS, "filled_in"]
        assert tuple(diary.symptoms.columns) == SYMPTOM_COLUMNS
        assert tuple(diary.events.columns) == EVENT_COLUMNS
        for table in (diary.foods, diary.symptoms):
            assert table["time"].is_monotonic_increasing
            assert (table["entered_at"] >= table["time"]).all()
        scores = diary.symptoms[diary.symptoms["symptom"] != "stool_form"]["score"]
        assert scores.between(0, 10).all()
        assert (scores % 1 == 0).all()
        stools = diary.symptoms[diary.symptoms["symptom"] == "stool_form"]["score"]
        assert stools.between(1, 7).all()
        assert not diary.symptoms.duplicated(["time", "symptom"]).any()


def test_the_usual_world_is_as_described(usual):
    steps = np.array([[told.tolerated_step for told in c.truth] for c in usual])
    # Van den Houte 2024 (the shares of the six groups): mean .372 react
    assert np.mean(steps == 3) == pytest.approx(0.628, abs=0.04)
    # same paper: 2.5 +- 2 triggers per patient, the control among them
    assert 1.6 < (steps < 3).sum(axis=1).std() < 2.2
    stopped = sum(len(c.lived.stops) for c in usual) / steps.size
    assert 0.11 < stopped < 0.21
    scores = np.mean([(c.diary.symptoms["symptom"] != "stool_form").sum() for c in usual])
    assert 500 < scores < 650


def test_nobody_starts_a_challenge_unsettled(usual):
    # de Graaf 2024: overall score at most 30 of 100 mm
    levels = np.array([client.person.level for client in usual])
    assert levels.mean(axis=1).max() <= 3.0 + 1e-9
    assert levels.max() <= 5.0
    assert 1.2 < levels.mean() < 2.0


def test_truth_is_the_highest_step_below_the_margin(usual):
    for client in usual:
        for told in client.truth:
            over = [rise >= USUAL.margin for rise in told.rises]
            assert told.tolerated_step == (over.index(True) if any(over) else 3)
            assert list(told.rises) == sorted(told.rises)


def test_rise_is_what_the_dose_adds_over_its_24_hours():
    # noise, gaps, expectation and mistakes away: a single dose must show its rise in the scores
    still = replace(
        USUAL,
        day_sd=0.0,
        symptom_day_sd=0.0,
        slot_sd=0.0,
        rating_sd=0.0,
        drift_sd=0.0,
        drift_walk_sd=0.0,
        weekend=0.0,
        flare_rate=0.0,
        illness_rate=0.0,
        stress_rate=0.0,
        travel_rate=0.0,
        menstruating_share=0.0,
        drinking_share=0.0,
        expectation_mean=0.0,
        expectation_sd=0.0,
        expectation_group_sd=0.0,
        occasion_sd_log=0.0,
        missed_dose=0.0,
        mistaken_dose=0.0,
        off_plan_rate=0.0,
        stop_chance=0.0,
        washout_days=5,
        long_washout_days=5,
        recall_hours=0.0,
        slot_jitter_hours=0.0,
        slots=tuple(np.arange(0.0, 24.0, 0.5)),
        slot_pattern=(0.0,) * 48,
    )
    seen = 0
    for client in practice(still, n=12):
        first = {d.fodmap_group: k for k, d in enumerate(client.plan) if d.step == 1}
        for told in client.truth:
            if told.rises[0] < 0.2:
                continue
            place = first[told.fodmap_group]
            dose = next(e for e in client.lived.eaten if e.group == told.fodmap_group)
            quiet = client.lived.felt[0, 0]
            top = int(np.argmax(client.person.weights[0]))
            extra = (client.lived.felt - quiet).reshape(-1, 5)[:, top]
            hours = client.lived.hours.ravel()
            before_next = (hours >= dose.hour) & (hours < dose.hour + 23.0)
            # the whole 24 hours are not to be had before the next dose; all groups but the slow
            # ones have done most of their work by then
            mean = extra[before_next].mean()
            left_over = extra[hours < place * 24.0 + 8.0]
            assert mean <= told.rises[0] * 24.0 / 23.0 + left_over[-1] + 0.05
            assert mean >= told.rises[0] * 0.6
            seen += 1
    assert seen > 5


def test_stopping_means_that_later_doses_were_not_eaten(usual):
    found = 0
    for client in usual:
        for day, group in client.lived.stops:
            date = client.plan.days[day].date
            later = [
                e
                for e in client.lived.eaten
                if e.planned and e.group == group and e.hour >= 24.0 * (day + 1)
            ]
            assert not later, (client.code, group, date)
            found += 1
    assert found > 50


@pytest.mark.parametrize("name", sorted(WORLDS))
def test_every_world_makes_clients(name):
    clients = practice(WORLDS[name], n=3)
    assert all(len(client.diary.symptoms) > 100 for client in clients)


def test_worlds_do_what_their_names_say():
    none = practice(WORLDS["nobody-reacts"], n=30)
    assert all(told.tolerated_step == 3 for c in none for told in c.truth)
    huge = practice(WORLDS["huge"], n=30)
    assert all(told.tolerated_step < 3 and told.rises[-1] > 4 for c in huge for told in c.truth)
    gaps = practice(WORLDS["gaps"], n=30)
    kept = np.mean([(c.diary.symptoms["symptom"] != "stool_form").sum() / 675 for c in gaps])
    assert 0.63 < kept < 0.75


def test_control_never_acts_and_is_planned_like_the_others():
    client = simulate_client(replace(USUAL, control=True), 3, 0)
    assert "glucose" in client.plan.groups()
    told = next(t for t in client.truth if t.fodmap_group == "glucose")
    assert told.rises == (0.0, 0.0, 0.0)
    assert isinstance(World().reacting_share["glucose"], float)
