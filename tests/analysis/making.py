"""Diaries made by hand: a week of baseline, then challenges of rising doses, washout between.

And, for the tests of one group, pairs and reference days without a diary.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd

from challenge.analysis.pairs import PairedDays
from challenge.analysis.tests import Backdrop
from challenge.diary.model import Diary
from challenge.protocol.plan import Plan, PlanDay

START = dt.date(2026, 3, 2)
GRAMS = {1: 2.0, 2: 4.0, 3: 8.0}


def make_plan(groups=("lactose",), baseline=7, washout=3, cycles=1):
    days = [PlanDay(date=START, phase="baseline")] * baseline
    for cycle in range(1, cycles + 1):
        for group in groups:
            for step, grams in GRAMS.items():
                days.append(
                    PlanDay(
                        date=START, phase="challenge", cycle=cycle, fodmap_group=group, step=step,
                        food="test food", portion_g=100.0, fodmap_g=grams,
                    )
                )  # fmt: skip
            days += [PlanDay(date=START, phase="washout", fodmap_group=group)] * washout
    return Plan(
        tuple(replace(day, date=START + dt.timedelta(days=i)) for i, day in enumerate(days))
    )


def make_foods(plan, hour=8, eaten=lambda day: day.fodmap_g):
    rows = []
    for day in plan:
        if day.phase == "challenge" and (grams := eaten(day)):
            stamp = pd.Timestamp(day.date) + pd.Timedelta(hours=hour)
            rows.append((stamp, day.food, 100.0, day.fodmap_group, grams, "", pd.NaT, False))
    names = ["time", "food", "portion_g", "fodmap_group", "fodmap_g", "note", "entered_at",
             "filled_in"]  # fmt: skip
    table = pd.DataFrame(rows, columns=names)
    table["time"] = pd.to_datetime(table["time"])
    return table.astype({"portion_g": float, "fodmap_g": float, "fodmap_group": object})


def make_scores(rows):
    table = pd.DataFrame(rows, columns=["time", "symptom", "score"])
    table["time"] = pd.to_datetime(table["time"])
    table["note"], table["entered_at"] = "", pd.NaT
    return table.astype({"score": float, "symptom": object})


def no_events():
    return make_events([])


def make_events(rows):
    table = pd.DataFrame(rows, columns=["start", "end", "event"])
    table["start"], table["end"] = pd.to_datetime(table["start"]), pd.to_datetime(table["end"])
    table["note"] = ""
    return table.astype({"event": object})


def make_diary(
    plan, score=None, symptoms=("bloating", "pain"), hours=(8, 13, 20), events=None, **foods
):
    """A diary whose scores are ``score(day_number, hour, symptom)``; None leaves one out."""
    rng = np.random.default_rng(7)
    if score is None:
        drawn = rng.integers(0, 4, size=(len(plan), 24, len(symptoms)))

        def score(day, hour, symptom):
            return drawn[day, int(hour) % 24, symptoms.index(symptom)]

    rows = []
    for number, day in enumerate(plan):
        for hour in hours:
            for symptom in symptoms:
                value = score(number, hour, symptom)
                if value is not None:
                    stamp = pd.Timestamp(day.date) + pd.Timedelta(hours=hour)
                    rows.append((stamp, symptom, value))
    return Diary(
        foods=make_foods(plan, **foods),
        symptoms=make_scores(rows),
        events=no_events() if events is None else make_events(events),
        client="invented",
    )


def paired(differences, cycle=None, step=None):
    n = len(differences)
    return PairedDays(
        cycle=np.array(cycle if cycle is not None else [1] * n),
        step=np.array(step if step is not None else np.arange(n) % 3 + 1),
        challenge_day=np.arange(n) + 50,
        reference_day=np.arange(n),
        challenge=np.array(differences, dtype=float)[:, None] + 2,
        reference=np.full((n, 1), 2.0),
        n_missing=0,
        left_out=(),
    )


def backdrop_of(reference, challenge):
    """Day values of one symptom, the same reference days for every challenge day."""
    reference = np.array(reference, dtype=float)
    return Backdrop(
        challenge=np.array(challenge, dtype=float)[:, None],
        reference=np.tile(reference[None, :, None], (len(challenge), 1, 1)),
    )
