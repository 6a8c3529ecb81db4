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


def make_client(place: Path, settings: str = SCREENED) -> Path:
    """Make the folder and lay its plan; the plan is always that of a client who may start."""
    folder = place / "juniper"
    folder.mkdir()
    (folder / "client.toml").write_text(SCREENED, encoding="utf-8")
    write_plan(folder, plan_of(folder))
    (folder / "client.toml").write_text(settings, encoding="utf-8")
    return folder


def plan_of(folder: Path) -> Plan:
    return build_plan(read_settings(folder), START)
