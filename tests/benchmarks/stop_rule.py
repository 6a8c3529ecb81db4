"""How often the stop rule ends a challenge of a group that is tolerated, or of one that is not.

Run: python tests/benchmarks/stop_rule.py [CLIENTS]. Invented clients of several worlds eat every
dose; the rule of the protocol's defaults looks at each day. A stop counts when it comes before the
last dose, so that at least one dose would have been left out. Errors are over clients.
"""

import sys
from dataclasses import replace

import numpy as np
from joblib import Parallel, delayed

from challenge.protocol.progress import progress
from challenge.protocol.record import record_of
from challenge.protocol.settings import Settings
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS

SEED = 20260301
NAMES = ("usual", "quiet", "noisy", "flares", "strong-expectation", "nobody-reacts-no-expectation")


def challenges(name: str, index: int) -> list[tuple[int, bool, bool]]:
    """Client, whether the group is tolerated at every step, whether it was stopped too early."""
    world = replace(WORLDS[name], stop_chance=0.0, missed_dose=0.0)
    client = simulate_client(world, SEED, index)
    plan = client.plan
    settings = Settings()
    standing = progress(plan, record_of(client.diary), settings, plan.days[-1].date)
    rows = []
    for told in client.truth:
        course = standing.courses[told.fodmap_group, 1]
        last = max(d.date for d in plan if d.step and d.fodmap_group == told.fodmap_group)
        early = course.stop is not None and course.stop.date < last
        rows.append((index, told.tolerated_step == len(told.rises), early))
    return rows


def share(rows: np.ndarray, tolerated: bool) -> str:
    """Share stopped, with its standard error over clients (linearised ratio)."""
    mine = rows[rows[:, 1] == tolerated]
    if not len(mine):
        return "none"
    value = mine[:, 2].mean()
    client = np.unique(mine[:, 0], return_inverse=True)[1]
    spread = np.bincount(client, weights=mine[:, 2] - value)
    m = len(spread)
    error = np.sqrt(m / (m - 1) * (spread**2).sum()) / len(mine)
    return f"{100 * value:.1f} % (SE {100 * error:.1f}, n {len(mine)})"


def main() -> None:
    n_clients = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for name in NAMES:
        parts = Parallel(n_jobs=-1)(delayed(challenges)(name, index) for index in range(n_clients))
        rows = np.array([row for part in parts for row in part], dtype=float)
        print(f"{name:<30} tolerated: {share(rows, True)}; not tolerated: {share(rows, False)}")


if __name__ == "__main__":
    main()
