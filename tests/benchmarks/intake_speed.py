"""Time and memory of `challenge add` against bare pandas on the same files, in the same run.

Run: python tests/benchmarks/intake_speed.py [--rows 1000000] [--rounds 3] [--form iso]

Large file: at most 4 times the time and 3 times the peak memory of `pandas.read_csv(dtype=str)`
followed by `pandas.to_datetime` of its two columns of times. Usual diary (100 days, 15 scores and
10 foods a day, as CSV and as XLSX): at most 1.3 times `python -c "import pandas"`. Every process
is a new one; wall time and processor time (user and system) are both given, because a machine that
others share stretches the first. "Within" leaves out the start of the interpreter and the imports
of the reference, and counts nothing but the work on the file.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

LARGE = """
import datetime as dt, random, sys
path, rows, form = sys.argv[1], int(sys.argv[2]), sys.argv[3]
draw = random.Random(20)
symptoms = ("pain", "bloating", "wind", "discomfort", "urgency")
words = ("after lunch", "slept badly", '"long walk, then tea"', "at work", "ate out", "=felt off")
shape = {"iso": "%Y-%m-%dT%H:%M", "day-first": "%d/%m/%Y %H:%M"}[form]
time = dt.datetime(2001, 1, 1, 6)
with open(path, "w", newline="") as out:
    out.write("time,symptom,score,note,entered_at\\n")
    for number in range(rows):
        symptom = symptoms[number % 5]
        if number % 5 == 0:
            time += dt.timedelta(minutes=draw.randint(60, 230))
            entered = time + dt.timedelta(minutes=draw.randint(0, 300))
            stamps = time.strftime(shape), entered.strftime(shape)
        note = ""
        if draw.random() < 0.04:
            note = draw.choice(words) if draw.random() < 0.7 else f"entry {number}"
        score = min(10, int(draw.expovariate(0.4)))
        out.write(f"{stamps[0]},{symptom},{score},{note},{stamps[1]}\\n")
"""

USUAL = """
import csv, datetime as dt, random, sys
folder = sys.argv[1]
draw = random.Random(21)
scores = [["time", "symptom", "score", "note", "entered_at"]]
foods = [["time", "food", "portion_g", "fodmap_group", "fodmap_g", "note", "entered_at"]]
names = ("rice", "oats", "carrots", "chicken", "potatoes", "skimmed milk", "eggs", "salmon", "tea")
for day in range(100):
    start = dt.datetime(2026, 3, 2) + dt.timedelta(days=day)
    for hour in (8, 13, 20):
        at = start + dt.timedelta(hours=hour, minutes=draw.randint(0, 40))
        for symptom in ("pain", "bloating", "wind", "discomfort", "urgency"):
            scores.append([at, symptom, draw.randint(0, 4), "", at + dt.timedelta(minutes=3)])
    for place in range(10):
        at = start + dt.timedelta(hours=7 + 1.4 * place)
        foods.append([at, draw.choice(names), draw.randint(20, 300), "", None, "", at])
for name, rows in (("scores", scores), ("foods", foods)):
    with open(f"{folder}/{name}.csv", "w", newline="") as out:
        csv.writer(out).writerows(
            [v.isoformat(timespec="minutes") if isinstance(v, dt.datetime) else v for v in row]
            for row in rows
        )
from openpyxl import Workbook
book = Workbook()
book.remove(book.active)
for name, rows in (("scores", scores), ("foods", foods)):
    sheet = book.create_sheet(name)
    for row in rows:
        sheet.append(row)
book.save(f"{folder}/diary.xlsx")
"""

REFERENCE = """
import pandas as pd, sys, time
begin, used = time.perf_counter(), time.process_time()
table = pd.read_csv(sys.argv[1], dtype=str)
for name in ("time", "entered_at"):
    table[name] = pd.to_datetime(table[name], format=sys.argv[2])
print(time.perf_counter() - begin, time.process_time() - used)
"""

WITHIN = """
import sys, time
from challenge.files.imports import add_files
begin, used = time.perf_counter(), time.process_time()
add_files(sys.argv[1], [sys.argv[2]], date_order=sys.argv[3] or None)
print(time.perf_counter() - begin, time.process_time() - used)
"""


@dataclass(frozen=True)
class Cost:
    """What a process took: wall and processor time [s], peak memory [MB], and what it printed."""

    wall: float
    cpu: float
    peak: float
    said: str


def run(*words: object) -> Cost:
    """Run a process of the same interpreter and return its cost."""
    with tempfile.TemporaryFile("w+") as out:
        begin = time.perf_counter()
        # this process stays small: memory of the parent counts in the peak of a new child
        actions = [(os.POSIX_SPAWN_DUP2, out.fileno(), 1)]
        child = os.posix_spawn(
            sys.executable,
            [sys.executable, *map(str, words)],
            os.environ,
            file_actions=actions,
        )
        _, status, used = os.wait4(child, 0)
        wall = time.perf_counter() - begin
        if status:
            raise SystemExit(f"failed: {words[:2]}")
        out.seek(0)
        return Cost(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.read())


def within(cost: Cost) -> tuple[float, float]:
    wall, cpu = map(float, cost.said.split()[-2:])
    return wall, cpu


def ratio(ours: list[float], theirs: list[float]) -> str:
    """Return the median ratio of the rounds, and its range."""
    found = sorted(a / b for a, b in zip(ours, theirs, strict=True))
    return f"{statistics.median(found):.2f} ({found[0]:.2f} to {found[-1]:.2f})"


def report(name: str, ours: list[tuple[float, float]], theirs: list[tuple[float, float]]) -> None:
    for kind, place in (("wall", 0), ("processor", 1)):
        a, b = [one[place] for one in ours], [one[place] for one in theirs]
        print(
            f"  {name}, {kind}: {statistics.median(a):.2f} s against {statistics.median(b):.2f} s, "
            f"ratio {ratio(a, b)}"
        )


def large(base: Path, rows: int, rounds: int, form: str) -> None:
    file = base / "large.csv"
    run("-c", LARGE, file, rows, form)
    shape = {"iso": "ISO8601", "day-first": "%d/%m/%Y %H:%M"}[form]
    order = "" if form == "iso" else "day-first"
    costs: dict[str, list[Cost]] = {"reference": [], "within": [], "command": []}
    for number in range(rounds):
        costs["reference"].append(run("-c", REFERENCE, file, shape))
        for kind in ("within", "command"):
            folder = base / f"{kind}-{number}"
            folder.mkdir()
            words = ["-c", WITHIN, folder, file, order]
            if kind == "command":
                words = ["-m", "challenge", "add", folder, file]
                if order:
                    words += ["--date-order", "dmy"]
            costs[kind].append(run(*words))
    print(f"{rows} rows, {file.stat().st_size / 1e6:.0f} MB, times {form}; limits 4 and 3")
    theirs = costs["reference"]
    report("within", [within(c) for c in costs["within"]], [within(c) for c in theirs])
    report(
        "whole command",
        [(c.wall, c.cpu) for c in costs["command"]],
        [(c.wall, c.cpu) for c in theirs],
    )
    ours, other = [c.peak for c in costs["command"]], [c.peak for c in theirs]
    print(
        f"  peak memory: {statistics.median(ours):.0f} MB against {statistics.median(other):.0f} "
        f"MB, ratio {ratio(ours, other)}"
    )


def usual(base: Path, rounds: int) -> None:
    run("-c", USUAL, base)
    costs: dict[str, list[Cost]] = {"import pandas": [], "csv": [], "xlsx": []}
    files = {"csv": [base / "scores.csv", base / "foods.csv"], "xlsx": [base / "diary.xlsx"]}
    for number in range(rounds):
        costs["import pandas"].append(run("-c", "import pandas"))
        for kind, given in files.items():
            folder = base / f"usual-{kind}-{number}"
            folder.mkdir()
            costs[kind].append(run("-m", "challenge", "add", folder, *given))
    print("usual diary, 1500 scores and 1000 foods; limit 1.3 times importing pandas")
    for kind in files:
        report(
            f"whole command, {kind}",
            [(c.wall, c.cpu) for c in costs[kind]],
            [(c.wall, c.cpu) for c in costs["import pandas"]],
        )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--form", choices=("iso", "day-first"), default="iso")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        usual(base, 3 * told.rounds)
        large(base, told.rows, told.rounds, told.form)


if __name__ == "__main__":
    main()
