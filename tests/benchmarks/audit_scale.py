"""How audit scales: ``python tests/benchmarks/audit_scale.py --clients 10000 --jobs 2``.

Not a test: times depend on the machine, so it prints what it measured and judges nothing. Every
time is also given as a multiple of a yardstick taken in the same run: the same files read with
``csv.reader`` alone, and the analyses alone on diaries already in memory (from a sample of
clients, times their number).
"""

from __future__ import annotations

import argparse
import csv
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SAMPLE = 200


def main() -> None:
    """Measure and print one JSON object."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=1000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="directory for the folders, kept afterwards")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        base = options.keep or Path(scratch)
        practice = base / "practice"
        if not practice.exists():
            timed("simulate", practice, "--clients", options.clients, "--jobs", options.jobs)
        reading = seconds(lambda: read_plainly(practice))
        analysing = analyses_alone(practice, options.clients)
        few = sorted(practice.glob("invented-*"))[: options.clients // 10]
        small = base / "small"
        small.mkdir(exist_ok=True)
        for folder in few:
            link = small / folder.name
            if not link.exists():
                link.symlink_to(folder.resolve())
        one_tenth = timed("audit", small, "--csv", base / "s.csv", "--jobs", options.jobs)
        whole = timed("audit", practice, "--csv", base / "a.csv", "--jobs", options.jobs)
    per_job = analysing / options.jobs
    result = {
        "clients": options.clients,
        "jobs": options.jobs,
        "csv_reader_s": round(reading, 2),
        "analyses_alone_s": round(analysing, 2),
        "audit_s": round(whole["seconds"], 2),
        "audit_per_csv_reader": round(whole["seconds"] / reading, 1),
        "overhead_over_analyses": round(whole["seconds"] / per_job - 1.0, 3),
        "ms_per_client_and_job": round(1e3 * whole["seconds"] * options.jobs / options.clients, 1),
        "peak_mb_tenth": round(one_tenth["peak_mb"]),
        "peak_mb_whole": round(whole["peak_mb"]),
    }
    sys.stdout.write(json.dumps(result, indent=2) + "\n")


def seconds(work) -> float:  # type: ignore[no-untyped-def]
    """Return how long something takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def read_plainly(practice: Path) -> int:
    """Read every CSV file with csv.reader and count its rows."""
    count = 0
    for path in sorted(practice.glob("*/*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            count += sum(1 for _ in csv.reader(file))
    return count


def analyses_alone(practice: Path, clients: int) -> float:
    """Return the time of all analyses on one core, from a sample of diaries read beforehand."""
    from challenge.analysis.analyse import analyse
    from challenge.files.reading import read_diary, read_plan, read_settings

    folders = sorted(practice.glob("invented-*"))[: min(SAMPLE, clients)]
    ready = [(read_diary(f), read_plan(f / "plan.csv"), read_settings(f)) for f in folders]
    analyse(*ready[0])
    spent = seconds(lambda: [analyse(*entry) for entry in ready])
    return spent * clients / len(ready)


def timed(*words: object) -> dict[str, float]:
    """Run a command; return its wall time and the peak memory of it or of a worker [MB]."""
    code = (
        "import resource, sys; from challenge.commands import main\n"
        "try:\n    main()\nfinally:\n"
        "    peak = max(resource.getrusage(w).ru_maxrss for w in "
        "(resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))\n"
        "    sys.stderr.write(f'peak {peak}\\n')\n"
    )
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, words)], capture_output=True, text=True, check=True
    )
    spent = time.perf_counter() - start
    peak = float(done.stderr.rsplit("peak ", 1)[1])
    return {"seconds": spent, "peak_mb": peak / 1024}


if __name__ == "__main__":
    main()
