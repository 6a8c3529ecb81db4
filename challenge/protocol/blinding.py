"""Blinded challenges: a group and the glucose control in an order that was drawn and is sealed.

The order follows from a seed by a rule that depends on no library's version: SHA-256 in counter
mode, numbers that would favour some orders thrown away. Group and control take turns in blocks;
within a block every order that gives each of them half of the periods is equally likely.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import combinations
from math import comb
from typing import Final

from challenge.diary.sachets import LETTERS, Sachet, find_sachet
from challenge.foods import find_food, foods_for
from challenge.problems import Problem, errors_in
from challenge.protocol.doses import Source, choose_sources
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.schedule import Course, sealed_course
from challenge.protocol.screening import screen
from challenge.protocol.settings import DoseSettings, ProtocolSettings, Settings
from challenge.terms import CONTROL, FodmapGroup

MOST_ORDERS: Final = 200_000
"""More possible orders than this are not listed one by one, as the test does."""


MOST_STEPS: Final = 9
"""A sachet's name has one digit for its step."""


@dataclass(frozen=True, kw_only=True)
class Trial:
    """What everybody may know of a blinded challenge.

    Attributes
    ----------
    number
        Place among the client's blinded challenges, from 1.
    fodmap_group, control
        What is compared.
    letters
        One per period, in the order in which they are given.
    block
        Periods in a block; half of each block hold the group.
    steps, portions
        Dose steps of a period and the weight of powder in each one's sachet [g], the same for both
        powders.
    sachets_per_step
        Days on which a step is given, one sachet each.
    grams
        Grams of the group in each step's sachet, when it is the group [g].
    control_grams
        The same of the control.
    powders
        Names of the group's powder and of the control's.
    drawn_on
        Day of the draw.
    commitment
        Digest of the key, by which a changed key is noticed.
    """

    number: int
    fodmap_group: FodmapGroup
    control: FodmapGroup
    letters: tuple[str, ...]
    block: int
    steps: tuple[int, ...]
    portions: tuple[float, ...]
    sachets_per_step: int
    grams: tuple[float, ...]
    control_grams: tuple[float, ...]
    powders: tuple[str, str]
    drawn_on: dt.date
    commitment: str = ""

    @property
    def n_orders(self) -> int:
        """How many orders could have been drawn."""
        return n_orders(len(self.letters), self.block)

    def sachets(self) -> tuple[Sachet, ...]:
        """Return every kind of sachet, in the order in which they are given."""
        return tuple(Sachet(letter, step) for letter in self.letters for step in self.steps)


@dataclass(frozen=True, kw_only=True)
class Key:
    """What a third person keeps: the order, what it was drawn from, and a salt.

    Attributes
    ----------
    client, number, fodmap_group, letters, block
        Which draw it opens.
    design
        Digest of the trial as it was drawn (`design_digest`).
    holding
        Letters of the periods that hold the group.
    seed
        What the order was drawn from, as hexadecimal digits.
    salt
        Random digits that keep the commitment from being found by trying all orders.
    """

    client: str
    number: int
    fodmap_group: str
    letters: tuple[str, ...]
    block: int
    design: str
    holding: tuple[str, ...]
    seed: str
    salt: str


def n_orders(n_periods: int, block: int) -> int:
    """Return how many orders can be drawn."""
    return int(comb(block, block // 2) ** (n_periods // block))


def draw(seed: str, n_periods: int, block: int) -> tuple[bool, ...]:
    """Return an order drawn from a seed: True where a period holds the group.

    Parameters
    ----------
    seed
        Any text; the same seed gives the same order, on any machine.
    n_periods, block
        Periods, a multiple of ``block``, which is even.
    """
    choices = list(combinations(range(block), block // 2))
    numbers = _numbers(seed, len(choices))
    order: list[bool] = []
    for _ in range(n_periods // block):
        chosen = choices[next(numbers)]
        order += [place in chosen for place in range(block)]
    return tuple(order)


def _numbers(seed: str, below: int) -> Iterator[int]:
    """Whole numbers from 0, each as likely as any other."""
    span = 2**64 - 2**64 % below
    counter = 0
    while True:
        digest = hashlib.sha256(f"{seed}/{counter}".encode()).digest()
        number = int.from_bytes(digest[:8], "big")
        counter += 1
        if number < span:
            yield number % below


def draw_key(trial: Trial, client: str, seed: str, salt: str) -> Key:
    """Return the key of a trial, its order drawn from the seed."""
    order = draw(seed, len(trial.letters), trial.block)
    return Key(
        client=client,
        number=trial.number,
        fodmap_group=trial.fodmap_group,
        letters=trial.letters,
        block=trial.block,
        design=design_digest(trial),
        holding=tuple(x for x, group in zip(trial.letters, order, strict=True) if group),
        seed=seed,
        salt=salt,
    )


def commitment(key: Key) -> str:
    """Return the digest that commits to a key without telling it: SHA-256 of its plain form."""
    return _digest(asdict(key))


def design_digest(trial: Trial) -> str:
    """Return a digest of what everybody may know of a trial, its commitment left out."""
    return _digest(asdict(replace(trial, commitment="")))


def _digest(values: dict[str, object]) -> str:
    plain = json.dumps(values, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(plain.encode()).hexdigest()


def key_problems(trial: Trial, key: Key, client: str) -> list[str]:
    """Return why a key does not open a trial, in sentences; nothing when it does."""
    if (key.client, key.number, key.fodmap_group) != (client, trial.number, trial.fodmap_group):
        return [
            f"The key is for client {key.client}, blinded challenge {key.number} "
            f"({key.fodmap_group}), not for client {client}, blinded challenge {trial.number} "
            f"({trial.fodmap_group})."
        ]
    if commitment(key) != trial.commitment:
        return [
            "The key is not the one that was drawn: its digest differs from the one that was "
            "stored on the day of the draw. It was changed, or it belongs to another draw."
        ]
    if key.design != design_digest(trial):
        return ["The design in trial.toml is not the one that was drawn; restore it from a copy."]
    drawn = draw(key.seed, len(trial.letters), trial.block)
    holding = tuple(x for x, group in zip(trial.letters, drawn, strict=True) if group)
    return [] if holding == key.holding else ["The order in the key does not follow from its seed."]


def design_problems(n_pairs: int, block: int, used: Sequence[str]) -> list[Problem]:
    """Return what is wrong with a design, all of it."""
    found = []
    left = len(LETTERS) - len(used)
    if n_pairs < 1:
        found.append(_problem("pairs-wrong", f"{n_pairs} pairs are none.", "Ask for 1 or more."))
    if block < 2 or block % 2:
        found.append(
            _problem("block-wrong", f"A block of {block} cannot be halved.", "Give an even number.")
        )
    elif n_pairs >= 1 and (2 * n_pairs) % block:
        message = f"{2 * n_pairs} periods do not fill whole blocks of {block}."
        found.append(_problem("block-wrong", message, "Choose a block that divides the periods."))
    elif n_pairs >= 1 and n_orders(2 * n_pairs, block) > MOST_ORDERS:
        message = f"{2 * n_pairs} periods in blocks of {block} have too many orders to list."
        found.append(_problem("block-wrong", message, "Use smaller blocks or fewer pairs."))
    if 2 * n_pairs > left:
        message = f"{2 * n_pairs} periods need as many letters, and {left} are left."
        found.append(_problem("pairs-wrong", message, "Ask for fewer pairs."))
    return found


def _problem(code: str, message: str, remedy: str) -> Problem:
    return Problem(code=code, severity="error", message=message, remedy=remedy)


def blinded_sources(
    plan: Plan, settings: Settings, group: FodmapGroup
) -> tuple[tuple[Source, Source] | None, list[Problem]]:
    """Return the powders of a group and of the control, or why this client may not have them.

    A sachet holds a weighed powder, whatever food the open challenge used; its grams are those of
    the plan, where the plan has that group.
    """
    problems: list[Problem] = []
    clearance = screen(settings.screening)
    if clearance.result() != "go":
        return None, clearance.problems()
    planned = tuple(plan.steps(group).values()) if group in plan.groups() else ()
    own = settings.protocol.doses.get(group)
    grams = planned or (own.grams if own is not None else ())
    powders = {name: _powder(name) for name in (group, CONTROL)}
    doses = {
        group: DoseSettings(food=powders[group], grams=grams),
        CONTROL: DoseSettings(food=powders[CONTROL]),
    }
    protocol = settings.protocol.model_copy(
        update={"groups": (group, CONTROL), "control": False, "doses": doses}
    )
    sources, found = choose_sources(settings.model_copy(update={"protocol": protocol}), clearance)
    for name, powder in powders.items():
        source = sources.get(name)
        if source is None or source.food != powder:
            problems += [p for p in found if p.message.startswith(f"{name}: ")]
    if len(grams) > MOST_STEPS:
        message = f"{group} has {len(grams)} steps; sachets are numbered up to {MOST_STEPS}."
        problems.append(_problem("too-many-steps", message, "Set fewer grams in client.toml."))
    problems = [replace(problem, severity="error") for problem in problems]
    problems += [problem for problem in errors_in(found) if problem not in problems]
    if problems:
        return None, problems
    return (sources[group], sources[CONTROL]), []


def _powder(group: FodmapGroup) -> str:
    """The weighed carbohydrate of a group in the table of foods."""
    return next(
        food.name
        for food in foods_for(group)
        if food.purity == "clean" and food.name.startswith("pure ")
    )


def trial_courses(trial: Trial, protocol: ProtocolSettings) -> tuple[Course, ...]:
    """Return the periods of a trial, not yet on dates and telling nothing."""
    found = []
    for letter in trial.letters:
        steps = [
            PlanDay(
                date=dt.date.min,
                phase="challenge",
                cycle=1,
                step=step,
                food=Sachet(letter, step).name,
                portion_g=portion,
            )
            for step, portion in zip(trial.steps, trial.portions, strict=True)
        ]
        period = Sachet(letter, trial.steps[0]).period
        found.append(sealed_course(period, steps, trial.sachets_per_step, protocol))
    return tuple(found)


def sealed_periods(plan: Plan, settings: Settings) -> tuple[Course, ...]:
    """Return the periods of the plan's sealed trial; none while screening holds it up."""
    if plan.trial is None or trial_held(plan.trial, settings):
        return ()
    return trial_courses(plan.trial, settings.protocol)


def trial_held(trial: Trial, settings: Settings) -> str:
    """Return why screening forbids sachets that may hold either powder; empty if it does not."""
    clearance = screen(settings.screening)
    held = [
        finding
        for name, group in zip(trial.powders, (trial.fodmap_group, trial.control), strict=True)
        for finding in clearance.because(group, find_food(name))
    ]
    return " ".join(dict.fromkeys(finding.sentence() for finding in held))


def open_plan(plan: Plan, trial: Trial, key: Key, today: dt.date) -> Plan:
    """Return the plan with the sachets of a trial named.

    Periods become repeats of their group, numbered on after those there are. Sachets that were
    still to come are taken out: once the order is known, no day can be blinded any more.
    """
    groups: dict[str, FodmapGroup] = {
        letter: trial.fodmap_group if letter in key.holding else trial.control
        for letter in trial.letters
    }
    cycles = _numbered(plan, trial, groups)
    days: list[PlanDay] = []
    after: FodmapGroup | None = None
    for day in plan:
        sachet = find_sachet(day.food) if day.sealed else None
        if sachet is not None and sachet.letter in groups:
            group = groups[sachet.letter]
            if day.date > today:
                day = PlanDay(date=day.date, phase="rest")
            else:
                after = group
                day = replace(
                    day,
                    fodmap_group=group,
                    cycle=cycles[sachet.letter],
                    fodmap_g=sachet_grams(trial, group, sachet.step),
                )
        elif day.phase == "challenge":
            after = None
        elif day.phase == "washout" and day.fodmap_group is None:
            day = replace(day, fodmap_group=after)
        days.append(day)
    return Plan(tuple(days))


def _numbered(plan: Plan, trial: Trial, groups: dict[str, FodmapGroup]) -> dict[str, int]:
    """Number the periods on after the repeats of their group that the plan has already."""
    latest: dict[FodmapGroup, int] = {}
    for day in plan:
        if day.phase == "challenge" and day.fodmap_group is not None and day.cycle is not None:
            latest[day.fodmap_group] = max(latest.get(day.fodmap_group, 0), day.cycle)
    cycles = {}
    for letter in trial.letters:
        group = groups[letter]
        cycles[letter] = latest[group] = latest.get(group, 0) + 1
    return cycles


def sachet_grams(trial: Trial, group: FodmapGroup, step: int) -> float:
    """Return the grams of a group in its sachet of a step."""
    grams = trial.grams if group == trial.fodmap_group else trial.control_grams
    return grams[trial.steps.index(step)]
