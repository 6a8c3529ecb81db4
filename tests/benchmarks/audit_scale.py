"""How audit scales: ``python tests/benchmarks/audit_scale.py --clients 10000 --jobs 2``.

Not a test: times depend on the machine, so it prints what it measured and judges nothing. Every
time is also given as a multiple of yardsticks taken in the same run, on the same number of
processes: the same files read with ``csv.reader`` alone, and the analyses alone, on diaries that
are in memory already. The analyses alone are timed on clients spread over the whole practice,
before and after the audit, so that a machine whose speed drifts is caught in the middle. Threads of
numerical libraries are held to one per process throughout.

Processor time is given beside wall time: on a machine that does other things it is the steadier of
the two. Memory is the peak of the main process, and of the largest worker, by the kernel's count.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from joblib import Parallel, delayed

SAMPLE = 400
CHUNK = 16
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
os.environ.update(ONE_THREAD)  # for the workers of the yardsticks; none has been started yet


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
            run("simulate", practice, "--clients", options.clients, "--jobs", options.jobs)
        found = measure(practice, Path(scratch), options.jobs)
    sys.stdout.write(json.dumps(found, indent=2) + "\n")


def measure(practice: Path, out: Path, jobs: int) -> dict[str, object]:
    """Return everything about one practice."""
    folders = sorted(practice.glob("invented-*"))
    reading = read_plainly(folders, jobs)
    reading = min(reading, read_plainly(folders, jobs))  # the first filled the disk's cache
    before = analyses_alone(folders, jobs)
    tenth = audit(a_part(folders[: len(folders) // 10], out / "tenth"), out / "tenth.csv", jobs)
    whole = audit(practice, out / "whole.csv", jobs)
    after = analyses_alone(folders, jobs)
    report = report_alone(practice, out)
    wall = (before[0] + after[0]) / 2
    cpu = (before[1] + after[1]) / 2
    return {
        "clients": len(folders),
        "jobs": jobs,
        "csv_reader_s": round(reading, 2),
        "analyses_alone_s": [round(before[0], 1), round(after[0], 1)],
        "analyses_alone_cpu_s": [round(before[1], 1), round(after[1], 1)],
        "audit_s": round(whole["seconds"], 1),
        "audit_per_csv_reader": round(whole["seconds"] / reading, 1),
        "audit_cpu_s": round(whole["cpu"], 1),
        "overhead_over_analyses": round(whole["seconds"] / wall - 1.0, 3),
        "overhead_over_analyses_cpu": round(whole["cpu"] / cpu - 1.0, 3),
        "cpu_ms_per_client": round(1e3 * whole["cpu"] / len(folders), 1),
        "ms_per_client_and_process": round(1e3 * whole["seconds"] * jobs / len(folders), 1),
        "clients_of_the_tenth": len(folders) // 10,
        "peak_mb_main_tenth_whole": [round(run["main_mb"]) for run in (tenth, whole)],
        "peak_mb_worker_tenth_whole": [round(run["worker_mb"]) for run in (tenth, whole)],
        "report_alone_s": round(report["seconds"], 1),
        "report_alone_peak_mb": round(report["main_mb"]),
        "bytes_per_client_of_records": whole["bytes"] // len(folders),
    }


def audit(practice: Path, table: Path, jobs: int) -> dict[str, float]:
    """Audit to CSV and JSON lines; return seconds, peaks and the size of the records."""
    lines = table.with_suffix(".jsonl")
    found = run("audit", practice, "--csv", table, "--jsonl", lines, "--jobs", jobs)
    return {**found, "bytes": lines.stat().st_size}


def report_alone(practice: Path, out: Path) -> dict[str, float]:
    """Make the report from records that are there already, by going on with a finished run."""
    shutil.copy(out / "whole.jsonl", out / "report.html.partial.jsonl")
    return run("audit", practice, "--html", out / "report.html", "--resume")


def a_part(folders: Sequence[Path], directory: Path) -> Path:
    """Return a directory of links to some of the folders."""
    directory.mkdir()
    for folder in folders:
        (directory / folder.name).symlink_to(folder.resolve())
    return directory


def read_plainly(folders: Sequence[Path], jobs: int) -> float:
    """Return the time of reading every CSV file with csv.reader."""
    start = time.perf_counter()
    Parallel(n_jobs=jobs)(delayed(_rows)(part) for part in _parts(folders))
    return time.perf_counter() - start


def _rows(folders: Sequence[Path]) -> int:
    count = 0
    for folder in folders:
        for path in folder.glob("*.csv"):
            with path.open(encoding="utf-8", newline="") as file:
                count += sum(1 for _ in csv.reader(file))
    return count


def analyses_alone(folders: Sequence[Path], jobs: int) -> tuple[float, float]:
    """Return wall and processor time of all analyses on that many processes, from a sample."""
    sample = folders[:: max(len(folders) // SAMPLE, 1)]
    Parallel(n_jobs=jobs)(delayed(_analyses)(sample[:CHUNK]) for _ in range(jobs))  # imports
    spent = Parallel(n_jobs=jobs)(delayed(_analyses)(part) for part in _parts(sample))
    share = len(sample) / len(folders)
    wall, cpu = (sum(times) for times in zip(*spent, strict=True))
    return wall / jobs / share, cpu / share


def _analyses(folders: Sequence[Path]) -> tuple[float, float]:
    from challenge.analysis.analyse import analyse
    from challenge.files.reading import read_diary, read_plan, read_settings

    ready = [(read_diary(f), read_plan(f / "plan.csv"), read_settings(f)) for f in folders]
    start, busy = time.perf_counter(), time.process_time()
    for diary, plan, settings in ready:
        analyse(diary, plan, settings)
    return time.perf_counter() - start, time.process_time() - busy


def _parts(folders: Sequence[Path]) -> list[Sequence[Path]]:
    return [folders[start : start + CHUNK] for start in range(0, len(folders), CHUNK)]


def run(*words: object) -> dict[str, float]:
    """Run a command; return wall and processor time [s], peak memory of it and its workers [MB]."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", _WITH_PEAKS, *map(str, words)],
        capture_output=True,
        text=True,
        env={**os.environ, **ONE_THREAD},
    )
    spent = time.perf_counter() - start
    if done.returncode:
        raise SystemExit(done.stderr)
    cpu, main_kb, worker_kb = map(float, done.stderr.rsplit("peaks ", 1)[1].split())
    return {
        "seconds": spent,
        "cpu": cpu,
        "main_mb": main_kb / 1024,
        "worker_mb": worker_kb / 1024,
    }


_WITH_PEAKS = """
import resource, sys
from challenge.commands import main
try:
    main()
finally:
    if "joblib" in sys.modules:
        # a worker is counted once it has ended
        from joblib.externals.loky import get_reusable_executor
        get_reusable_executor().shutdown(wait=True)
    # not ru_maxrss, which an exec carries over from the process that called it
    own = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
    both = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    cpu = sum(used.ru_utime + used.ru_stime for used in both)
    sys.stderr.write(f"peaks {cpu} {own.split()[1]} {both[1].ru_maxrss}\\n")
"""


if __name__ == "__main__":
    main()
