"""``challenge log`` in a terminal, typed at as a tired person does."""

from __future__ import annotations

import sys

import pytest

from challenge.files.folder import IMPORTS
from challenge.files.reading import read_diary
from tests.commands.logging_client import (
    SCREENED,
    eat_all_doses,
    make_client,
    score_baseline,
)

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are of POSIX", allow_module_level=True)

from tests.commands.terminal import Terminal

NOW = "2026-03-05T19:10"


@pytest.fixture
def client(tmp_path):
    folder = make_client(tmp_path)
    score_baseline(folder)
    return folder


@pytest.fixture
def talk(client):
    opened = []

    def start(*words, now=NOW, **env):
        opened.append(Terminal("log", "juniper", *words, now=now, cwd=client.parent, env=env))
        return opened[-1]

    yield start
    for terminal in opened:
        terminal.process.kill()
        terminal.process.wait()
        terminal.close()


def scored(client):
    table = read_diary(client).symptoms
    table = table[table["time"] >= "2026-03-05"]
    return list(
        zip(table["time"].dt.strftime("%H:%M"), table["symptom"], table["score"], strict=True)
    )


def rate(terminal, keys="32010", time="\n"):
    terminal.answer("Scores for which time", time)
    for symptom, key in zip(
        ("pain", "bloating", "wind", "discomfort", "urgency"), keys, strict=True
    ):
        terminal.answer(f"\n{symptom}: ", key)


def leave_the_rest(terminal):
    for question in ("Another food", "A stool", "Anything unusual", "A note"):
        terminal.answer(question, "\n")


def test_a_whole_evening_with_single_keys(client, talk):
    terminal = talk()
    rate(terminal, "3x01\n")
    terminal.answer("Right [yes", "\n")
    terminal.wait_for("60 mL cow's milk (4 tablespoons)")
    terminal.answer("(y/n): ", "y")
    terminal.answer("When [now, 19:10]: ", "8:05\n")
    terminal.answer("How much of it, in mL [all, 60]: ", "\n")
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert scored(client) == [
        ("19:10", "bloating", 10),
        ("19:10", "discomfort", 1),
        ("19:10", "pain", 3),
        ("19:10", "wind", 0),
    ]
    (milk,) = read_diary(client).foods.to_dict("records")
    assert (str(milk["time"]), milk["fodmap_g"]) == ("2026-03-05 08:05:00", 3)
    assert "Thursday 5 March 2026, day 4 of 9" in terminal.text
    assert "pain: 3\nbloating: x\n" in terminal.text
    assert "Ratings on Thursday: 1 of 5. Not yet: morning, midday." in terminal.text
    assert "Nothing more of it today" in terminal.text
    # nothing but plain lines: no colour, no cursor moved
    assert not {"\x1b", "\b", "\r"} & set(terminal.text.replace("\r\n", "\n"))


@pytest.mark.parametrize("env", [{"TERM": "dumb"}, {"TERM": "xterm", "NO_COLOR": "1"}])
def test_lines_where_keys_cannot_be_had_or_are_not_wanted(client, talk, env):
    terminal = talk(*(() if env["TERM"] == "dumb" else ("--lines",)), **env)
    terminal.answer("Scores for which time", "08:10\n")
    for symptom, score in (
        ("pain", 10), ("bloating", 2), ("wind", 0), ("discomfort", 1), ("urgency", 0),
    ):  # fmt: skip
        terminal.answer(f"{symptom}: ", f"{score}\n")
    terminal.answer("(y/n): ", "n\n")
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert ("08:10", "pain", 10) in scored(client)
    assert "\x1b" not in terminal.text


def test_ctrl_c_among_the_scores_stores_none_of_them_and_says_so(client, talk):
    terminal = talk()
    terminal.answer("Scores for which time", "\n")
    terminal.answer("\npain: ", "3")
    terminal.answer("\nbloating: ", "\x03")
    assert terminal.finish() == 1
    assert "Nothing was stored.\nNot stored: the scores (pain 3)." in terminal.text
    assert "Traceback" not in terminal.text
    assert scored(client) == []
    assert not (client / IMPORTS).exists()


@pytest.mark.parametrize("end", ["\x03", "\x04", "q\n"])
def test_what_was_finished_is_stored_and_what_was_begun_is_named(client, talk, end):
    terminal = talk()
    rate(terminal)
    terminal.answer("Right", "\n")
    terminal.answer("(y/n): ", "y")
    terminal.answer("When [now", end)
    assert terminal.finish() == 1
    assert "Stored:\n  19:10 pain 3, bloating 2, wind 0, discomfort 1, urgency 0" in terminal.text
    assert "Not stored: cow's milk." in terminal.text
    assert len(scored(client)) == 5
    assert not (client / "foods.csv").exists()


def test_what_is_typed_ahead_goes_to_its_own_question(client, talk):
    terminal = talk()
    rate(terminal)
    terminal.answer("Right", "\ny8:05\n20\nbread\n")
    terminal.answer("How much, in g", "q\n")
    assert terminal.finish() == 1
    assert "Not stored: bread." in terminal.text
    (milk,) = read_diary(client).foods.to_dict("records")
    assert (str(milk["time"]), milk["fodmap_g"]) == ("2026-03-05 08:05:00", 1)


def test_a_broken_connection_loses_nothing_that_was_finished(client, talk):
    terminal = talk()
    rate(terminal)
    terminal.answer("Right", "\n")
    terminal.wait_for("(y/n): ")
    terminal.hang_up()
    assert len(scored(client)) == 5


def test_keys_that_write_nothing_and_slips_do_no_harm(client, talk):
    terminal = talk()
    terminal.answer("Scores for which time", "soon\n")
    terminal.wait_for("Write the time like 08:10.")
    terminal.answer("Scores for which time", "\n")
    terminal.answer("\npain: ", "\x1b[A")
    terminal.send("\x1b[3~ü")
    terminal.wait_for("0 to 10")
    terminal.answer("pain: ", "7")
    terminal.answer("bloating: ", "\x7f")  # whoever rubs out goes back
    terminal.answer("pain: ", "3")
    for symptom in ("bloating", "wind", "discomfort", "urgency"):
        terminal.answer(f"{symptom}: ", "\n")
    terminal.answer("Right", "\n")
    terminal.answer("(y/n): ", "n")
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert scored(client) == [("19:10", "pain", 3)]


def test_odd_letters_and_arrows_in_a_line(client, talk):
    terminal = talk("--lines")
    terminal.answer("Scores for which time", "n\n")
    terminal.answer("(y/n): ", "n\n")
    terminal.answer("Another food", b"caf\xe9\n")  # Latin-1, in a terminal of UTF-8
    terminal.wait_for("letters this terminal does not know")
    terminal.answer("Another food", "caf\xe9\x1b[D au lait\n")
    terminal.answer("How much", "\n")
    terminal.answer("When", "\n")
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert read_diary(client).foods["food"].tolist() == ["caf\xe9 au lait"]


def test_a_correction_of_the_morning(client, talk):
    first = talk(now="2026-03-05T08:10")
    rate(first)
    first.answer("Right", "\n")
    first.answer("(y/n): ", "n")
    leave_the_rest(first)
    assert first.finish() == 0
    terminal = talk()
    terminal.wait_for("08:10 pain 3, bloating 2, wind 0, discomfort 1, urgency 0")
    terminal.answer("Scores for which time", "c\n")
    terminal.answer("Which one", "1\n")
    terminal.answer("[other values]: ", "\n")
    terminal.answer("pain [stays 3]: ", "5")
    for symptom in ("bloating", "wind", "discomfort", "urgency"):
        terminal.answer(f"{symptom} [stays", "\n")
    terminal.answer("Scores for which time [no scores]: ", "\n")
    terminal.answer("(y/n): ", "n")
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert [s for s in scored(client) if s[1] == "pain"] == [("08:10", "pain", 5)]
    old = [path.read_text() for path in (client / IMPORTS).glob("*/read-symptoms.csv")]
    assert any("2026-03-05T08:10,pain,3," in text for text in old)


def test_words_for_the_doctor(client, talk):
    terminal = talk()
    rate(terminal)
    terminal.answer("Right", "\n")
    terminal.answer("(y/n): ", "n")
    for question in ("Another food", "A stool", "Anything unusual"):
        terminal.answer(question, "\n")
    terminal.answer("A note", "vomiting since noon\n")
    assert terminal.finish() == 0
    assert "Contact your doctor before you go on with the plan." in terminal.text
    # and from then on no challenge food is spoken of
    after = talk(now="2026-03-05T21:00")
    after.answer("Scores for which time", "n\n")
    after.wait_for("Contact your doctor before you go on with the plan.")
    leave_the_rest(after)
    assert after.finish() == 0
    assert "cow's milk" not in after.text


@pytest.mark.parametrize(
    ("now", "line"),
    [
        ("2026-03-03T20:00", "No challenge food today."),
        ("2026-03-01T20:00", "Your plan has not begun yet. It begins on Monday 2 March."),
        ("2026-03-08T20:00", "No challenge food today: your body has a break."),
    ],
)
def test_days_without_a_dose_speak_of_none(client, talk, now, line):
    if now.startswith("2026-03-08"):
        eat_all_doses(client)
    terminal = talk(now=now)
    terminal.answer("Scores for which time", "n\n")
    terminal.wait_for(line)
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert "(y/n)" not in terminal.text
    assert "Nothing was written down." in terminal.text


def test_a_rest_day(client, talk):
    closed = 'closed = [{ start = 2026-03-05, end = 2026-03-05, reason = "travel" }]'
    (client / "client.toml").write_text(SCREENED.replace("[protocol]", f"[protocol]\n{closed}"))
    terminal = talk()
    terminal.answer("Scores for which time", "n\n")
    terminal.wait_for("A rest day: no challenge food.")
    leave_the_rest(terminal)
    assert terminal.finish() == 0


def test_no_challenge_food_while_the_screening_holds_it_up(tmp_path, talk, client):
    settings = SCREENED.replace("conditions = []", 'conditions = ["eating-disorder"]')
    (client / "client.toml").write_text(settings)
    terminal = talk()
    rate(terminal)
    terminal.answer("Right", "\n")
    terminal.wait_for("No challenge food is shown.")
    leave_the_rest(terminal)
    assert terminal.finish() == 0
    assert "milk" not in terminal.text
    assert len(scored(client)) == 5


def test_after_midnight_and_with_a_clock_put_back(client, talk):
    late = talk(now="2026-03-06T00:40")
    late.wait_for("It is 00:40: this still belongs to Thursday.")
    rate(late)
    late.answer("Right", "\n")
    late.answer("(y/n): ", "n")
    leave_the_rest(late)
    assert late.finish() == 0
    early = talk()
    early.wait_for("this clock shows an earlier time")
    early.answer("Scores for which time", "q\n")
    assert early.finish() == 1
    assert len(scored(client)) == 5
