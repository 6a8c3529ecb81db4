"""Make the four sample clients anew: ``python sample_diaries/make_samples.py``.

They are invented from a seed. Nobody real stands behind them and nothing can be learnt from them
about food or people. The story of each is in README.md.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np

from challenge.practice.folders import write_client
from challenge.protocol.plan import Plan
from challenge.simulation.clients import SimulatedClient, simulate_client
from challenge.simulation.days import Background, Event
from challenge.simulation.showcase import FOODS
from challenge.simulation.world import World
from challenge.simulation.worlds import USUAL

HERE = Path(__file__).parent
SEED = 2026


def only(*groups: str, mild: float = 0.35) -> World:
    """Return the usual world for one client who reacts to these groups and no other."""
    shares = {group: 1.0 if group in groups else 0.0 for group in USUAL.reacting_share}
    return replace(
        USUAL,
        doses={**USUAL.doses, **FOODS},
        reacting_share=shares,
        mild_share=mild,
        start=dt.date(2026, 3, 2),
        start_spread_days=0,
    )


def juniper() -> SimulatedClient:
    """Return a client with a clear reaction to one group, two cycles."""
    world = replace(only("fructans"), plateau_median=4.2, plateau_sd_log=0.1, cycles=2)
    return simulate_client(world, SEED, 4, code="juniper")


def rowan() -> SimulatedClient:
    """Return a client who tolerates nearly everything."""
    world = replace(only("mannitol"), threshold_low=1.3, threshold_high=1.6)
    return simulate_client(replace(world, start=dt.date(2026, 4, 13)), SEED, 8, code="rowan")


def hazel() -> SimulatedClient:
    """Return a client nobody could judge: gaps, illness, washouts cut short."""
    world = replace(
        only("gos", "lactose"),
        start=dt.date(2026, 5, 4),
        baseline_days=5,
        missing_slot=0.3,
        missing_day=0.1,
        missing_run_days=3.0,
        late_entry=0.3,
        missed_dose=0.3,
        day_sd=1.1,
        flare_rate=0.12,
    )

    def story(plan: Plan, background: Background) -> tuple[Plan, Background]:
        days = list(plan)
        # two washouts ended after a day because of a holiday that was coming up
        for group in plan.groups()[1:3]:
            washout = [d for d in days if d.phase == "washout" and d.fodmap_group == group]
            days = [d for d in days if d not in washout[1:]]
        start = days[0].date
        shorter = Plan(
            tuple(replace(d, date=start + dt.timedelta(days=k)) for k, d in enumerate(days))
        )
        points = background.points[: len(days)].copy()
        ill = next(k for k, d in enumerate(days) if d.phase == "challenge" and d.step == 2)
        points[ill : ill + 4] += np.array([2.5, 4.0, 3.0, 1.5])[:, None, None]
        illness = Event(first=ill, last=ill + 3, name="illness", logged=True)
        events = tuple(e for e in background.events if e.last < len(days))
        away = background.away[: len(days)].copy()
        return shorter, replace(background, points=points, events=(*events, illness), away=away)

    return simulate_client(world, SEED, 11, code="hazel", change=story)


def sorrel() -> SimulatedClient:
    """Return a client with two reactions, whose files are written by ``write_messy``."""
    world = replace(only("lactose", "sorbitol"), plateau_median=3.5)
    return simulate_client(replace(world, start=dt.date(2026, 3, 30)), SEED, 5, code="sorrel")


SETTINGS = """\
# Invented sample; nobody real.
client = "{code}"

[analysis]
margin = 1.0
"""

MESSY_SETTINGS = """\
# Invented sample; nobody real.
# The client keeps her own spreadsheet: semicolons, decimal commas, days first, 12-hour clock.
client = "sorrel"

[analysis]
margin = 1.0

[diary.columns]
"Tummy ache" = "pain"
"Bloated" = "bloating"
"Wind" = "wind"
"Uncomfortable" = "discomfort"
"Urgent" = "urgency"
"What" = "food"
"How much" = "portion_g"
"Kind" = "fodmap_group"
"Grams of it" = "fodmap_g"
"Remarks" = "note"
"""


def write_messy(folder: Path, client: SimulatedClient) -> None:
    """Rewrite a folder's diary as a spreadsheet that nobody ever tidied."""
    (folder / "symptoms.csv").write_bytes(_wide_symptoms(client).encode("cp1252"))
    (folder / "foods.csv").write_bytes(_messy_foods(client).encode("cp1252"))
    (folder / "client.toml").write_text(MESSY_SETTINGS, encoding="utf-8")


def _wide_symptoms(client: SimulatedClient) -> str:
    table = client.diary.symptoms
    table = table[table["symptom"] != "stool_form"]
    wide = table.pivot_table(index="time", columns="symptom", values="score", aggfunc="first")
    names = ["pain", "bloating", "wind", "discomfort", "urgency"]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\r\n")
    heads = ["Date", "Time", "Tummy ache", "Bloated", "Wind", "Uncomfortable", "Urgent", "Remarks"]
    writer.writerow([*heads, "", ""])
    remarks = {
        7: "slept badly",
        30: "café lunch with the girls",
        61: "“fine” all day",
        90: "naïve to hope…",
    }
    last = None
    for place, (time, row) in enumerate(wide[names].iterrows()):
        if last is not None and time.date() != last and time.weekday() == 0:
            writer.writerow([""] * 10)
        last = time.date()
        cells = ["" if np.isnan(v) else _score(v, place) for v in row]
        writer.writerow([_day(time), _clock(time), *cells, remarks.get(place, ""), "", ""])
    return out.getvalue()


def _score(value: float, place: int) -> str:
    # the spreadsheet shows some cells with a decimal, as spreadsheets do
    return f"{value:.1f}".replace(".", ",") if place % 11 == 4 else f"{value:.0f}"


def _messy_foods(client: SimulatedClient) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\r\n")
    writer.writerow(["Date", "Time", "What", "How much", "Kind", "Grams of it", "Remarks", ""])
    for place, row in enumerate(client.diary.foods.itertuples()):
        group = str(row.fodmap_group)
        kind = group.capitalize() if place % 2 else f" {group} "
        food = str(row.food).replace("porridge oats", "Porridge oats, crème brûlée flavour")
        writer.writerow(
            [
                _day(row.time),
                _clock(row.time),
                food,
                _comma(row.portion_g),
                kind if group else "",
                _comma(row.fodmap_g),
                "½ of it left" if place == 40 else "",
                "",
            ]
        )
    return out.getvalue()


def _day(time: dt.datetime) -> str:
    return f"{time.day:02d}/{time.month:02d}/{time.year}"


def _clock(time: dt.datetime) -> str:
    return f"{(time.hour - 1) % 12 + 1}:{time.minute:02d} {'am' if time.hour < 12 else 'pm'}"


def _comma(value: float) -> str:
    return "" if np.isnan(value) else f"{value:g}".replace(".", ",")


def make(directory: Path) -> None:
    """Write the four folders below a directory, in place of those that are there."""
    for client in (juniper(), rowan(), hazel(), sorrel()):
        shutil.rmtree(directory / client.code, ignore_errors=True)
        folder = write_client(directory, client, USUAL.margin)
        text = SETTINGS.format(code=client.code)
        (folder / "client.toml").write_text(text, encoding="utf-8")
        if client.code == "sorrel":
            write_messy(folder, client)


if __name__ == "__main__":
    make(HERE)
    print(f"Wrote four invented clients to {HERE}.")
