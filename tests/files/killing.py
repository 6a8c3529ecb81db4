"""Imports that are killed at random moments, and a count of what the kills met.

Run: python -m tests.files.killing [--imports 200] [--seed 1] [--commands 40]. It makes imports of
several kinds, kills each with SIGKILL after a delay spread over all the time an import takes,
and checks after every kill that the folder can be read and holds all that was acknowledged. Some of
the imports are the command itself, killed at any time from its start on. POSIX only.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import os
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from challenge.files.import_store import is_behind
from challenge.files.imports import add_files, undo_last
from challenge.files.reading import read_diary

# Each import is done by a child of its own, which begins with everything loaded.
SERVER = """
import os, sys
from pathlib import Path
import challenge.commands.add, challenge.diary.bulk, challenge.diary.twice, challenge.diary.merge
import challenge.files.writing, challenge.diary.intake
from challenge.files.imports import add_files, record_entries
from challenge.files.reading import read_settings
folder = Path(sys.argv[1])
read_settings(folder)
print("ready", flush=True)
for line in sys.stdin:
    kind, number, file = line.split()
    if os.fork():
        os.wait()
        print("over", flush=True)
        continue
    print("begin", os.getpid(), flush=True)
    if kind == "entries":
        rows = [row.split(",") for row in Path(file).read_text().splitlines()[1:]]
        record_entries(
            folder,
            foods=[{"time": row[0], "food": row[3]} for row in rows],
            symptoms=[{"time": row[0], "symptom": row[1], "score": row[2]} for row in rows],
        )
    else:
        add_files(folder, [file], correct=kind == "correct")
    print("done", flush=True)
    os._exit(0)
"""

FIRST = dt.datetime(2026, 1, 1)


@dataclass
class Tally:
    """Imports acknowledged; what kills met; how long imports took that nobody killed [s]."""

    acknowledged: dict[int, int] = field(default_factory=dict)
    doubtful: dict[int, int] = field(default_factory=dict)
    met: Counter[str] = field(default_factory=Counter)
    took: list[float] = field(default_factory=list)


def stamp(number: int, row: int) -> str:
    return (FIRST + dt.timedelta(days=number, minutes=row)).isoformat(timespec="minutes")


def write_file(path: Path, number: int, rows: int, score: int) -> Path:
    """Scores and foods of one day, so that two tables are written."""
    lines = [f"{stamp(number, row)},pain,{score},rice\n" for row in range(rows)]
    path.write_text("time,symptom,score,food\n" + "".join(lines))
    return path


def held(folder: Path) -> dict[int, Counter[int]]:
    """Return the scores held of every import: how often each."""
    if not any((folder / name).exists() for name in ("foods.csv", "symptoms.csv")):
        return {}
    table = read_diary(folder).symptoms
    if not len(table):
        return {}
    assert not table.duplicated(["time", "symptom"]).any()
    found: dict[int, Counter[int]] = {}
    days = ((table["time"] - FIRST).dt.days).tolist()
    for day, score in zip(days, table["score"].astype(int).tolist(), strict=True):
        found.setdefault(day, Counter())[score] += 1
    return found


@contextlib.contextmanager
def server(folder: Path) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [sys.executable, "-c", SERVER, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdout is not None and process.stdin is not None
    assert process.stdout.readline() == "ready\n"
    try:
        yield process
    finally:
        process.stdin.close()
        process.stdout.close()
        process.wait()


def one_import(
    process: subprocess.Popen[str],
    kind: str,
    number: int,
    file: Path,
    delay: float | None,
    writing: Path | None = None,
) -> tuple[bool, float]:
    """Do one import, killed after a delay; say whether it was acknowledged and how long it took.

    The delay counts from the beginning, or from the moment when the folder ``writing`` shows that
    something is being written.
    """
    assert process.stdout is not None and process.stdin is not None
    process.stdin.write(f"{kind} {number} {file}\n")
    process.stdin.flush()
    begun = process.stdout.readline().split()
    start = time.perf_counter()
    assert begun[0] == "begin"
    if delay is not None:
        if writing is not None:
            wait_for_writing(writing)
            start = time.perf_counter()
        time.sleep(max(0.0, start + delay - time.perf_counter()))
        with contextlib.suppress(ProcessLookupError):
            os.kill(int(begun[1]), signal.SIGKILL)
    acknowledged = False
    while (line := process.stdout.readline()) != "over\n":
        acknowledged = acknowledged or line == "done\n"
        assert line, "the server died"
    return acknowledged, time.perf_counter() - start


def wait_for_writing(folder: Path) -> None:
    end = time.perf_counter() + 2.0
    while time.perf_counter() < end and not any((folder / "imports").glob(".writing-*")):
        pass


def one_command(folder: Path, file: Path, delay: float | None) -> tuple[bool, float]:
    """Do one import by the command itself, killed after a delay from its start."""
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "challenge", "add", str(folder), str(file)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(delay)
    process.kill()
    said, _ = process.communicate()
    return "Added" in said, time.perf_counter() - start


def finished_files(folder: Path) -> dict[Path, tuple[int, int]]:
    """Return all files but those being written, with size and time of change."""
    found = ((path, path.stat()) for path in folder.rglob("*") if path.is_file())
    return {
        path: (stat.st_size, stat.st_mtime_ns)
        for path, stat in found
        if ".writing-" not in str(path)
    }


def what_was_met(folder: Path, before: dict[Path, tuple[int, int]], acknowledged: bool) -> str:
    """Say in what state the kill left the folder."""
    if acknowledged:
        return "after the end"
    if any(folder.glob("**/.writing-*")):
        return "while a file was written"
    if finished_files(folder) == before:
        return "before the first change"
    return "between two changes" if is_behind(folder) else "after the last change"


def check(folder: Path, tally: Tally, rows: int) -> None:
    """All acknowledged imports are there with the right scores; others wholly or not at all.

    Until the next import, one cut short may be in one table and not yet in the other.
    """
    there = held(folder)
    for number, score in tally.acknowledged.items():
        allowed = {score, tally.doubtful.get(number, score)}
        assert there[number].total() == rows and set(there[number]) <= allowed, number
        assert len(there[number]) == 1, number
    for number in there.keys() - tally.acknowledged.keys():
        assert number in tally.doubtful and there[number] == {tally.doubtful[number]: rows}, number


def killed_imports(
    folder: Path, base: Path, imports: int, seed: int, commands: int = 0, rows: int = 40
) -> Tally:
    """Make imports and kill most of them, checking after each."""
    draw = random.Random(seed)
    tally = Tally()
    by_command = set(draw.sample(range(10, imports), commands))
    slow: list[float] = []
    with server(folder) as process:
        for number in range(imports):
            kind = draw.choice(["files", "files", "entries", "correct"])
            earlier = [n for n in tally.acknowledged if n not in tally.doubtful]
            target, score = number, draw.randrange(11)
            if kind == "correct" and earlier:
                target = draw.choice(earlier)
                score = (tally.acknowledged[target] + 1) % 11
            file = write_file(base / f"{number}.csv", target, rows, score)
            before = finished_files(folder)
            if number in by_command:
                kind, target = "files", number
                file = write_file(base / f"{number}.csv", number, rows, score)
                limit = 1.1 * statistics.median(slow) if slow else None
                delay = draw.uniform(0, limit) if limit else None
                acknowledged, took = one_command(folder, file, delay)
                if delay is None:
                    slow.append(took)
            else:
                # some are left alone, to know how long an import takes
                limit = max(tally.took[-3:]) if number >= 5 and number % 8 else None
                late = number % 2 == 1
                # a good part of an import's time is writing
                delay = draw.uniform(0, (0.4 if late else 1.1) * limit) if limit else None
                acknowledged, took = one_import(
                    process, kind, number, file, delay, folder if late else None
                )
                if delay is None:
                    tally.took.append(took)
            if delay is not None:
                tally.met[what_was_met(folder, before, acknowledged)] += 1
            if acknowledged:
                tally.acknowledged[target] = score
                tally.doubtful.pop(target, None)
            else:
                tally.doubtful[target] = score
            check(folder, tally, rows)
    return tally


def imports_at_once(
    folder: Path,
    base: Path,
    processes: int,
    each: int,
    seed: int,
    kills: float = 0.0,
    rows: int = 40,
) -> Tally:
    """Let several processes import at the same time, some imports killed; read all the while."""

    def work(worker: int) -> Tally:
        draw = random.Random(f"{seed}-{worker}")
        tally = Tally()
        with server(folder) as process:
            for number in range(1000 * worker, 1000 * worker + each):
                file = write_file(base / f"{number}.csv", number, rows, number % 11)
                delay = draw.uniform(0, 0.3) if draw.random() < kills else None
                acknowledged, _ = one_import(process, "files", number, file, delay)
                side = tally.acknowledged if acknowledged else tally.doubtful
                side[number] = number % 11
        return tally

    with ThreadPoolExecutor(processes) as pool:
        running = [pool.submit(work, worker) for worker in range(processes)]
        while not all(one.done() for one in running):
            held(folder)
            time.sleep(0.05)
    whole = Tally()
    for one in running:
        whole.acknowledged |= one.result().acknowledged
        whole.doubtful |= one.result().doubtful
    check(folder, whole, rows)
    return whole


def settle(folder: Path, base: Path, tally: Tally, rows: int = 40) -> None:
    """One more import puts everything right that kills left behind."""
    last = 9_000
    add_files(folder, [write_file(base / "last.csv", last, rows, 1)])
    tally.acknowledged[last] = 1
    check(folder, tally, rows)
    diary = read_diary(folder)
    assert len(diary.foods) == len(diary.symptoms)
    assert not is_behind(folder)
    assert not list(folder.glob("**/.writing-*"))
    before = {name: (folder / name).read_bytes() for name in ("foods.csv", "symptoms.csv")}
    undo_last(folder)
    add_files(folder, [base / "last.csv"])
    # read anew from all imports, the tables are the same
    assert before == {name: (folder / name).read_bytes() for name in before}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--imports", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--commands", type=int, default=40)
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "four"
        folder.mkdir()
        four = imports_at_once(folder, Path(name), 4, 10, told.seed, kills=0.3)
        settle(folder, Path(name), four)
        print(  # noqa: T201
            f"four at once: {len(four.acknowledged) - 1} imports acknowledged and there, "
            f"{len(four.doubtful)} killed"
        )
        folder = Path(name) / "client"
        folder.mkdir()
        tally = killed_imports(folder, Path(name), told.imports, told.seed, told.commands)
        settle(folder, Path(name), tally)
        print(  # noqa: T201
            f"{told.imports} imports, {len(tally.acknowledged) - 1} acknowledged, an import takes "
            f"{1000 * statistics.median(tally.took):.0f} ms; kills: "
            + ", ".join(f"{count} {what}" for what, count in tally.met.most_common())
        )


if __name__ == "__main__":
    main()
