"""A short plan with a day of every kind, invented, and the sheet made from it."""

import datetime as dt

from challenge.files.plan_file import parse_plan
from challenge.logbook.sheet import build_sheet
from challenge.protocol.plan import Plan
from challenge.protocol.settings import Settings
from challenge.wording import load_words

LONG = "plums stewed for the invented client in their own juice, drained, without stones or skins"
PLAN_TEXT = f"""date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g
2026-03-01,baseline,,,,,,
2026-03-02,challenge,1,lactose,1,cow's milk,62,3
2026-03-03,challenge,1,lactose,2,cow's milk,250,12
2026-03-04,washout,,lactose,,,,
2026-03-05,rest,,,,,,
2026-03-06,washout,,lactose,,,,
2026-03-07,challenge,1,sorbitol,1,"{LONG}",45.5,2
2026-03-08,washout,,sorbitol,,,,
2026-03-09,rest,,,,sachet A1,12.5,
"""


def make_plan(text=PLAN_TEXT):
    days, problems = parse_plan(text, "plan.csv")
    assert not problems
    return Plan(days=tuple(days))


def make_settings(**diary):
    return Settings.model_validate({"client": "elder", "diary": diary})


def make_sheet(language="en", held=lambda day: False, **diary):
    plan = make_plan()
    return build_sheet(
        plan, plan.days, make_settings(**diary), load_words(language), client="elder", held=held
    )


def on(sheet, day):
    return next(one for one in sheet.days if one.date == dt.date(2026, 3, day))
