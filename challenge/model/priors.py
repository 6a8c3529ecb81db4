"""Prior beliefs of the model, read from ``data/priors.toml`` where each has its source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from challenge.model.time_course import TimeCourse
from challenge.terms import GROUPS_AND_CONTROL

Floats = NDArray[np.float64]

N_SIZES = 15
_SIZE_RANGE = (0.08, 9.0)


@dataclass(frozen=True, kw_only=True)
class GroupPrior:
    """Beliefs about reactions of one group under one set of priors.

    Attributes
    ----------
    reaction
        Probability of a reaction that can be noticed, at the largest planned dose.
    mild
        Probability of a mild rise at that dose where there is no such reaction.
    reaction_sizes, mild_sizes
        (N_SIZES,) weights of the sizes of either; they sum to 1.
    course_weights
        (c,) weights of the time courses; they sum to 1.
    """

    reaction: float
    mild: float
    reaction_sizes: Floats
    mild_sizes: Floats
    course_weights: Floats

    @property
    def any_rise(self) -> float:
        """Probability of any rise, however mild."""
        return self.reaction + (1.0 - self.reaction) * self.mild

    @property
    def size_weights(self) -> Floats:
        """(N_SIZES,) weights of the sizes, given any rise; they sum to 1."""
        weights: Floats = (
            self.reaction * self.reaction_sizes
            + (1.0 - self.reaction) * self.mild * self.mild_sizes
        )
        return weights / self.any_rise


@dataclass(frozen=True, kw_only=True)
class Priors:
    """Everything believed before the diary is read.

    ``groups`` holds the published set, ``vague`` the other; the rest is common to both.
    """

    sizes: Floats
    courses: tuple[TimeCourse, ...]
    groups: Mapping[str, GroupPrior]
    vague: Mapping[str, GroupPrior]
    together: float
    symptom_sd: float
    occasion_log_sd: float
    expectation_mean: float
    expectation_sd: float
    flare_per_day: float
    flare_sd: float
    flare_lengths: tuple[int, ...]
    drift_sd: float
    dispersion: float


@lru_cache(maxsize=1)
def load_priors() -> Priors:
    """Read the priors that ship with the package."""
    text = files("challenge.model").joinpath("data/priors.toml").read_text("utf-8")
    return build_priors(tomllib.loads(text))


def build_priors(table: Mapping[str, Any]) -> Priors:
    """Turn the two sets of a priors file into grids and weights."""
    published = table["published"]
    course = published["time_course"]
    courses = tuple(
        TimeCourse(latency, course["rise_h"], decay)
        for latency in course["latency_h"]
        for decay in course["decay_h"]
    )
    sizes = np.geomspace(*_SIZE_RANGE, N_SIZES)
    return Priors(
        sizes=sizes,
        courses=courses,
        groups={g: _group_prior(published, g, sizes) for g in GROUPS_AND_CONTROL},
        vague={g: _group_prior(table["vague"], g, sizes) for g in GROUPS_AND_CONTROL},
        together=published["together"]["correlation"],
        symptom_sd=published["symptoms"]["sd"],
        occasion_log_sd=published["occasion"]["log_sd"],
        expectation_mean=published["expectation"]["mean_points"],
        expectation_sd=published["expectation"]["sd_points"],
        flare_per_day=published["flare"]["per_day"],
        flare_sd=published["flare"]["sd_points"],
        flare_lengths=tuple(published["flare"]["lengths_days"]),
        drift_sd=published["drift"]["sd_points"],
        dispersion=published["dispersion"]["factor"],
    )


def _group_prior(table: Mapping[str, Any], group: str, sizes: Floats) -> GroupPrior:
    latency = np.array(table["time_course"][group])
    decay = np.array(table["time_course"]["decay_weight"])
    weights = np.outer(latency, decay).ravel()
    return GroupPrior(
        reaction=table["reaction"][group],
        mild=table["mild"]["share"],
        reaction_sizes=_log_normal(sizes, table["size"]),
        mild_sizes=_log_normal(sizes, table["mild"]),
        course_weights=weights / weights.sum(),
    )


def _log_normal(sizes: Floats, table: Mapping[str, Any]) -> Floats:
    """Weights of a log-normal on the grid, which is even on the log scale."""
    z = (np.log(sizes) - np.log(table["median_points"])) / table["log_sd"]
    weights = np.exp(-0.5 * z**2)
    normal: Floats = weights / weights.sum()
    return normal
