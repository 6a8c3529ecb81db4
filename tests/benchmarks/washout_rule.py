"""How often a washout is called unsettled, where nothing lingers and where something does.

Run: ``python tests/benchmarks/washout_rule.py [CLIENTS]`` (default 200 a world, about a minute).
For invented clients the points that doses still add are known. Worlds: ``calm`` (no reaction,
expectation, flare or disturbance: every warning is a false one), ``nobody-reacts``, ``usual``,
``slow`` (time courses twice as long) and ``lingering`` (everybody reacts to everything and fading
takes five times as long). Rates are of washouts / of clients with any. Compared are the rule as it
is and a fixed limit of one point on the mean of two days, which says every symptom's chance rise.
"""

from __future__ import annotations

import itertools
import sys
from dataclasses import replace

import numpy as np

from challenge.protocol.adherence_case import make_case
from challenge.protocol.day_checks import washouts_ended_early
from challenge.protocol.settings import Settings
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS

SEED = 20260301
USUAL = WORLDS["usual"]
NOBODY = replace(
    USUAL,
    reacting_share=dict.fromkeys(USUAL.reacting_share, 0.0),
    mild_share=0.0,
    expectation_mean=0.0,
    expectation_sd=0.0,
    expectation_group_sd=0.0,
)
MADE = {
    "calm": replace(
        NOBODY, flare_rate=0, illness_rate=0, stress_rate=0, travel_rate=0, menstruation_size=0,
        alcohol_size=0,
    ),
    "nobody-reacts": NOBODY,
    "usual": USUAL,
    "slow": WORLDS["slow"],
    "lingering": replace(
        USUAL,
        reacting_share=dict.fromkeys(USUAL.reacting_share, 1.0),
        time_courses={
            group: replace(course, decay=5 * course.decay)
            for group, course in USUAL.time_courses.items()
        },
    ),
}  # fmt: skip
RULES = {
    "as it is": Settings(),
    "1 point, 2 days": Settings.model_validate(
        {"protocol": {"settled_days": 2, "settled_chance": 0.499}}
    ),
}


def client(world, index):
    """One client with the points that doses add, days x symptoms."""
    kept = {}

    def keep(plan, background):
        kept["points"] = background.points
        return plan, background

    made = simulate_client(world, SEED, index, change=keep)
    return made, (made.lived.felt - kept["points"]).mean(axis=1)


def starts(case):
    """First dose of each challenge but the first, with the last dose before it."""
    eaten = sorted(
        (day.date, day.fodmap_group, day.cycle)
        for day in case.challenges()
        if (day.date, day.fodmap_group) in case.eaten
    )
    pairs = itertools.pairwise(eaten)
    return [(one[0], other[0]) for one, other in pairs if one[1:] != other[1:]]


def measure(world, n_clients):
    rows = []
    for index in range(n_clients):
        made, dose = client(world, index)
        first = made.plan.days[0].date
        today = made.plan.days[-1].date
        told = {}
        for name, settings in RULES.items():
            case = make_case(made.diary, made.plan, settings, today)
            for problem in washouts_ended_early(case):
                told.setdefault(problem.date, {})[name] = problem.code
        for last, start in starts(case):
            days = slice((last - first).days + 1, (start - first).days)
            left = dose[days][-2:].mean(axis=0).max() if days.stop > days.start else np.nan
            rows.append((index, left, told.get(start.isoformat(), {})))
    return rows


def rates(rows, name, codes):
    hit = np.array([told.get(name) in codes for _, _, told in rows])
    who = np.array([index for index, _, _ in rows])
    clients = np.mean([hit[who == one].any() for one in np.unique(who)])
    return f"{hit.mean():6.1%} / {clients:4.0%}"


def main(n_clients):
    everything = []
    print(f"{'world':14s} {'as it is':>16s} {'noted only':>16s} {'1 point, 2 days':>18s}")
    for world, made in MADE.items():
        rows = measure(made, n_clients)
        everything += rows
        both = {"washout-not-settled", "up-before-challenge"}
        print(
            f"{world:14s} {rates(rows, 'as it is', {'washout-not-settled'}):>16s} "
            f"{rates(rows, 'as it is', {'up-before-challenge'}):>16s} "
            f"{rates(rows, '1 point, 2 days', both):>18s}"
        )
    left = np.array([points for _, points, _ in everything])
    for low, high in ((-1.0, 0.1), (0.5, 1.0), (1.0, 2.0), (2.0, 99.0)):
        here = (left >= low) & (left < high)
        shares = [
            np.mean([told.get(name) in codes for (_, _, told), yes
                     in zip(everything, here, strict=True) if yes])
            for name, codes in (("as it is", {"washout-not-settled"}), ("1 point, 2 days", both))
        ]  # fmt: skip
        print(
            f"{low:g} to {high:g} points left over, {here.sum()} washouts: "
            f"{shares[0]:.0%} as it is, {shares[1]:.0%} with 1 point, 2 days"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
