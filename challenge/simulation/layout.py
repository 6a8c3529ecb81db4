"""The protocol of an invented client laid on dates."""

from __future__ import annotations

import datetime as dt

import numpy as np

from challenge.protocol.plan import Plan, PlanDay
from challenge.simulation.world import World
from challenge.terms import FodmapGroup


def lay_plan(world: World, start: dt.date, rng: np.random.Generator) -> Plan:
    """Return baseline, then every group's rising doses and washout, cycle after cycle."""
    days: list[PlanDay] = []

    def today() -> dt.date:
        return start + dt.timedelta(days=len(days))

    for _ in range(world.baseline_days):
        days.append(PlanDay(date=today(), phase="baseline"))
    for cycle in range(1, world.cycles + 1):
        for group in _order(world, rng):
            doses = world.doses[group]
            for step, (portion, grams) in enumerate(
                zip(doses.portions, doses.grams, strict=True), start=1
            ):
                days.append(
                    PlanDay(
                        date=today(),
                        phase="challenge",
                        cycle=cycle,
                        fodmap_group=group,
                        step=step,
                        food=doses.food,
                        portion_g=portion,
                        fodmap_g=grams,
                    )
                )
            late = group in world.long_washout_groups
            for _ in range(world.long_washout_days if late else world.washout_days):
                days.append(PlanDay(date=today(), phase="washout", fodmap_group=group))
    return Plan(tuple(days))


def _order(world: World, rng: np.random.Generator) -> list[FodmapGroup]:
    groups = list(world.protocol_groups())
    if world.order == "shuffled":
        return [groups[place] for place in rng.permutation(len(groups))]
    return groups
