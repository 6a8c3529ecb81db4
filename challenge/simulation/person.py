"""The invented client: level, pattern, reactions, habits. Fixed before the first day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from challenge.simulation.response import Course, Curve, draw_curve, make_course, tolerated_step
from challenge.simulation.world import World

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class GroupTruth:
    """What is true of one client and group, without noise and without expectation.

    Attributes
    ----------
    fodmap_group
        The group.
    tolerated_step
        Highest step before the first whose rise reaches the margin; 0 for none.
    rises
        Of each planned step: mean rise of the most affected symptom over the 24 hours in which the
        dose acts [points].
    """

    fodmap_group: str
    tolerated_step: int
    rises: tuple[float, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """One client's character.

    Attributes
    ----------
    level
        Usual points per symptom.
    slot_pattern
        Points added per slot.
    weights
        Groups x symptoms: share of the rise each symptom shows; 1 for the most affected.
    curves, courses
        Dose against rise and rise against hours, per group.
    expectation
        Points added on open challenge days, per group.
    noise
        Factor on all noise.
    menstruates, drinks
        Whether these disturbances occur.
    stool_type
        Usual Bristol type of the client's stools.
    """

    level: Floats
    slot_pattern: Floats
    weights: Floats
    curves: dict[str, Curve]
    courses: dict[str, Course]
    expectation: dict[str, float]
    noise: float
    menstruates: bool
    drinks: bool
    stool_type: float

    def truth(self, world: World) -> tuple[GroupTruth, ...]:
        """Return the truth per group challenged."""
        told = []
        for group in world.protocol_groups():
            rises = tuple(self.curves[group].rise(grams) for grams in world.doses[group].grams)
            step = tolerated_step(rises, world.margin)
            told.append(GroupTruth(fodmap_group=group, tolerated_step=step, rises=rises))
        return tuple(told)


@lru_cache(maxsize=64)
def _cuts(shares: tuple[float, ...]) -> Floats:
    return np.asarray(-ndtri(np.clip(np.asarray(shares, dtype=float), 1e-12, 1 - 1e-12)))


def draw_person(world: World, rng: np.random.Generator) -> Person:
    """Draw one client's character."""
    groups = world.protocol_groups()
    n_symptoms = len(world.symptoms)
    usual = world.baseline_mean * np.exp(world.baseline_sd_log * rng.standard_normal())
    pattern = np.exp(world.symptom_sd_log * rng.standard_normal(n_symptoms))
    shape = np.array([world.symptom_level.get(name, 1.0) for name in world.symptoms])
    reacts = _who_reacts(world, groups, rng)
    expectation = rng.normal(world.expectation_mean, world.expectation_sd)
    by_group = rng.normal(0.0, world.expectation_group_sd, len(groups))
    return Person(
        level=_settled(world, usual * pattern * shape),
        slot_pattern=np.asarray(world.slot_pattern) * np.exp(0.4 * rng.standard_normal()),
        weights=_draw_weights(world, len(groups), rng),
        courses={group: _draw_course(world, group, rng) for group in groups},
        curves={
            group: draw_curve(world, group, bool(yes), rng)
            for group, yes in zip(groups, reacts, strict=True)
        },
        expectation={
            group: max(float(expectation + extra), 0.0)
            for group, extra in zip(groups, by_group, strict=True)
        },
        noise=float(np.exp(world.noise_sd_log * rng.standard_normal())),
        menstruates=bool(rng.random() < world.menstruating_share),
        drinks=bool(rng.random() < world.drinking_share),
        stool_type=float(np.clip(rng.normal(4.2, 1.1), 1.5, 6.5)),
    )


def _settled(world: World, level: Floats) -> Floats:
    """Scale a level down to what a client may have who starts a challenge."""
    allowed = min(1.0, world.baseline_most / float(level.mean()))
    return np.asarray(np.minimum(level * allowed, world.symptom_most))


def _who_reacts(world: World, groups: tuple[str, ...], rng: np.random.Generator) -> Floats:
    """Correlated yes or no per group with exactly the shares of the world (Gaussian copula)."""
    shared = rng.standard_normal()
    own = rng.standard_normal(len(groups))
    r = world.reacting_correlation
    lean = np.sqrt(r) * shared + np.sqrt(1.0 - r) * own
    return np.asarray(lean > _cuts(tuple(world.reacting_share[group] for group in groups)))


def _draw_weights(world: World, n_groups: int, rng: np.random.Generator) -> Floats:
    rows = n_groups if world.weights_by_group else 1
    weights = rng.uniform(world.weight_low, 1.0, (rows, len(world.symptoms)))
    weights /= weights.max(axis=1, keepdims=True)
    return np.asarray(np.broadcast_to(weights, (n_groups, len(world.symptoms))))


def _draw_course(world: World, group: str, rng: np.random.Generator) -> Course:
    middle = world.time_courses[group]
    latency, rise, decay = np.exp(world.time_course_sd_log * rng.standard_normal(3))
    return make_course(
        world.kernel, middle.latency * latency, middle.rise * rise, middle.decay * decay
    )
