import numpy as np
import pytest
from sklearn.metrics import brier_score_loss, cohen_kappa_score

from challenge.statistics.agreement import calibration, weighted_kappa


def test_kappa_against_sas():
    # SAS printout stored in statsmodels' tests: weighted kappa, its error and limits.
    result = weighted_kappa([[0, 4, 1], [0, 8, 0], [0, 1, 5]])
    found = (result.kappa, result.se, result.low, result.high)
    assert found == pytest.approx((0.4701, 0.1457, 0.1845, 0.7558), abs=5.1e-5)
    assert result.exact == pytest.approx(13 / 19)


@pytest.mark.parametrize("seed", range(5))
def test_kappa_equals_scikit_learn(seed):
    first, second = np.random.default_rng(seed).integers(0, 4, (2, 40))
    table = np.zeros((4, 4))
    np.add.at(table, (first, second), 1)
    expected = cohen_kappa_score(first, second, labels=range(4), weights="linear")
    assert weighted_kappa(table).kappa == pytest.approx(expected)


def test_kappa_at_its_ends():
    perfect = weighted_kappa(np.diag([3, 4, 5]))
    assert (perfect.kappa, perfect.se, perfect.high) == (pytest.approx(1), pytest.approx(0), 1)
    assert weighted_kappa([[5, 0], [0, 0]]).reason == "only one step was ever used"
    assert weighted_kappa([[0, 0], [0, 0]]).reason == "no cases"


def test_calibration_by_hand():
    # Two bins: 0.2 twice, none came true; 0.8 twice, one did.
    result = calibration([0.2, 0.2, 0.8, 0.8], [0, 0, 1, 0], n_bins=2)
    assert [(b.n, b.stated, b.happened) for b in result.bins] == [(2, 0.2, 0.0), (2, 0.8, 0.5)]
    assert result.error == pytest.approx(0.5 * 0.2 + 0.5 * 0.3)
    assert result.brier == pytest.approx((0.04 + 0.04 + 0.04 + 0.64) / 4)
    assert result.bins[1].low < 0.5 < result.bins[1].high


def test_error_of_true_chances_is_what_chance_gives():
    rng = np.random.default_rng(8)
    errors, expected = [], []
    for _ in range(200):
        stated = rng.random(400)
        happened = rng.random(400) < stated
        result = calibration(stated, happened)
        errors.append(result.error)
        expected.append(result.error_by_chance)
        assert result.brier == pytest.approx(brier_score_loss(happened, stated))
    assert np.mean(errors) == pytest.approx(np.mean(expected), rel=0.06)


def test_edges_belong_to_a_bin():
    result = calibration([0.0, 0.1, 0.3, 1.0], [0, 0, 0, 1])
    assert [(b.lower, b.n) for b in result.bins] == [(0.0, 1), (0.1, 1), (0.3, 1), (0.9, 1)]
    assert calibration([], []).reason == "no cases"
    with pytest.raises(ValueError, match="between 0 and 1"):
        calibration([1.1], [1])
