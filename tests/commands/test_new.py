"""``challenge new``: answers from a file, from options and at the prompt, and what is written."""

import sys
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from challenge.files.client_toml import dumps, write_document
from challenge.files.reading import read_settings
from challenge.files.settings_file import parse_settings
from challenge.protocol.settings import Settings
from tests.commands.folders import contents, flat, run

NOW = "2026-03-01T09:00"
ANSWERS = """\
[screening]
asked_by = "AB"
diagnosed_by_doctor = true
coeliac_test = "negative"
coeliac_test_on_gluten = true
restriction_helped = true
restriction_measure = "IBS-SSS"
restriction_change = 120
restriction_weeks = 5
alarm_features = []
conditions = []
allergies = ["hazelnut"]

[diet]
exclusions = ["vegan"]

[protocol]
cycles = 2
order = "random"
closed = [{ start = 2026-04-01, end = 2026-04-07, reason = "travel" }]

[protocol.stop]
level = 6

[protocol.doses.fructose]
grams = [2.5, 5.0]

[diary]
symptoms = ["pain", "headache"]

[somebody.else]
kept = "as it is"
"""


def from_file(tmp_path, monkeypatch, capsys, text):
    (tmp_path / "answers.toml").write_text(text, "utf-8")
    folder = tmp_path / "elm"
    file = tmp_path / "answers.toml"
    return folder, run(monkeypatch, capsys, "new", folder, "--from", file, now=NOW)


def test_answers_and_settings_from_a_file_are_read_back_as_they_were(tmp_path, monkeypatch, capsys):
    text = ANSWERS[: ANSWERS.index("[somebody")]
    folder, (code, out, err) = from_file(tmp_path, monkeypatch, capsys, text)
    assert code == 0, err
    assert out.startswith("Go: challenges can be planned.")
    assert f"Next: challenge plan {folder}" in out
    wanted = tomllib.loads(text) | {"client": "elm"}
    wanted["screening"]["asked_on"] = tomllib.loads("d = 2026-03-01")["d"]
    assert read_settings(folder) == Settings.model_validate(wanted)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("conditions = []", 'conditions = []\nconditons = ["diabetes"]', "Is conditions meant?"),
        ("cycles = 2", "cycels = 2", "Is cycles meant?"),
        ("conditions = []", 'conditions = ["diabets"]', "Is diabetes meant?"),
        ("cycles = 2", 'cycles = "two"', "protocol.cycles must be a whole number"),
        ("cycles = 2", "cycles = ", "is no TOML"),
        ("[screening]", "[screeening]", "Is screening meant?"),
    ],
)
def test_a_file_with_a_slip_is_refused_and_nothing_is_written(
    tmp_path, monkeypatch, capsys, old, new, said
):
    text = ANSWERS[: ANSWERS.index("[somebody")].replace(old, new, 1)
    folder, (code, out, err) = from_file(tmp_path, monkeypatch, capsys, text)
    assert code == 1
    assert said in flat(err)
    assert out == ""
    assert not folder.exists()


def test_all_slips_are_told_at_once(tmp_path, monkeypatch, capsys):
    text = ANSWERS.replace("cycles = 2", "cycles = 0").replace("level = 6", "level = 60")
    _, (code, _, err) = from_file(tmp_path, monkeypatch, capsys, text)
    assert code == 1
    for said in ("protocol.cycles must be at least 1", "stop.level must be at most 10", "somebody"):
        assert said in flat(err)


def test_options_go_before_the_file(tmp_path, monkeypatch, capsys):
    (tmp_path / "answers.toml").write_text(ANSWERS[: ANSWERS.index("[somebody")], "utf-8")
    folder = tmp_path / "elm"
    code, _, err = run(
        monkeypatch, capsys, "new", folder, "--from", tmp_path / "answers.toml", "--by", "CD",
        "--condition", "diabetes", "--exclusion", "gluten-free", now=NOW,
    )  # fmt: skip
    assert code == 0, err
    settings = read_settings(folder)
    assert settings.screening.conditions == ("diabetes",)
    assert settings.screening.asked_by == "CD"
    assert settings.diet.exclusions == ("gluten-free",)


def test_a_misspelt_answer_in_client_toml_stops_every_command(tmp_path, monkeypatch, capsys):
    folder = tmp_path / "elm"
    folder.mkdir()
    text = ANSWERS.replace("conditions = []", 'conditons = ["galactosaemia"]')
    (folder / "client.toml").write_text(text, "utf-8")
    before = contents(folder)
    code, _, err = run(monkeypatch, capsys, "plan", folder, now=NOW)
    assert code == 1
    assert "Is conditions meant?" in flat(err)
    assert contents(folder) == before


def test_asked_anew_keeps_what_other_programs_wrote(tmp_path, monkeypatch, capsys):
    folder = tmp_path / "elm"
    folder.mkdir()
    (folder / "client.toml").write_text(ANSWERS, "utf-8")
    code, _, err = run(
        monkeypatch, capsys, "new", folder, "--again", "--by", "AB", "--diagnosed",
        "--coeliac-test", "negative", "--on-gluten", "--helped", "--alarm", "none",
        "--condition", "none", "--allergy", "none", now=NOW,
    )  # fmt: skip
    assert code == 0, err
    written = tomllib.loads((folder / "client.toml").read_text("utf-8"))
    assert written["somebody"] == {"else": {"kept": "as it is"}}
    assert written["protocol"] == tomllib.loads(ANSWERS)["protocol"]
    assert written["screening"]["allergies"] == []


def test_settings_written_and_read_are_the_same(tmp_path):
    settings = Settings.model_validate(tomllib.loads(ANSWERS) | {"client": tmp_path.name})
    write_document(tmp_path, settings.model_dump())
    assert read_settings(tmp_path) == settings
    write_document(tmp_path, Settings(client=tmp_path.name).model_dump())
    assert read_settings(tmp_path) == Settings(client=tmp_path.name)


TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
SCALAR = st.one_of(
    TEXT, st.booleans(), st.integers(-(2**62), 2**62), st.dates(), st.floats(allow_nan=False)
)
ITEM = st.one_of(SCALAR, st.dictionaries(TEXT, SCALAR, max_size=3))
VALUE = st.one_of(SCALAR, st.lists(ITEM, max_size=3))
TABLE = st.recursive(
    st.dictionaries(TEXT, VALUE, max_size=3),
    lambda inner: st.dictionaries(TEXT, st.one_of(VALUE, inner), max_size=3),
    max_leaves=6,
)


@given(TABLE)
def test_any_tables_survive_writing(document):
    # the oracle is the standard library's reader of TOML
    assert tomllib.loads(dumps(document)) == document


@given(
    st.builds(
        dict,
        allergies=st.lists(TEXT, max_size=3),
        medicines=st.lists(TEXT, max_size=3),
        restriction_measure=TEXT,
        restriction_change=st.none() | st.floats(-500, 500),
        restriction_weeks=st.none() | st.floats(0, 520),
        asked_on=st.none() | st.dates(),
        diagnosed_by_doctor=st.none() | st.booleans(),
    )
)
def test_any_answers_survive_writing(screening):
    settings = Settings.model_validate({"client": "elm", "screening": screening})
    again, problems = parse_settings(dumps(settings.model_dump()), "client.toml", "elm")
    assert problems == []
    assert again == settings


# ------------------------------------------------------------------------------ at the prompt

if sys.platform != "win32":
    from tests.commands.terminal import Terminal

posix = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of POSIX")


@posix
def test_a_dietitian_with_slips_of_the_keyboard_is_asked_again_and_loses_nothing(tmp_path):
    terminal = Terminal("new", "elm", now=NOW, cwd=tmp_path)
    for question, *typed in (
        ("Your initials", "Augusta Brown", "AB"),
        ("diagnosed irritable", "", "maybe", "y"),
        ("Coeliac blood test", "n", "neg"),
        ("gluten eaten", "y"),
        ("Which apply", "14", "2, 6"),
        ("Which apply", ",", "0, 9", "9"),
        *[("Which apply", "0")] * 4,
        ("Food allergies", "milk, none", "none"),
        ("Medicines", "a, b"),
        ("Weeks", "five", "-3", "5,5"),
        ("restriction help", "", "y"),
        ("Measured by", "IBS-SSS"),
        ("points did it fall", "-90"),
        ("Did it?", "n"),
        ("points did it fall", "90"),
        ("Which apply", "1"),
        ("Write these answers?", "y"),
    ):
        for keys in typed:
            terminal.answer(question, f"{keys}\n")
    assert terminal.finish() == 0, terminal.text
    found = read_settings(tmp_path / "elm").screening
    assert found.asked_by == "AB"
    assert found.coeliac_test == "negative"
    assert found.alarm_features == ("rectal-bleeding", "anaemia")
    assert found.conditions == ("diabetes",)
    assert found.allergies == ()
    assert found.medicines == ("a", "b")
    assert (found.restriction_weeks, found.restriction_change) == (5.5, 90)
    assert "Ask the doctor first." in terminal.text
    assert "challenge new elm --doctor" in terminal.text
    widest = max(terminal.text.splitlines(), key=len)
    assert len(widest) <= 80, widest


@posix
def test_declined_or_interrupted_nothing_is_written(tmp_path):
    options = (
        "new", "elm", "--by", "AB", "--diagnosed", "--coeliac-test", "unknown", "--helped",
        "--alarm", "none", "--condition", "none",
    )  # fmt: skip
    declined = Terminal(*options, now=NOW, cwd=tmp_path)
    for question, keys in (
        ("Food allergies", "none"), ("Medicines", "none"), ("Weeks", "4"),
        ("Measured by", "none"), ("Which apply", "0"), ("Write these answers?", "n"),
        ("Which is to change", "0"),
    ):  # fmt: skip
        declined.answer(question, f"{keys}\n")
    assert declined.finish() == 1
    assert "Nothing was written." in declined.text
    interrupted = Terminal(*options, now=NOW, cwd=tmp_path)
    interrupted.wait_for("Food allergies")
    assert interrupted.break_off() == 1
    assert "Traceback" not in interrupted.text
    assert not (tmp_path / "elm").exists()


@posix
def test_answers_can_be_changed_one_by_one_before_they_are_written(tmp_path):
    terminal = Terminal(
        "new", "elm", "--by", "AB", "--diagnosed", "--coeliac-test", "negative", "--on-gluten",
        "--helped", "--measure", "IBS-SSS", "--change", "90", "--exclusion", "vegan",
        now=NOW, cwd=tmp_path,
    )  # fmt: skip
    for question, *typed in (
        ("Which apply", "2"),
        ("Which apply", "9"),
        *[("Which apply", "0")] * 3,
        ("Which apply", "3"),
        ("Food allergies", "none"),
        ("Medicines", "none"),
        ("Weeks", "5"),
        ("Write these answers?", "n"),
        ("Which is to change", "", "13a", "14", "5"),
        ("So far: diabetes. Answer all of it anew.\n", ""),
        ("Metabolism", "10"),
        ("metabolism and other illness: kidney-disease\n", ""),
        ("now: antibiotics\n", ""),
        ("Write these answers?", "n"),
        ("Which is to change", "3"),
        ("Coeliac blood test", "unk"),
        ("coeliac blood test: unknown\n", ""),
        ("Write these answers?", "n"),
        ("Which is to change", "12"),
        ("Weeks", "6"),
        ("restriction help", "y"),
        ("Measured by", "none"),
        ("restriction: helped, 6 weeks\n", ""),
        ("diet leaves out: vegan\n", ""),
        ("Write these answers?", "y"),
    ):
        for keys in typed:
            terminal.wait_for(question)
            assert not (tmp_path / "elm").exists()
            if keys or not question.endswith("\n"):
                terminal.send(f"{keys}\n")
    assert terminal.finish() == 0, terminal.text
    settings = read_settings(tmp_path / "elm")
    found = settings.screening
    assert found.conditions == ("antibiotics", "kidney-disease")
    assert (found.coeliac_test, found.coeliac_test_on_gluten) == ("unknown", None)
    assert (found.restriction_weeks, found.restriction_measure) == (6, "")
    assert found.restriction_change is None
    assert (found.alarm_features, found.asked_by) == (("rectal-bleeding",), "AB")
    assert settings.diet.exclusions == ("vegan",)
    widest = max(terminal.text.splitlines(), key=len)
    assert len(widest) <= 80, widest


@posix
def test_an_option_that_cannot_be_used_is_told_before_any_question(tmp_path):
    terminal = Terminal("new", "elm", "--condition", "diabets", now=NOW, cwd=tmp_path)
    assert terminal.finish() == 1
    assert "diabetes" in terminal.text
    assert "initials" not in terminal.text
    assert not (tmp_path / "elm").exists()
