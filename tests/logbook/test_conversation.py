from __future__ import annotations

import datetime as dt

import pytest

from challenge.logbook.conversation import HelpAsked, StopError
from tests.logbook.talking import DAY, NOW, SACHET, answer, asked, of, talk

RATED = [
    ("2026-03-09T08:10", "bloating", "2", "", "2026-03-09T08:11"),
    ("2026-03-09T08:10", "pain", "3", "slept badly", "2026-03-09T08:11"),
]
FED = [("2026-03-09T08:00", "cow's milk", "120", "lactose", "6", "", "2026-03-09T08:11")]


def test_an_ordinary_evening():
    conversation = answer(talk(), "", "3", "10", "y", "8:05", "", "", "4", "12.30", "", "", "tired")
    assert conversation.question is None
    entries = conversation.entries
    assert [(e["time"], e["symptom"], e["score"]) for e in entries.symptoms] == [
        (NOW, "pain", 3),
        (NOW, "bloating", 10),
        (dt.datetime(2026, 3, 9, 12, 30), "stool_form", 4),
    ]
    assert entries.symptoms[0]["note"] == "tired"
    (milk,) = entries.foods
    assert milk["time"] == dt.datetime(2026, 3, 9, 8, 5)
    assert (milk["portion_g"], milk["fodmap_group"], milk["fodmap_g"]) == (120, "lactose", 6)
    assert entries.events == []
    assert not entries.correct


def test_nothing_but_enter_stores_nothing_that_was_not_said():
    conversation = answer(talk(), "n", "n", "", "", "", "")
    assert conversation.question is None
    assert not conversation.entries


def test_scores_come_before_the_plan_is_told():
    conversation = talk()
    while asked(conversation) != "bloating":
        assert "The plan." not in conversation.question.before
        answer(conversation, "" if "time" in asked(conversation) else "1")
    answer(conversation, "1")
    assert conversation.question.before == ("The plan.",)
    assert asked(conversation) == "Have you eaten the cow's milk (y/n)"


def test_grams_follow_what_was_really_eaten():
    (milk,) = answer(talk(), "n", "y", "", "62,5").entries.foods
    # 6 g in 120 mL: 62.5 mL hold 3.125 g
    assert (milk["portion_g"], milk["fodmap_g"]) == (62.5, 3.125)


def test_a_sealed_sachet_is_eaten_whole_and_names_no_group():
    conversation = answer(talk(dose=SACHET), "n", "y", "")
    assert asked(conversation) == "Another food or drink to write down"
    (sachet,) = conversation.entries.foods
    assert sachet["food"] == "sachet A2"
    assert (sachet["portion_g"], sachet["fodmap_group"], sachet["fodmap_g"]) == (None, None, None)


def test_a_day_without_challenge_food_asks_for_none():
    conversation = answer(talk(dose=None), "n")
    assert asked(conversation) == "Another food or drink to write down"
    assert conversation.question.before == ("The plan.",)


def test_other_food_and_unusual_things():
    conversation = answer(
        talk(dose=None), "n", "toast", "40 g", "7:30", "tea", "", "", "", "", "6, 7", ""
    )
    assert conversation.question is None
    foods = conversation.entries.foods
    assert [(f["food"], f["portion_g"], f["fodmap_group"]) for f in foods] == [
        ("toast", 40, None),
        ("tea", None, None),
    ]
    assert [(e["event"], e["start"], e["end"]) for e in conversation.entries.events] == [
        ("travel", DAY, DAY),
        ("stress", DAY, DAY),
    ]


def test_a_note_alone_becomes_an_event():
    (event,) = answer(talk(dose=None), "n", "", "", "", "rested all day").entries.events
    assert (event["event"], event["note"]) == ("other", "rested all day")


def test_back_takes_the_last_answer_away_and_keeps_the_others():
    conversation = answer(talk(), "8:10", "3", "7", "b", "b", "4", "5")
    assert [e["score"] for e in conversation.entries.symptoms] == [4, 5]
    assert conversation.entries.symptoms[0]["time"].hour == 8
    answer(conversation, "y", "", "b", "b", "b")
    assert conversation.entries.symptoms == []
    assert asked(conversation) == "bloating"
    answer(conversation, "b", "b")
    assert conversation.answer("b") == "This is the first question."


def test_one_key_scores_are_shown_before_they_count():
    conversation = answer(talk(one_key=True), "", "1", "x")
    assert asked(conversation) == "pain 1, bloating 10. Right"
    assert not conversation.entries
    answer(conversation, "b", "0", "")
    assert [e["score"] for e in conversation.entries.symptoms] == [1, 0]


def test_what_is_given_up_is_named():
    conversation = answer(talk(), "", "3")
    assert conversation.question.begun == "the scores (pain 3)"
    answer(conversation, "2")
    assert conversation.question.begun == ""
    answer(conversation, "y", "8:05")
    assert conversation.question.begun == "cow's milk at 08:05"


def test_help_and_stop_are_heard_everywhere():
    conversation = talk()
    while conversation.question is not None:
        with pytest.raises(HelpAsked) as told:
            conversation.answer("?")
        assert str(told.value)
        with pytest.raises(StopError):
            conversation.answer("q")
        question = conversation.question
        answer(conversation, "y" if "eaten" in question.text else "")


@pytest.mark.parametrize("text", ["11", "-1", "3.5", "three", "½", "१", "1 0"])
def test_a_score_is_read_or_refused_never_guessed(text):
    conversation = answer(talk(), "")
    assert "0 to 10" in conversation.answer(text)
    assert asked(conversation) == "pain"


def test_two_in_one_minute_stay_two():
    conversation = answer(talk(written=of(symptoms=[
        ("2026-03-09T19:10", "pain", "3", "", ""),
        ("2026-03-09T19:10", "stool_form", "4", "", ""),
    ])), "", "1", "1", "n", "", "4", "", "5", "", "", "", "")  # fmt: skip
    times = [(e["symptom"], e["time"].minute) for e in conversation.entries.symptoms]
    assert times == [("pain", 11), ("bloating", 11), ("stool_form", 11), ("stool_form", 12)]


def test_a_rating_of_a_time_that_has_one_is_a_correction():
    conversation = talk(written=of(symptoms=RATED))
    assert "c corrects it" in conversation.answer("8:10")
    answer(conversation, "c", "1", "", "5", "")
    entries = conversation.entries
    assert entries.correct
    assert [(e["symptom"], e["score"], e["note"]) for e in entries.symptoms] == [
        ("pain", 5, "slept badly")
    ]
    # and then on with the day, without a rating being pressed for
    assert conversation.question.enter == "no scores"


def test_a_correction_that_changes_nothing_is_none():
    conversation = answer(talk(written=of(FED, RATED)), "c", "2", "", "", "3")
    assert [e["score"] for e in conversation.entries.symptoms] == [3]
    answer(conversation, "b", "2", "c", "1", "", "")
    assert not conversation.entries
    assert not conversation.entries.correct


def test_a_corrected_amount_takes_its_grams_along():
    (milk,) = answer(talk(written=of(FED)), "c", "1", "", "60").entries.foods
    assert (milk["portion_g"], milk["fodmap_group"], milk["fodmap_g"]) == (60, "lactose", 3)


def test_a_corrected_stool_leaves_the_other_of_its_minute():
    written = of(symptoms=[("2026-03-09T08:00", "stool_form", k, "", "") for k in ("3", "5")])
    conversation = answer(talk(written=written), "c", "1", "", "2")
    assert sorted(e["score"] for e in conversation.entries.symptoms) == [2, 5]


def test_a_wrong_time_is_put_right_and_a_wrong_entry_taken_out():
    conversation = answer(talk(written=of(FED, RATED)), "c", "1", "x", "c", "2", "t")
    assert "already" not in conversation.answer("8:00")
    changed = {(row[1], time) for _, row, time in conversation.entries.changed}
    at = dt.datetime(2026, 3, 9, 8, 0)
    assert changed == {("cow's milk", None), ("pain", at), ("bloating", at)}
    # the minute that was left is free again, the one that was taken is not
    assert "There is a rating" in conversation.answer("8:00")
    answer(conversation, "8:10", "1", "1")
    assert len(conversation.entries.symptoms) == 2
    assert not conversation.entries.correct


def test_a_moved_entry_finds_its_place_taken_or_not_come_yet():
    later = ("2026-03-09T12:00", "pain", "5", "", "")
    conversation = answer(talk(written=of(symptoms=[*RATED, later])), "c", "1", "t")
    assert "already" in conversation.answer("12:00")
    assert "still to come" in conversation.answer("20:00")
    answer(conversation, "8:10")


def test_nothing_to_correct():
    assert "Nothing is written down" in talk().answer("c")


def test_what_is_missing_is_said_first_and_enough_is_enough():
    conversation = talk(written=of(symptoms=RATED), wanted=5)
    assert conversation.question.before[0] == (
        "Ratings on Monday: 1 of 5. Not yet: midday, evening."
    )
    assert conversation.question.enter == "now, 19:10"
    full = talk(written=of(symptoms=RATED), wanted=1)
    assert full.question.before[0] == "Ratings on Monday: 1 of 1."
    assert full.question.enter == "no scores"


def test_after_midnight_the_evening_goes_on():
    conversation = talk(now=dt.datetime(2026, 3, 10, 0, 40))
    assert conversation.question.enter == "now, 00:40"
    answer(conversation, "", "1", "1", "y")
    # a dose counts for its date, so "now" is no answer any more
    assert conversation.answer("") == "Write the time like 08:10."
    answer(conversation, "23:50", "")
    assert conversation.entries.symptoms[0]["time"] == dt.datetime(2026, 3, 10, 0, 40)
    assert conversation.entries.foods[0]["time"] == dt.datetime(2026, 3, 9, 23, 50)


def test_another_day_has_no_now():
    conversation = talk(now=dt.datetime(2026, 3, 10, 9))
    assert conversation.question.enter == "no scores"
    answer(conversation, "0:30", "1", "1")
    assert conversation.entries.symptoms[0]["time"] == dt.datetime(2026, 3, 10, 0, 30)
    answer(conversation, "y")
    assert conversation.answer("") == "Write the time like 08:10."


def test_clock_change_nights():
    """Europe/London, 2026: the clocks go forward on 29 March and back on 25 October (IANA)."""
    spring = talk(
        now=dt.datetime(2026, 3, 29, 2, 10), date=dt.date(2026, 3, 28), zone="Europe/London"
    )
    assert "did not exist" in spring.answer("1:30")
    answer(spring, "0:59", "1", "1")
    autumn = talk(
        now=dt.datetime(2026, 10, 25, 1, 30), date=dt.date(2026, 10, 24), zone="Europe/London"
    )
    answer(autumn, "1:30", "1", "1")
    assert autumn.entries.symptoms[0]["time"].minute == 30
