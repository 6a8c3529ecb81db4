"""Will this plan be able to tell? Invented clients on the plan itself, with their analysis.

Half of the challenges of the invented clients have no effect at any dose; the others rise by a
stated number of points from one of the steps on. Everything else (noise, expectation, stops, gaps,
slips) is that of the usual world (``challenge.simulation.world``); level and noise are the
client's own where the baseline was scored. The washout is as long as planned, whatever happens.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.attainable import Attainable, smallest_pvalues
from challenge.errors import ChallengeError
from challenge.practice.audit import audit_client
from challenge.practice.experiment import experiment
from challenge.practice.operating import Estimate, operating
from challenge.practice.records import Record
from challenge.practice.truth import Calls
from challenge.protocol.plan import Plan
from challenge.simulation.clients import SimulatedClient, simulate_client
from challenge.simulation.likeness import Likeness
from challenge.simulation.person import Person
from challenge.simulation.response import Curve
from challenge.simulation.world import Doses, World
from challenge.terms import CONTROL, GROUPS

if TYPE_CHECKING:
    from challenge.protocol.settings import Settings

RISES: Final = (1.0, 2.0, 3.0)
"""Rises tried, besides none [points]: mean of the most affected symptom over 24 h."""
_USUAL_HOURS: Final = {1: (20.0,), 2: (8.0, 20.0), 3: (8.0, 13.0, 20.0)}


@dataclass(frozen=True, kw_only=True)
class Design:
    """A plan and how often the client scores: what decides what can be told.

    Attributes
    ----------
    name
        In the words of a table.
    plan
        Every day.
    ratings, challenge_ratings
        Ratings on an ordinary day, and on a challenge day.
    """

    name: str
    plan: Plan
    ratings: int
    challenge_ratings: int


@dataclass(frozen=True, kw_only=True)
class Chances:
    """Chance of each answer for one true reaction, or for all of them together.

    Attributes
    ----------
    rise, from_step
        True rise [points] and the first step that has it; both 0 where no dose has any effect,
        both None for all together.
    n_groups
        Invented challenges behind it.
    right, too_high, too_low, unclear
        Shares with their Monte-Carlo standard errors; they sum to 1.
    """

    rise: float | None
    from_step: int | None
    n_groups: int
    right: Estimate
    too_high: Estimate
    too_low: Estimate
    unclear: Estimate


@dataclass(frozen=True, kw_only=True)
class Power:
    """What a design can tell.

    Attributes
    ----------
    design
        The design.
    n_clients
        Invented clients.
    smallest
        Smallest p-values per group.
    overall
        Half of the challenges without effect, half with the reactions of ``by_truth`` evenly.
    by_truth
        One per true reaction, no effect first.
    """

    design: Design
    n_clients: int
    smallest: tuple[Attainable, ...]
    overall: Chances
    by_truth: tuple[Chances, ...]


@dataclass(frozen=True, kw_only=True)
class OnThePlan:
    """Makes the invented clients of a design; hands itself on to other processes."""

    design: Design
    likeness: Likeness | None

    def __call__(self, world: World, seed: int, index: int) -> SimulatedClient:
        """Make one client."""
        persona = partial(self._persona, world)
        client = simulate_client(world, seed, index, plan=self.design.plan, persona=persona)
        if self.design.ratings >= self.design.challenge_ratings:
            return client
        return _with_fewer_ratings(client, world, self.design)

    def _persona(self, world: World, person: Person, rng: np.random.Generator) -> Person:
        if self.likeness is not None:
            person = self.likeness.lend(person, rng)
        groups = list(world.groups)
        reacting = {groups[i] for i in rng.permutation(len(groups))[: _half(len(groups), rng)]}
        curves = dict(person.curves)
        for group in groups:
            grams = world.doses[group].grams
            rise = float(rng.choice(RISES)) if group in reacting else 0.0
            first = grams[int(rng.integers(len(grams)))]
            curves[group] = Curve("jump", rise, first, 1.0)
        return replace(person, curves=curves)


def _half(n: int, rng: np.random.Generator) -> int:
    return n // 2 + (n % 2 and int(rng.integers(2)))


def power_of(
    design: Design,
    settings: Settings,
    n_clients: int,
    likeness: Likeness | None = None,
    jobs: int = 1,
) -> Power:
    """Return what a design can tell.

    Parameters
    ----------
    design
        Plan and ratings.
    settings
        The client's; symptoms, margin and seed count.
    n_clients
        Invented clients.
    likeness
        Level and noise of the client; those of the usual world by default.
    jobs
        Processes. Any number gives the same result.

    Raises
    ------
    ChallengeError
        If a dose of the plan has no grams, or no group but the control is challenged.
    """
    world = world_of(design, settings)
    calls = experiment(
        world,
        settings.analysis.seed,
        n_clients,
        jobs,
        rule=partial(_analysed, settings),
        make=OnThePlan(design=design, likeness=likeness),
    )
    calls = calls.where(calls.group != CONTROL)
    return Power(
        design=design,
        n_clients=n_clients,
        smallest=smallest_pvalues(design.plan),
        overall=_chances(calls, None, None),
        by_truth=_by_truth(calls),
    )


def world_of(design: Design, settings: Settings) -> World:
    """Return the usual world with the plan's groups and doses and the client's ratings."""
    plan = design.plan
    groups = tuple(group for group in plan.groups() if group in GROUPS)
    if not groups:
        raise ChallengeError("The plan challenges no group, so there is nothing to tell.")
    hours = rating_hours(max(design.ratings, design.challenge_ratings))
    usual = World()
    return replace(
        usual,
        groups=groups,
        control=CONTROL in plan.groups(),
        doses={**usual.doses, **{group: _doses(plan, group) for group in plan.groups()}},
        baseline_days=max(sum(day.phase == "baseline" for day in plan), 1),
        symptoms=settings.diary.symptoms,
        slots=hours,
        slot_pattern=tuple(float(v) for v in np.interp(hours, usual.slots, usual.slot_pattern)),
        margin=settings.analysis.margin,
        # neither enters the analysis, and drawing them takes time
        meals_logged=0,
        stools_per_day=0.0,
    )


def rating_hours(n: int) -> tuple[float, ...]:
    """Return when a client who scores so often a day does it [h]."""
    if n in _USUAL_HOURS:
        return _USUAL_HOURS[n]
    return tuple(float(hour) for hour in np.linspace(8.0, 20.0, n))


def _doses(plan: Plan, group: str) -> Doses:
    steps: dict[int, tuple[str, float, float]] = {}
    for day in plan:
        if day.fodmap_group == group and day.step:
            if not day.fodmap_g:
                raise ChallengeError(
                    f"The plan gives no grams for step {day.step} of {group} on {day.date}; "
                    "without them nothing can be told in advance."
                )
            steps[day.step] = (day.food, day.portion_g or day.fodmap_g, day.fodmap_g)
    foods, portions, grams = zip(*(steps[step] for step in sorted(steps)), strict=True)
    return Doses(food=foods[0], portions=portions, grams=grams)


def _analysed(settings: Settings, client: SimulatedClient, margin: float) -> Record:
    return audit_client(client.code, client.diary, client.plan, settings)


def _with_fewer_ratings(client: SimulatedClient, world: World, design: Design) -> SimulatedClient:
    """Leave out, on ordinary days, the ratings that are asked on challenge days only."""
    hours = np.asarray(world.slots)
    every_day = {int(abs(hours - hour).argmin()) for hour in rating_hours(design.ratings)}
    challenge = np.array([day.phase == "challenge" for day in design.plan])
    first = np.datetime64(design.plan.days[0].date)
    since = (client.diary.symptoms["time"].to_numpy() - first) / np.timedelta64(1, "h")
    day = np.clip((since // 24).astype(int), 0, len(challenge) - 1)
    slot = abs((since - 24 * day)[:, None] - hours).argmin(axis=1)
    keep = challenge[day] | np.isin(slot, list(every_day))
    kept = client.diary.symptoms[keep].reset_index(drop=True)
    return replace(client, diary=replace(client.diary, symptoms=kept))


def _by_truth(calls: Calls) -> tuple[Chances, ...]:
    """Chances per true reaction; only those that were drawn."""
    acts = np.nan_to_num(calls.true_rise) > 0
    rise = np.nanmax(calls.true_rise, axis=1)
    first = np.where(acts.any(axis=1), acts.argmax(axis=1) + 1, 0)
    found = sorted({(float(r), int(s)) for r, s in zip(rise, first, strict=True)})
    return tuple(_chances(calls, r, s, (rise == r) & (first == s)) for r, s in found)


def _chances(
    calls: Calls, rise: float | None, first: int | None, mine: NDArray[np.bool_] | None = None
) -> Chances:
    found = operating(calls if mine is None else calls.where(mine))
    return Chances(
        rise=rise,
        from_step=first,
        n_groups=found.n_groups,
        right=found.exact,
        too_high=found.too_high,
        too_low=found.too_low,
        unclear=found.unclear,
    )


def as_json(power: Power) -> Mapping[str, object]:
    """Return plain values."""
    return {
        "design": power.design.name,
        "days": len(power.design.plan),
        "ratings_per_day": power.design.ratings,
        "ratings_per_challenge_day": power.design.challenge_ratings,
        "n_clients": power.n_clients,
        "smallest_pvalues": [
            {
                "fodmap_group": best.fodmap_group,
                "n_pairs": best.n_pairs,
                "n_cycles": best.n_cycles,
                "unit": best.unit,
                "pvalue": best.pvalue,
                "pvalue_adjusted": best.pvalue_adjusted,
                "steps": {str(step): pvalue for step, pvalue in best.steps.items()},
            }
            for best in power.smallest
        ],
        "overall": _chances_json(power.overall),
        "by_true_rise": [_chances_json(chances) for chances in power.by_truth],
    }


def _chances_json(chances: Chances) -> Mapping[str, object]:
    row: dict[str, object] = {
        "rise": chances.rise,
        "from_step": chances.from_step,
        "n_groups": chances.n_groups,
    }
    for name in ("right", "too_high", "too_low", "unclear"):
        estimate: Estimate = getattr(chances, name)
        row[name] = estimate.value
        row[f"{name}_se"] = estimate.error
    return row
