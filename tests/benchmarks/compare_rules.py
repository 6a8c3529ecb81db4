"""The analysis beside simple rules, on invented clients of every world.

    OMP_NUM_THREADS=1 python tests/benchmarks/compare_rules.py --clients 100 --jobs 2

Prints a Markdown table: value (Monte-Carlo standard error), the groups of one client counted as
one. Not a test: it judges nothing.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from rules import RULES

from challenge.practice.experiment import experiment
from challenge.practice.operating import NUMBERS, Estimate, operating
from challenge.simulation.worlds import WORLDS


def _cell(estimate: Estimate) -> str:
    if estimate.value is None:
        return "-"
    error = "" if estimate.error is None else f" ({estimate.error:.2f})".replace("0.", ".")
    return f"{estimate.value:.2f}".replace("0.", ".") + error


def main() -> None:
    """Measure and print the table, a row as soon as it is there."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=100)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--worlds", nargs="*", default=list(WORLDS))
    parser.add_argument("--cycles", type=int, nargs="*", default=[1, 2])
    parser.add_argument("--rules", nargs="*", default=list(RULES))
    parser.add_argument("--by-group", action="store_true", help="a row for each group too")
    options = parser.parse_args()
    print("| world | cycles | rule | " + " | ".join(n.replace("_", " ") for n in NUMBERS) + " |")
    print("|---" * (len(NUMBERS) + 3) + "|")
    for name in options.worlds:
        for cycles in options.cycles:
            world = replace(WORLDS[name], cycles=cycles)
            for rule in options.rules:
                calls = experiment(world, options.seed, options.clients, options.jobs, RULES[rule])
                parts = {rule: calls}
                if options.by_group:
                    parts |= {g: calls.of_group(g) for g in sorted(set(calls.group.tolist()))}
                for part, some in parts.items():
                    found = operating(some)
                    cells = " | ".join(_cell(getattr(found, number)) for number in NUMBERS)
                    print(f"| {name} | {cycles} | {part} | {cells} |", flush=True)
                for point in operating(calls).calibration.bins if options.by_group else ():
                    print(
                        f"stated {point.stated:.2f}, true {point.happened:.2f} "
                        f"({point.low:.2f} to {point.high:.2f}), n {point.n}"
                    )


if __name__ == "__main__":
    main()
