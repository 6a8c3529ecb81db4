"""One invented client at a time, the same for the same world, seed and number."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from challenge.diary.model import Diary
from challenge.protocol.plan import Plan
from challenge.simulation.conduct import Lived, live_through
from challenge.simulation.days import Background, draw_background
from challenge.simulation.layout import lay_plan
from challenge.simulation.person import GroupTruth, Person, draw_person
from challenge.simulation.record import write_down
from challenge.simulation.world import World

Persona = Callable[[Person, np.random.Generator], Person]

TRUTH_COLUMNS = ("client", "fodmap_group", "tolerated_step")


@dataclass(frozen=True, kw_only=True)
class SimulatedClient:
    """An invented client.

    Attributes
    ----------
    code
        Client code, ``invented-`` and a number.
    diary, plan
        What an analysis sees.
    truth
        What it does not see, per group challenged.
    person, lived
        Everything behind it: character and what happened.
    """

    code: str
    diary: Diary
    plan: Plan
    truth: tuple[GroupTruth, ...]
    person: Person = field(repr=False)
    lived: Lived = field(repr=False)

    def truth_rows(self) -> list[dict[str, object]]:
        """Return rows of ``truth.csv``."""
        return [
            {
                "client": self.code,
                "fodmap_group": told.fodmap_group,
                "tolerated_step": told.tolerated_step,
                **{f"rise_{step}": rise for step, rise in enumerate(told.rises, start=1)},
            }
            for told in self.truth
        ]


def client_code(index: int) -> str:
    """Return the code of the client of that number, from 0."""
    return f"invented-{index + 1:05d}"


def simulate_client(
    world: World,
    seed: int,
    index: int,
    *,
    code: str | None = None,
    plan: Plan | None = None,
    persona: Persona | None = None,
    change: Callable[[Plan, Background], tuple[Plan, Background]] | None = None,
) -> SimulatedClient:
    """Make one invented client in memory.

    Parameters
    ----------
    world
        Settings.
    seed
        Seed of the whole practice.
    index
        Number of the client, from 0. The same world, seed and index give the same client,
        whoever is made before or beside it.
    code
        Client code; from the number by default.
    plan
        The plan to be followed, with the groups and doses of ``world``; laid by the world's own
        protocol by default.
    persona
        Gives the drawn client a character of its own: gets the client and a source of randomness.
    change
        Tells a particular story: gets the plan and the days without challenges and returns what
        is to be lived instead, with as many days or fewer.
    """
    code = client_code(index) if code is None else code
    # one stream per subject: a change of, say, the gaps leaves body and days as they were
    who, when, background_rng, conduct_rng, record_rng, persona_rng = (
        np.random.Generator(np.random.PCG64(source))
        for source in np.random.SeedSequence([seed, index]).spawn(6)
    )
    person = draw_person(world, who)
    if persona is not None:
        person = persona(person, persona_rng)
    start = world.start + dt.timedelta(days=int(when.integers(0, world.start_spread_days + 1)))
    if plan is None:
        plan = lay_plan(world, start, when)
    start = plan.days[0].date
    background = draw_background(world, person, len(plan), start.weekday(), background_rng)
    if change is not None:
        plan, background = change(plan, background)
    lived = live_through(world, person, plan, background, conduct_rng)
    diary = write_down(world, person, lived, background, start, code, record_rng)
    return SimulatedClient(
        code=code,
        diary=diary,
        plan=plan,
        truth=person.truth(world),
        person=person,
        lived=lived,
    )


def simulate_clients(world: World, seed: int, n_clients: int) -> Iterator[SimulatedClient]:
    """Make clients one after the other, none kept."""
    for index in range(n_clients):
        yield simulate_client(world, seed, index)
