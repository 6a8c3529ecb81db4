"""What `challenge today` asked for counts when it was eaten, whatever the file still says."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

import pytest

from challenge.protocol.adherence import check_adherence
from challenge.protocol.follow import followed
from challenge.protocol.guidance import guide
from challenge.protocol.plan import Plan
from challenge.protocol.record import Event, Record
from challenge.protocol.replan import replan
from challenge.protocol.schedule import build_plan
from challenge.protocol.settings import Settings
from tests.analysis.making import make_diary

START = dt.date(2026, 3, 2)
SETTINGS = Settings.model_validate(
    {"protocol": {"groups": ["sorbitol", "lactose"]}, "screening": {}}
)
PLAN = build_plan(SETTINGS, START)  # bbbbbbb S1 S2 S3 www L1 L2 L3 www


def day(number):
    return START + dt.timedelta(days=number - 1)


def shape(plan):
    marks = {"baseline": "b", "washout": "w", "rest": "."}
    return "".join(marks.get(d.phase) or f"{d.fodmap_group[0].upper()}{d.step}" for d in plan)


def obedient(until, forgets=(), events=()):
    """A client who eats each morning what `today` says, but on days forgotten, and scores."""
    record = Record(scores={}, eaten={}, events=[])
    for number in range(1, until + 1):
        date = day(number)
        known = [event for event in events if event.start <= date]
        record = Record(scores=record.scores, eaten=record.eaten, events=known)
        today = guide(PLAN, record, SETTINGS, date)
        eaten = dict(record.eaten)
        if today.situation == "dose" and number not in forgets:
            eaten[date] = {today.portion.fodmap_group: today.portion.fodmap_g}
            after = guide(PLAN, Record(scores=record.scores, eaten=eaten), SETTINGS, date)
            assert after.situation == "dose-eaten"
        quiet = {"pain": dict.fromkeys(("morning", "midday", "evening"), 1.0)}
        record = Record(scores={**record.scores, date: quiet}, eaten=eaten, events=known)
    return record


def test_who_forgets_a_dose_and_then_follows_today_has_done_every_challenge():
    for forgets in ([8], [9], [10], [8, 9], [14], [9, 15]):
        record = obedient(26, forgets)
        done = followed(PLAN, record, SETTINGS, day(26))
        laid = replan(done, record, SETTINGS, day(27))
        eaten = [(d.fodmap_group, d.step) for d in done if d.tested and d.date in record.eaten]
        assert eaten == [(g, s) for g in ("sorbitol", "lactose") for s in (1, 2, 3)], forgets
        assert not any(d.tested for d in laid.plan if d.date > day(26))
        assert "laid again" not in " ".join(laid.reasons)


def test_the_step_that_was_asked_for_is_taken_though_half_of_the_next_would_do():
    """2 g of sorbitol are half of the 4 g that the file has for that day."""
    record = obedient(9, [8])
    assert shape(followed(PLAN, record, SETTINGS, day(9))) == "bbbbbbbS1S1S3wwwL1L2L3www"


def test_a_plan_that_is_kept_stays():
    for record in (obedient(19), Record(scores={}, eaten={})):
        assert followed(PLAN, record, SETTINGS, day(19)) == PLAN
    assert followed(Plan(()), obedient(8), SETTINGS, day(8)) == Plan(())


def test_what_nobody_asked_for_is_no_challenge():
    """A dose on a day on which the plan, laid again, had none, or another group."""
    record = obedient(19)
    for number, group in ((3, "lactose"), (12, "sorbitol"), (18, "sorbitol"), (19, "fructose")):
        eaten = {**record.eaten, day(number): {group: 3.0}}
        more = Record(scores=record.scores, eaten=eaten)
        assert followed(PLAN, more, SETTINGS, day(19)) == PLAN


def test_another_amount_than_was_asked_for_is_not_that_dose():
    record = obedient(8, [8])
    for grams, step in ((2.0, 1), (2.4, 1), (3.0, 2), (4.0, 2)):
        more = Record(scores=record.scores, eaten={day(9): {"sorbitol": grams}})
        assert followed(PLAN, more, SETTINGS, day(9)).on(day(9)).step == step


def test_a_file_without_the_challenge_gets_none():
    record = obedient(19)
    bare = Plan(
        tuple(
            replace(d, phase="rest", cycle=None, step=None, fodmap_group=None, food="",
                    portion_g=None, fodmap_g=None) if d.tested == "lactose" else d
            for d in PLAN
        )
    )  # fmt: skip
    assert followed(bare, record, SETTINGS, day(19)) == bare


def test_after_an_illness_the_days_beyond_the_old_plan_count_too():
    ill = [Event(start=day(14), end=day(14), event="illness", note="")]
    record = obedient(28, events=ill)
    done = followed(PLAN, record, SETTINGS, day(28))
    assert done.days[-1].date > PLAN.days[-1].date
    assert shape(done).endswith("L1L2L3")
    assert [d.date for d in done] == [day(n + 1) for n in range(len(done))]


def test_the_check_finds_nothing_to_say_of_it():
    record = obedient(20, [8])
    done = followed(PLAN, record, SETTINGS, day(20))

    def eaten(d):
        return record.eaten.get(d.date, {}).get(d.fodmap_group)

    diary = make_diary(done, lambda *_: 1, symptoms=("pain",), eaten=eaten)
    found = {p.code for p in check_adherence(diary, PLAN, SETTINGS, day(21))}
    assert not found & {"dose-beyond-plan", "wrong-group", "dose-changed", "second-group"}


@pytest.mark.parametrize("seed", range(30))
def test_whoever_follows_today_stands_as_if_the_plan_were_laid_every_morning(seed):
    """Forgotten doses, illness and stops at random; the dietitian runs ``plan`` never or daily."""
    draw = random.Random(seed)
    settings = Settings.model_validate(
        {
            "protocol": {
                "groups": draw.sample(["sorbitol", "lactose", "fructose", "gos"], 2),
                "cycles": draw.choice([1, 2]),
                "days_between_steps": draw.choice([0, 0, 2]),
            }
        }
    )
    never = daily = build_plan(settings, START)
    ill = draw.randint(8, 30)
    record = Record(scores={}, eaten={}, events=[])
    for number in range(1, 61):
        date = day(number)
        if number == ill and seed % 2:
            event = Event(start=date, end=date, event="illness", note="")
            record = replace(record, events=[event])
        asked = guide(never, record, settings, date)
        daily = replan(followed(daily, record, settings, date), record, settings, date).plan
        planned = guide(daily, record, settings, date)
        assert asked.portion == planned.portion, number
        eaten = dict(record.eaten)
        level = 1.0
        if asked.portion is not None and draw.random() > 0.15:
            eaten[date] = {asked.portion.fodmap_group: asked.portion.fodmap_g}
            level = draw.choice([1.0] * 9 + [8.0])
        scores = {"pain": dict.fromkeys(("morning", "midday", "evening"), level)}
        record = replace(record, scores={**record.scores, date: scores}, eaten=eaten)

    def counted(plan):
        done = followed(plan, record, settings, day(60))
        return [(d.date, d.tested, d.cycle, d.step) for d in done if d.date in record.eaten]

    assert counted(never) == counted(daily)


@pytest.mark.parametrize(
    "changes",
    [{"washout_days": 5}, {"days_per_step": 2}, {"groups": ["lactose"]},
     {"doses": {"sorbitol": {"grams": [1.0, 2.0, 3.0]}}}],
)  # fmt: skip
def test_what_was_eaten_as_asked_does_not_depend_on_settings_of_today(changes):
    record = obedient(26, [9, 15])
    protocol = {"groups": ["sorbitol", "lactose"], **changes}
    later = Settings.model_validate({"protocol": protocol})
    before = followed(PLAN, record, SETTINGS, day(26))
    assert followed(PLAN, record, later, day(26)) == before
    held = SETTINGS.model_copy(
        update={"screening": SETTINGS.screening.model_copy(update={"allergies": ("milk",)})}
    )
    assert followed(PLAN, record, held, day(26)) == before


def test_an_illness_and_scores_written_late_move_no_dose():
    record = obedient(26, [9])
    ill = replace(record, events=[Event(start=day(16), end=day(16), event="illness", note="")])
    assert followed(PLAN, ill, SETTINGS, day(26)) == followed(PLAN, record, SETTINGS, day(26))
    high = {"pain": dict.fromkeys(("morning", "midday", "evening"), 8.0)}
    known = obedient(10, [9])
    late = replace(known, scores={**known.scores, day(8): high})
    assert followed(PLAN, late, SETTINGS, day(10)).on(day(10)).step == 2


@pytest.mark.parametrize("part", [0.55, 0.8, 1.4, 1.9])
def test_a_part_of_the_dose_counts_on_a_moved_day_as_on_its_own(part):
    record = obedient(10, [8])
    amount = guide(PLAN, record, SETTINGS, day(11)).portion.fodmap_g * part
    more = replace(record, eaten={**record.eaten, day(11): {"sorbitol": amount}})
    assert followed(PLAN, more, SETTINGS, day(11)).on(day(11)).step == 3
    assert guide(PLAN, more, SETTINGS, day(11)).situation == "dose-eaten"
