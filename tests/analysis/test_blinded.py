"""Blinded challenges in the analysis: values by letter, the test by the draw, what was fixed."""

import datetime as dt
import itertools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from challenge.analysis.analyse import analyse
from challenge.analysis.blinded import (
    OpenedTrial,
    blinded_result,
    frozen_document,
    period_values,
)
from challenge.analysis.tests import randomised_tests, with_randomised
from challenge.diary.sachets import SachetContent, fill_sachets
from challenge.errors import ChallengeError
from challenge.protocol.blinding import Trial, draw_key, open_plan, trial_courses
from challenge.protocol.plan import Plan
from challenge.protocol.schedule import lay, washed_out
from challenge.protocol.settings import Settings
from challenge.statistics.paired_t import paired_t
from challenge.statistics.two_sample import pooled_t
from challenge.wording import statement

from .making import make_diary, make_plan

SETTINGS = Settings()
OPEN = make_plan()
TRIAL = Trial(
    number=1,
    fodmap_group="lactose",
    control="glucose",
    letters=tuple("ABCDEFGH"),
    block=2,
    steps=(1, 2, 3),
    portions=(2.0, 4.0, 8.0),
    sachets_per_step=1,
    grams=(2.0, 4.0, 8.0),
    control_grams=(2.0, 4.0, 8.0),
    powders=("pure lactose", "pure glucose"),
    drawn_on=OPEN.days[0].date,
)
KEY = draw_key(TRIAL, "fern", "aa", "bb")
FIRST = OPEN.days[-1].date + dt.timedelta(days=1)
PERIODS = washed_out(trial_courses(TRIAL, SETTINGS.protocol), SETTINGS.protocol)
PLAN = Plan((*OPEN, *lay(PERIODS, FIRST, (), "lactose")))
CONTENTS = {
    s.name: SachetContent(
        group="lactose" if s.letter in KEY.holding else "glucose",
        grams=TRIAL.grams[s.step - 1],
        portion_g=TRIAL.portions[s.step - 1],
    )
    for s in TRIAL.sachets()
}


def diary_of(effect, plan=PLAN, seed=3):
    """An invented diary in which the group, and nothing else, adds to pain."""
    rng = np.random.default_rng(seed)

    def score(number, hour, symptom):
        # a sachet taken at 08:00 acts until the next morning's score
        day = plan.days[max(number - (hour == 8), 0)]
        up = effect if symptom == "pain" and day.sealed and day.food[7] in KEY.holding else 0
        return float(np.clip(round(2 + up + rng.normal(0, 0.8)), 0, 10))

    diary = make_diary(plan, score)
    times = [pd.Timestamp(d.date) + pd.Timedelta(hours=8) for d in plan if d.sealed]
    rows = pd.DataFrame(
        {
            "time": times,
            "food": [d.food for d in plan if d.sealed],
            "portion_g": [d.portion_g for d in plan if d.sealed],
            "fodmap_group": "",
            "fodmap_g": np.nan,
            "note": "",
            "entered_at": pd.NaT,
            "filled_in": False,
        }
    )
    open_doses = diary.foods[~diary.foods["food"].str.startswith("sachet")]
    foods = pd.concat([open_doses, rows], ignore_index=True)
    return replace(diary, foods=foods.astype({"fodmap_group": object}))


def opened(diary, settings=SETTINGS, plan=PLAN):
    """Diary, plan and trial after the opening, the analysis fixed on the sealed diary."""
    values = period_values(diary, plan, settings, TRIAL.letters)
    frozen = {"frozen_at": "2026-06-01T09:00", **frozen_document(values, TRIAL, settings)}
    foods, notes = fill_sachets(diary.foods, CONTENTS)
    assert [note.code for note in notes] == ["sachets-opened"]
    trial = OpenedTrial(
        trial=TRIAL, key=KEY, opened_on=dt.datetime(2026, 6, 2, 9), frozen=frozen, intact=True
    )
    known = open_plan(plan, TRIAL, KEY, plan.days[-1].date)
    return replace(diary, foods=foods), known, trial


def test_values_are_the_same_before_and_after_the_opening():
    diary = diary_of(2.0)
    known, plan, trial = opened(diary)
    before = period_values(diary, PLAN, SETTINGS, TRIAL.letters)
    after = period_values(known, plan, SETTINGS, TRIAL.letters)
    assert np.array_equal(before.values, after.values, equal_nan=True)
    assert before.days == after.days and before.primary == after.primary
    assert blinded_result(known, plan, SETTINGS, trial).as_fixed


def test_values_do_not_know_what_was_in_a_sachet():
    diary = diary_of(2.0)
    foods, _ = fill_sachets(diary.foods, CONTENTS)
    swapped = {
        name: c._replace(group="glucose" if c.group == "lactose" else "lactose")
        for name, c in CONTENTS.items()
    }
    other, _ = fill_sachets(diary.foods, swapped)
    one, two = (
        period_values(replace(diary, foods=f), PLAN, SETTINGS, TRIAL.letters)
        for f in (foods, other)
    )
    assert np.array_equal(one.values, two.values, equal_nan=True)


def test_a_clear_effect_reaches_the_smallest_p_and_no_effect_does_not():
    known, plan, trial = opened(diary_of(4.0))
    result = blinded_result(known, plan, SETTINGS, trial)
    assert result.test.symptom == "pain"
    assert result.test.pvalue == result.test.min_pvalue == 2 / 16
    assert result.test.difference == pytest.approx(4.0, abs=0.8)
    assert result.test.low > 0
    known, plan, trial = opened(diary_of(0.0))
    assert blinded_result(known, plan, SETTINGS, trial).test.pvalue > 2 / 16


def test_it_stands_in_the_groups_tests_and_reasons():
    known, plan, trial = opened(diary_of(3.0))
    analysis = analyse(known, plan, SETTINGS, [trial])
    lactose, glucose = analysis.group("lactose"), analysis.group("glucose")
    overall = [t for t in lactose.tests if t.step is None]
    assert {t.method for t in overall} == {statement("method-randomisation", orders=16)}
    assert "method-randomisation" not in {t.method.code for t in glucose.tests}
    assert "blinded-test" in [reason.code for reason in lactose.reasons]
    assert analysis.blinded[0].as_fixed
    assert analysis.to_json()["blinded"][0]["holding"] == list(KEY.holding)
    paired = analyse(known, plan, SETTINGS)
    assert "method-randomisation" not in {t.method.code for t in paired.group("lactose").tests}


def test_settings_or_scores_that_differ_from_what_was_fixed_are_noticed():
    known, plan, trial = opened(diary_of(3.0))
    other = Settings.model_validate({"analysis": {"margin": 0.5}})
    assert not blinded_result(known, plan, other, trial).as_fixed
    scores = known.symptoms.copy()
    row = scores.index[scores["time"] == pd.Timestamp(FIRST) + pd.Timedelta(hours=13)][0]
    scores.loc[row, "score"] += 3
    changed = replace(known, symptoms=scores)
    assert not blinded_result(changed, plan, SETTINGS, trial).as_fixed
    assert not blinded_result(known, plan, SETTINGS, replace(trial, intact=False)).as_fixed
    analysis = analyse(changed, plan, SETTINGS, [trial])
    assert "blinded-test-changed" in [r.code for r in analysis.group("lactose").reasons]


def test_entries_after_the_last_sachet_change_nothing():
    diary = diary_of(2.0)
    last = max(d.date for d in PLAN if d.sealed)
    kept = diary.symptoms[diary.symptoms["time"].dt.date <= last + dt.timedelta(days=1)]
    assert len(kept) < len(diary.symptoms)
    long, short = (
        frozen_document(period_values(d, PLAN, SETTINGS, TRIAL.letters), TRIAL, SETTINGS)
        for d in (diary, replace(diary, symptoms=kept))
    )
    assert long == short


def test_without_sachets_nothing_is_compared():
    with pytest.raises(ChallengeError, match="No sachet"):
        period_values(make_diary(OPEN, lambda *_: 2.0), OPEN, SETTINGS, TRIAL.letters)


# -- the test by the draw ------------------------------------------------------------------------


def by_hand(values, treated, block):
    """All orders one by one, with the periods that have a value."""
    halves = list(itertools.combinations(range(block), block // 2))
    n = len(values)
    seen = [i for i in range(n) if np.isfinite(values[i])]
    contrasts = []
    for chosen in itertools.product(halves, repeat=n // block):
        order = [p in half for half in chosen for p in range(block)]
        group = [values[i] for i in seen if order[i]]
        others = [values[i] for i in seen if not order[i]]
        contrasts.append(np.mean(group) - np.mean(others))
    group = [values[i] for i in seen if treated[i]]
    observed = np.mean(group) - np.mean([values[i] for i in seen if not treated[i]])
    far = [abs(c) >= abs(observed) - 1e-9 for c in contrasts]
    return observed, float(np.mean(far))


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("block", [2, 4, 8])
def test_equals_a_count_of_all_orders_with_a_period_missing(seed, block):
    rng = np.random.default_rng(seed)
    values = rng.integers(0, 9, 8) / 2
    if seed % 2:
        values[rng.integers(8)] = np.nan
    treated = np.concatenate(
        [rng.permutation([True] * (block // 2) + [False] * (block // 2)) for _ in range(8 // block)]
    )
    (test,) = randomised_tests(values[:, None], treated, block, ("pain",), 0.9)
    difference, p = by_hand(values, treated, block)
    assert test.difference == pytest.approx(difference)
    assert test.statistic == pytest.approx(difference)
    assert test.pvalue == pytest.approx(p)
    assert test.min_pvalue <= test.pvalue
    assert test.n_missing == int(np.isnan(values).sum())


def test_the_interval_rests_on_blocks():
    values = np.array([1.0, 3.0, 2.0, 6.0, 5.0, 4.0])
    treated = np.array([False, True, False, True, True, False])
    (test,) = randomised_tests(values[:, None], treated, 2, ("pain",), 0.9)
    t = paired_t([2.0, 4.0, 1.0])
    assert (test.low, test.high) == (t.low, t.high)
    (whole,) = randomised_tests(values[:, None], treated, 6, ("pain",), 0.9)
    t = pooled_t(values[~treated], values[treated])
    assert (whole.low, whole.high) == (t.low, t.high)


def test_too_few_periods_give_no_p():
    values = np.array([1.0, np.nan, np.nan, np.nan])
    treated = np.array([True, False, True, False])
    (test,) = randomised_tests(values[:, None], treated, 2, ("pain",), 0.9)
    assert test.pvalue is None and test.min_pvalue is None and test.difference is None
    assert (test.challenge_mean, test.baseline_mean) == (1.0, None)


def test_under_no_effect_p_is_valid_over_all_draws():
    # exactly: over the orders that could be drawn, P(p <= a) <= a, whatever the scores
    rng = np.random.default_rng(1)
    values = rng.integers(0, 4, 8).astype(float)
    halves = [(True, False), (False, True)]
    ps = []
    for chosen in itertools.product(halves, repeat=4):
        treated = np.array([t for pair in chosen for t in pair])
        (test,) = randomised_tests(values[:, None], treated, 2, ("pain",), 0.9)
        ps.append(test.pvalue)
    for a in (0.125, 0.25, 0.5):
        assert np.mean(np.array(ps) <= a + 1e-12) <= a + 1e-12


def test_only_tests_of_all_steps_are_replaced():
    known, plan, trial = opened(diary_of(1.0))
    tests = analyse(known, plan, SETTINGS).group("lactose").tests
    drawn = blinded_result(known, plan, SETTINGS, trial).tests
    mixed = with_randomised(tests, drawn)
    assert len(mixed) == len(tests)
    for old, new in zip(tests, mixed, strict=True):
        assert (new is old) == (old.step is not None)
