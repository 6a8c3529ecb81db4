"""A challenge, or some steps of one, eaten again: what can be asked for, and where it is laid."""

from __future__ import annotations

import datetime as dt

import pytest

from challenge.errors import ChallengeError
from challenge.protocol.progress import progress
from challenge.protocol.record import Event, Record
from challenge.protocol.repeats import add_repeats
from challenge.protocol.replan import replan
from challenge.protocol.schedule import build_plan
from challenge.protocol.settings import Settings

START = dt.date(2026, 3, 2)
PROTOCOL = {"groups": ["lactose", "fructose"]}
SETTINGS = Settings.model_validate({"protocol": PROTOCOL})
PLAN = build_plan(SETTINGS, START)  # bbbbbbb L1 L2 L3 www F1 F2 F3 www


def day(number):
    return START + dt.timedelta(days=number - 1)


def followed(plan, until, skip=(), events=()):
    """A diary of days 1 to ``until``: all doses but those skipped, and quiet scores."""
    scores = {
        d.date: {"pain": dict.fromkeys(("morning", "midday", "evening"), 1.0)}
        for d in plan
        if d.date <= day(until) and d.phase != "rest"
    }
    eaten = {
        d.date: {d.fodmap_group: d.fodmap_g}
        for d in plan
        if d.phase == "challenge" and d.date <= day(until) and d.date not in map(day, skip)
    }
    return Record(scores=scores, eaten=eaten, events=events)


def with_repeats(*wanted, plan=PLAN, until=19, skip=(), settings=SETTINGS):
    repeats = add_repeats(wanted, plan, followed(plan, until, skip), settings, day(until + 1))
    return settings.model_copy(
        update={"protocol": settings.protocol.model_copy(update={"repeats": repeats})}
    )


def shape(plan):
    marks = {"baseline": "b", "washout": "w", "rest": "."}
    return "".join(
        marks.get(d.phase) or f"{d.fodmap_group[0].upper()}{d.step}" + "'" * (d.cycle - 1)
        for d in plan
    )


def test_a_repeat_is_laid_behind_everything_with_its_washout():
    settings = with_repeats("lactose=2")
    laid = replan(PLAN, followed(PLAN, 19), settings, day(20))
    assert shape(laid.plan) == shape(PLAN) + "L2'www"
    again = replan(laid.plan, followed(laid.plan, 19), settings, day(20))
    assert again.plan == laid.plan and not again.changed


def test_it_waits_behind_what_is_still_to_come():
    settings = with_repeats("lactose", until=11)
    laid = replan(PLAN, followed(PLAN, 11), settings, day(12))
    assert shape(laid.plan) == shape(PLAN) + "L1'L2'L3'www"


@pytest.mark.parametrize(
    ("wanted", "steps"),
    [("lactose", ()), ("lactose=2", (2,)), ("lactose=1-3", (1, 2, 3)), (" Lactose=3,1", (1, 3))],
)
def test_steps_are_read(wanted, steps):
    (repeat,) = with_repeats(wanted).protocol.repeats
    assert (repeat.fodmap_group, repeat.cycle, repeat.steps) == ("lactose", 2, steps)


def test_cycles_count_on():
    settings = with_repeats("lactose=1")
    laid = replan(PLAN, followed(PLAN, 19), settings, day(20)).plan
    settings = with_repeats("lactose=3", plan=laid, until=23, settings=settings)
    assert [(r.cycle, r.steps) for r in settings.protocol.repeats] == [(2, (1,)), (3, (3,))]
    laid = replan(laid, followed(laid, 23), settings, day(24)).plan
    assert shape(laid) == shape(PLAN) + "L1'wwwL3''www"


def test_everything_that_cannot_be_laid_is_said_at_once():
    with pytest.raises(ChallengeError) as failure:
        with_repeats(
            "lactse", "lactose=", "lactose=0", "lactose=5", "sorbitol", "fructose", "lactose=3",
            until=13, skip=(9, 10),
        )  # fmt: skip
    said = [problem.message for problem in failure.value.problems]
    assert [text.split(":")[0].split(",")[0] for text in said] == [
        "'lactse' is no challenge to repeat",
        "'lactose=' is no challenge to repeat",
        "lactose has no step 0; it has 1",
        "lactose has no step 5; it has 1",
        "sorbitol is not among the groups of client.toml.",
        "Step 1 of fructose stands in the plan already",
        "Step 3 of lactose comes only after step 2",
    ]


def test_one_step_beyond_those_eaten_can_be_asked_for():
    (repeat,) = with_repeats("lactose=2", skip=(9, 10)).protocol.repeats
    assert repeat.steps == (2,)
    with pytest.raises(ChallengeError) as failure:
        with_repeats("lactose=2", "lactose=1")
    (said,) = failure.value.problems
    assert "named twice" in said.message


def test_after_months_some_days_without_a_dose_come_first():
    """Days of months ago do not tell how the client is now."""
    settings = with_repeats("lactose=2")
    for today, rest, washout in ((33, 13, 1), (34, 14, 7), (90, 70, 7)):
        laid = replan(PLAN, followed(PLAN, 19), settings, day(today))
        assert shape(laid.plan) == shape(PLAN) + "." * rest + "w" * washout + "L2'www"
        assert any(f"Nothing was entered for {rest} days" in why for why in laid.reasons) == (
            washout == 7
        )
    for later in range(91, 97):
        again = replan(laid.plan, followed(laid.plan, later - 1), settings, day(later))
        assert again.plan == laid.plan
    assert f"{day(97)}" == f"{next(d.date for d in laid.plan if d.cycle == 2)}"


def test_closed_dates_and_illness_keep_their_own_rules():
    closed = [{"start": str(day(14)), "end": str(day(34)), "reason": "travel"}]
    settings = Settings.model_validate({"protocol": {**PROTOCOL, "closed": closed}})
    plan = build_plan(settings, START)
    laid = replan(plan, followed(plan, 34), settings, day(35))
    assert not any("Nothing was entered" in why for why in laid.reasons)
    ill = [Event(start=day(14), end=day(14), event="antibiotics", note="")]
    laid = replan(PLAN, followed(PLAN, 13, events=ill), SETTINGS, day(14))
    assert "." * 20 in shape(laid.plan)
    again = replan(laid.plan, followed(laid.plan, 13, events=ill), SETTINGS, day(42))
    assert not any("Nothing was entered" in why for why in again.reasons)


def test_a_repeat_of_what_the_screening_holds_up_is_not_laid():
    settings = with_repeats("lactose=2", "fructose")
    held = settings.model_copy(
        update={"screening": settings.screening.model_copy(update={"allergies": ("milk",)})}
    )
    laid = replan(PLAN, followed(PLAN, 19), held, day(20))
    assert not any(d.fodmap_group == "lactose" and d.cycle == 2 for d in laid.plan)
    assert "F1'F2'F3'" in shape(laid.plan)


def test_a_stop_ends_a_repeat_too():
    settings = with_repeats("lactose=1-3")
    laid = replan(PLAN, followed(PLAN, 19), settings, day(20)).plan
    record = followed(laid, 21)
    high = {"pain": dict.fromkeys(("morning", "midday", "evening"), 9.0)}
    record = Record(scores={**record.scores, day(21): high}, eaten=record.eaten)
    assert progress(laid, record, settings, day(22)).courses["lactose", 2].stop is not None
    assert shape(replan(laid, record, settings, day(22)).plan) == shape(PLAN) + "L1'L2'www"


@pytest.mark.parametrize(
    "repeats",
    [
        [{"fodmap_group": "lactose", "cycle": 1}],
        [{"fodmap_group": "lactose", "cycle": 2, "steps": [2, 1]}],
        [{"fodmap_group": "lactose"}],
        [{"fodmap_group": "lactose", "cycle": 2}, {"fodmap_group": "lactose", "cycle": 2}],
    ],
)
def test_settings_that_mean_nothing_are_refused(repeats):
    with pytest.raises(ValueError, match=r"repeats"):
        Settings.model_validate({"protocol": {"repeats": repeats}})


def protocol_of(**changes):
    return Settings.model_validate({"protocol": {**PROTOCOL, **changes}})


def refused(settings, *wanted, record=None, plan=PLAN):
    with pytest.raises(ChallengeError) as failure:
        add_repeats(wanted, plan, record or followed(PLAN, 19), settings, day(20))
    return [problem.message for problem in failure.value.problems]


def test_what_would_not_be_laid_is_refused_and_not_written_all_the_same():
    assert refused(SETTINGS, "glucose") == [
        "client.toml asks for no control challenge: --control lays one."
    ]
    (held,) = refused(
        SETTINGS.model_copy(
            update={"screening": SETTINGS.screening.model_copy(update={"allergies": ("milk",)})}
        ),
        "lactose",
    )
    assert held.startswith("lactose")
    fewer = protocol_of(doses={"lactose": {"grams": [3.0, 6.0]}})
    assert refused(fewer, "lactose=3") == ["lactose has no step 3; it has 1, 2."]
    (empty,) = refused(SETTINGS, "lactose", record=Record(scores={}, eaten={}))
    assert empty.startswith("Nothing is in the diary yet")


def stopped(at):
    """Doses of lactose up to a step that ended the challenge."""
    record = followed(PLAN, 19, skip=range(8 + at, 11))
    high = {"pain": dict.fromkeys(("morning", "midday", "evening"), 9.0)}
    return Record(scores={**record.scores, day(7 + at): high}, eaten=record.eaten)


def test_nothing_above_a_stop_is_laid_alone():
    (why,) = refused(SETTINGS, "lactose=3", record=stopped(2))
    assert "ended after step 2" in why and why.endswith("Lay lactose=2, or lactose=1-3.")
    for allowed in ("lactose=1", "lactose=2", "lactose=2-3", "lactose"):
        assert add_repeats([allowed], PLAN, stopped(2), SETTINGS, day(20))


def test_who_breaks_off_a_challenge_for_months_does_not_go_on_with_its_top_dose():
    known = followed(PLAN, 9)
    laid = replan(PLAN, known, SETTINGS, day(100))
    assert shape(laid.plan).startswith("bbbbbbbL1L2L3wwwF1F2F3www" + "." * 80 + "wwwwwwwL3www")
    assert any("7 days without a dose come first" in why for why in laid.reasons)


def test_days_to_look_are_counted_over_an_illness_and_closed_dates():
    settings = with_repeats("lactose=2")
    laid = replan(PLAN, followed(PLAN, 19), settings, day(90)).plan
    ill = [Event(start=day(92), end=day(92), event="illness", note="")]
    known = followed(laid, 92, events=ill)
    again = replan(laid, known, settings, day(93)).plan
    assert shape(again)[len(shape(PLAN)) :] == "." * 70 + "www" + "." * 7 + "wwwwL2'www"
    closed = [{"start": str(day(25)), "end": str(day(30)), "reason": "travel"}]
    away = protocol_of(closed=closed, repeats=[{"fodmap_group": "lactose", "cycle": 2}])
    laid = replan(PLAN, followed(PLAN, 19), away, day(40)).plan
    assert shape(laid).endswith("." * 20 + "wwwwwwwL1'L2'L3'www")


def test_while_days_are_looked_at_nobody_is_sent_to_ask():
    settings = with_repeats("lactose=2")
    laid = replan(PLAN, followed(PLAN, 19), settings, day(90))
    assert not laid.progress.washout.ask


def test_a_challenge_that_was_eaten_or_stopped_is_not_said_to_be_given_up():
    twice = protocol_of(cycles=2)
    plan = build_plan(twice, START)
    last = max(d.date for d in plan if d.fodmap_group == "lactose" and d.phase == "challenge")
    known = followed(plan, (last - START).days + 1)
    assert not any(
        "Challenge 2 of lactose" in w for w in replan(plan, known, SETTINGS, last).reasons
    )


def test_the_days_to_look_end_for_who_scores_though_the_plan_is_never_laid():
    settings = with_repeats("lactose=2")
    known = followed(PLAN, 19)
    quiet = {"pain": dict.fromkeys(("morning", "midday", "evening"), 1.0)}
    for number in range(90, 97):
        assert replan(PLAN, known, settings, day(number)).plan.on(day(number)).phase == "washout"
        known = Record(scores={**known.scores, day(number): quiet}, eaten=known.eaten)
    assert replan(PLAN, known, settings, day(97)).plan.on(day(97)).step == 2


def test_an_absence_within_the_plan_counts_too():
    laid = replan(PLAN, followed(PLAN, 8), SETTINGS, day(40))
    assert laid.plan.on(day(40)).phase == "washout"
    assert shape(laid.plan).endswith("wwwwwwwL2L3wwwF1F2F3www")


def test_a_step_above_a_stop_is_not_laid_after_a_lower_one_went_well():
    settings = with_repeats("lactose=1")
    laid = replan(PLAN, stopped(2), settings, day(20)).plan
    once = next(d for d in laid if d.cycle == 2)
    eaten = {**stopped(2).eaten, once.date: {"lactose": once.fodmap_g}}
    known = Record(scores=stopped(2).scores, eaten=eaten)
    (why,) = refused(settings, "lactose=3", record=known, plan=laid)
    assert "ended after step 2" in why
