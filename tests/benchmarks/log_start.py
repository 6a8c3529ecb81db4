"""How long `challenge log CLIENT` takes to its first question, against a bare `import typer`.

The log runs in a pseudo-terminal on a sample client with a long diary; the clock stops when the
first question has been written. Both are started in turn, so that a busy machine burdens both.

    python tests/benchmarks/log_start.py [RUNS]
"""

from __future__ import annotations

import os
import pty
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "sample_diaries"
QUESTION = b"Scores for which time"
BOUND = 1.5


def bare() -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import typer"], check=True)
    return time.perf_counter() - start


def first_question(folder: Path) -> float:
    master, slave = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "CHALLENGE_NOW": "2026-05-23T21:00"}
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "challenge", "log", str(folder)],
        stdin=slave, stdout=slave, stderr=slave, env=environment, start_new_session=True,
    )  # fmt: skip
    os.close(slave)
    shown = b""
    while QUESTION not in shown:
        shown += os.read(master, 4096)
    took = time.perf_counter() - start
    os.write(master, b"q\n")
    process.wait()
    os.close(master)
    return took


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    with tempfile.TemporaryDirectory() as place:
        folder = Path(shutil.copytree(SAMPLES / "juniper", Path(place) / "juniper"))
        bare(), first_question(folder)
        pairs = [(bare(), first_question(folder)) for _ in range(runs)]
    references, times = zip(*pairs, strict=True)
    ratios = sorted(t / r for r, t in pairs)
    print(f"import typer    {1000 * statistics.median(references):6.1f} ms (median of {runs})")
    print(f"first question  {1000 * statistics.median(times):6.1f} ms")
    print(
        f"ratio           {statistics.median(ratios):6.2f}  ({ratios[0]:.2f} to {ratios[-1]:.2f})"
    )
    print(f"bound           {BOUND:6.2f}")


if __name__ == "__main__":
    main()
