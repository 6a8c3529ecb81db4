"""A client with three days of baseline and then lactose, for tests of the daily log."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from challenge.files.reading import read_settings
from challenge.files.writing import write_plan
from challenge.protocol.plan import Plan
from challenge.protocol.schedule import build_plan

START = dt.date(2026, 3, 2)
DOSE_DAY = dt.date(2026, 3, 5)

SCREENED = """client = "juniper"
[screening]
asked_on = 2026-03-01
asked_by = "AB"
diagnosed_by_doctor = true
coeliac_test = "negative"
coeliac_test_on_gluten = true
restriction_weeks = 5
restriction_helped = true
conditions = []

[protocol]
groups = ["lactose"]
baseline_days = 3

[diary]
timezone = "Europe/London"
ratings_per_challenge_day = 5
"""


def make_client(place: Path, settings: str = SCREENED, planned: str = SCREENED) -> Path:
    """Make the folder with its settings; the plan is laid under others, of one who may start."""
    folder = place / "juniper"
    folder.mkdir()
    (folder / "client.toml").write_text(planned, encoding="utf-8")
    write_plan(folder, plan_of(folder))
    (folder / "client.toml").write_text(settings, encoding="utf-8")
    return folder


def score_baseline(folder: Path) -> None:
    """Write the scores of the three days before the first dose."""
    lines = ["time,symptom,score,note,entered_at"]
    for day in (2, 3, 4):
        for clock in ("08:10", "13:00", "20:00"):
            lines += [f"2026-03-0{day}T{clock},{s},1,," for s in ("pain", "bloating")]
    (folder / "symptoms.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def eat_all_doses(folder: Path) -> None:
    """Write the doses of the three days from the first on."""
    doses = [(5, 60, 3), (6, 120, 6), (7, 245, 12)]
    lines = ["time,food,portion_g,fodmap_group,fodmap_g,note,entered_at"]
    lines += [f"2026-03-0{d}T08:00,cow's milk,{ml},lactose,{g},," for d, ml, g in doses]
    (folder / "foods.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def plan_of(folder: Path) -> Plan:
    return build_plan(read_settings(folder), START)
