"""Time of laying a plan against that of importing pandas, in the same run.

Run: python tests/benchmarks/plan_speed.py. The goal is a ratio of at most 0.1.
"""

import datetime as dt
import random
import statistics
import subprocess
import sys
import time

from challenge.protocol.schedule import build_plan
from challenge.protocol.settings import Settings
from challenge.terms import GROUPS


def random_settings(rng: random.Random) -> Settings:
    return Settings.model_validate(
        {
            "protocol": {
                "groups": rng.sample(GROUPS, rng.randint(1, 6)),
                "order": rng.choice(["as-listed", "random"]),
                "seed": rng.randrange(10_000),
                "days_per_step": rng.randint(1, 3),
                "days_between_steps": rng.randint(0, 4),
                "washout_days": rng.randint(1, 9),
                "cycles": rng.randint(1, 3),
                "control": rng.random() < 0.5,
            }
        }
    )


def main() -> None:
    rng = random.Random(1)
    laying = []
    for _ in range(500):
        settings = random_settings(rng)
        begin = time.perf_counter()
        build_plan(settings, dt.date(2026, 3, 2))
        laying.append(time.perf_counter() - begin)
    code = "import time; t = time.perf_counter(); import pandas; print(time.perf_counter() - t)"
    importing = [
        float(subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout)
        for _ in range(5)
    ]
    plan, pandas = statistics.median(laying), statistics.median(importing)
    print(f"plan {1000 * plan:.2f} ms, pandas {1000 * pandas:.0f} ms, ratio {plan / pandas:.4f}")


if __name__ == "__main__":
    main()
