"""How long one client takes: ``OMP_NUM_THREADS=1 python tests/benchmarks/analysis_speed.py``.

Not a test: times depend on the machine, so it prints what it measured and judges nothing. The
yardstick, taken in the same run and by turns with the analyses, is one exhaustive
``scipy.stats.permutation_test`` on 15 pairs (2**15 sign patterns).
"""

from __future__ import annotations

import argparse
import json
import statistics
import time

import numpy as np
from scipy.stats import permutation_test

from challenge.analysis.analyse import analyse
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS


def yardstick(differences: np.ndarray) -> float:
    """Processor seconds of the exhaustive test."""
    start = time.process_time()
    permutation_test(
        (differences,),
        lambda x, axis: x.mean(axis=axis),
        permutation_type="samples",
        vectorized=True,
        n_resamples=np.inf,
    )
    return time.process_time() - start


def main() -> None:
    """Measure and print one JSON object."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=20)
    options = parser.parse_args()
    clients = [simulate_client(WORLDS["usual"], 5, i) for i in range(options.clients)]
    differences = np.random.default_rng(1).normal(size=15)
    analyse(clients[0].diary, clients[0].plan)  # what is loaded once
    yardstick(differences)
    ours, theirs = [], []
    for client in clients:
        start = time.process_time()
        analyse(client.diary, client.plan)
        ours.append(time.process_time() - start)
        theirs.append(yardstick(differences))
    print(
        json.dumps(
            {
                "clients": len(clients),
                "scores_each": round(statistics.mean(len(c.diary.symptoms) for c in clients)),
                "analysis_ms": round(1000 * statistics.median(ours), 1),
                "yardstick_ms": round(1000 * statistics.median(theirs), 1),
                "ratio": round(statistics.median(ours) / statistics.median(theirs), 2),
            }
        )
    )


if __name__ == "__main__":
    main()
