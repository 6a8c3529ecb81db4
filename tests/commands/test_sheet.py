"""``challenge sheet``: files for its owner only; a filled-in workbook comes back exactly."""

import csv
import json
import shutil
import stat
import subprocess
import sys

import pytest

from challenge.files.folder import FOODS, SYMPTOMS
from tests.commands import office
from tests.commands.folders import contents, flat, run
from tests.logbook.making import LONG, PLAN_TEXT

NOW = "2026-03-02T09:00"


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "elder"
    made.mkdir()
    # a sachet needs the papers of its blinded challenge, which are not here
    (made / "plan.csv").write_text(PLAN_TEXT.rpartition("2026-03-09")[0], encoding="utf-8")
    return made


@pytest.fixture
def challenge(monkeypatch, capsys):
    def call(*args, now=NOW):
        return run(monkeypatch, capsys, *args, now=now)

    return call


def test_both_files_for_their_owner_only(folder, challenge):
    code, out, err = challenge("sheet", folder, "--json")
    assert (code, err) == (0, "")
    paths = [folder / "diary-elder.pdf", folder / "diary-elder.xlsx"]
    assert json.loads(out) == {"files": [str(path) for path in paths]}
    for path in paths:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_same_again_in_another_process_needs_no_force(folder, challenge):
    challenge("sheet", folder)
    before = contents(folder)
    subprocess.run(
        [sys.executable, "-m", "challenge", "sheet", str(folder)],
        env={"PATH": "/usr/bin:/bin", "PYTHONHASHSEED": "7", "CHALLENGE_NOW": "2026-03-01T23:00"},
        check=True,
        capture_output=True,
    )
    assert contents(folder) == before


def test_a_workbook_with_entries_is_not_overwritten(folder, challenge):
    challenge("sheet", folder)
    (folder / "diary-elder.xlsx").write_bytes(b"filled in by the client")
    code, _, err = challenge("sheet", folder)
    assert code == 1
    assert "--force" in err
    assert (folder / "diary-elder.xlsx").read_bytes() == b"filled in by the client"


def test_some_days_only(folder, challenge, tmp_path):
    code, out, _ = challenge(
        "sheet", folder, "--from", "2026-03-03", "--to", "2026-03-05", "--out", tmp_path / "o"
    )
    assert code == 0
    assert "diary-elder-2026-03-03-to-2026-03-05.pdf" in out
    code, _, err = challenge("sheet", folder, "--from", "2027-01-01")
    assert code == 1
    assert "2026-03-01" in err
    code, _, _ = challenge("sheet", folder, "--from", "soon")
    assert code == 2


def test_language_and_paper_of_the_practice(folder, challenge):
    (folder.parent / "practice.toml").write_text(
        'language = "de"\npaper = "us-letter"\ncontact = "Zimmer 1"\n', encoding="utf-8"
    )
    assert challenge("sheet", folder, "--format", "xlsx")[0] == 0
    from openpyxl import load_workbook

    book = load_workbook(folder / "diary-elder.xlsx")
    assert book.sheetnames[1] == "Werte"
    assert book["Werte"]["E2"].value == "Schmerz"
    assert book["Werte"].page_setup.paperSize == 1


def test_what_screening_blocks_is_left_out(folder, challenge):
    (folder / "client.toml").write_text('[screening]\nallergies = ["milk"]\n', encoding="utf-8")
    code, _, err = challenge("sheet", folder)
    assert code == 0
    assert "left out because of the screening" in err
    text = book_text(folder / "diary-elder.xlsx")
    assert "milk" not in text
    assert LONG in text
    if shutil.which("pdftotext"):
        pdf = subprocess.run(
            ["pdftotext", folder / "diary-elder.pdf", "-"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        assert "cow's milk" not in pdf
        assert "Do not eat any test food" in " ".join(pdf.split())


def test_words_for_a_doctor_leave_out_every_challenge_food(folder, challenge):
    (folder / "symptoms.csv").write_text(
        "time,symptom,score,note\n2026-03-01T08:00,pain,3,blood in the stool\n", encoding="utf-8"
    )
    code, _, err = challenge("sheet", folder, "--format", "xlsx")
    assert code == 0
    assert "a doctor should hear" in flat(err)
    text = book_text(folder / "diary-elder.xlsx")
    assert not any(food in text for food in ("milk", LONG))


def test_a_plan_that_has_moved_is_said(folder, challenge):
    """No dose of 2 and 3 March is in the diary: the plan from today on is another."""
    (folder / "symptoms.csv").write_text(
        "time,symptom,score\n2026-03-01T08:00,pain,3\n2026-03-04T08:00,pain,2\n", encoding="utf-8"
    )
    code, _, err = challenge("sheet", folder, "--format", "xlsx", now="2026-03-05T09:00")
    assert code == 0
    assert "run `challenge plan`" in err


def test_no_plan_no_sheet(tmp_path, challenge):
    (tmp_path / "elder").mkdir()
    code, _, err = challenge("sheet", tmp_path / "elder")
    assert code == 1
    assert "plan" in err


def book_text(path):
    from openpyxl import load_workbook

    return "\n".join(
        str(cell.value)
        for sheet in load_workbook(path).worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    )


def table(path):
    with path.open(encoding="utf-8", newline="") as file:
        return [list(row.values()) for row in csv.DictReader(file)]


needs_office = pytest.mark.skipif(
    office.OFFICE is None, reason="LibreOffice (soffice) is not installed"
)
TYPED = [
    # as typed into the cells: (sheet, cell, text)
    ("Scores", "D3", "7:35"),
    ("Scores", "E3", "4"),
    ("Scores", "F3", "0"),
    ("Scores", "G3", "10"),
    ("Scores", "H3", "1"),
    ("Scores", "I3", "7"),
    ("Scores", "J3", '=1+1 she said "no", 1/2'),
    ("Scores", "E4", "3"),
    ("Scores", "A4", "2026-04-01"),  # locked: it stays 1 March
    ("Foods", "C9", "8:05"),
    ("Foods", "D9", "cow's milk"),
    ("Foods", "E9", "62"),
    ("Foods", "F9", "3/4 of the cup; -5 °C"),
    ("Foods", "C10", "12:30"),
    ("Foods", "D10", "+ rice, 2-3 carrots"),
    ("Foods", "E10", "212.5"),
    ("Foods", "C39", "7:00"),
    ("Foods", "D39", LONG),
    ("Foods", "E39", "45.5"),
    ("Stools", "B3", "6:45"),
    ("Stools", "C3", "4"),
    ("Stools", "B4", "19:10"),
    ("Stools", "C4", "6"),
    ("Unusual", "A3", "2026-03-04"),
    ("Unusual", "B3", "2026-03-05"),
    ("Unusual", "C3", "travel"),
    ("Unusual", "D3", "two hours by car"),
]
FOODS_TYPED = [
    ["2026-03-02T08:05", "cow's milk", "62", "", "", "3/4 of the cup; -5 °C", ""],
    ["2026-03-02T12:30", "'+ rice, 2-3 carrots", "212.5", "", "", "", ""],
    ["2026-03-07T07:00", LONG, "45.5", "", "", "", ""],
]
SCORES_TYPED = [
    ["2026-03-01T06:45", "stool_form", "4", "", ""],
    ["2026-03-01T07:35", "bloating", "0", "", ""],
    ["2026-03-01T07:35", "discomfort", "1", "", ""],
    ["2026-03-01T07:35", "pain", "4", '\'=1+1 she said "no", 1/2', ""],
    ["2026-03-01T07:35", "urgency", "7", "", ""],
    ["2026-03-01T07:35", "wind", "10", "", ""],
    ["2026-03-01T13:00", "pain", "3", "", ""],
    ["2026-03-01T19:10", "stool_form", "6", "", ""],
]


@needs_office
@pytest.mark.slow
@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
def test_a_workbook_filled_in_and_saved_by_an_office_program_comes_back_exactly(
    ending, folder, challenge, tmp_path
):
    challenge("sheet", folder, "--format", "xlsx")
    filled = tmp_path / f"filled{ending}"
    office.fill(folder / "diary-elder.xlsx", filled, TYPED)
    code, out, err = challenge("add", folder, filled, now="2026-03-10T09:00")
    assert (code, err) == (0, "")
    assert "3 foods, 8 scores, 1 event." in out
    assert table(folder / FOODS) == FOODS_TYPED
    assert table(folder / SYMPTOMS) == SCORES_TYPED
    assert table(folder / "events.csv") == [
        ["2026-03-04", "2026-03-05", "travel", "two hours by car"]
    ]
    # the plan knows what was in the portions
    code, out, _ = challenge("check", folder, "--json", now="2026-03-10T09:00")
    told = {(problem["code"], problem["value"]) for problem in json.loads(out)["problems"]}
    assert ("grams-from-plan", "cow's milk") in told
    assert ("grams-from-plan", LONG) in told
    # sent twice, it changes nothing
    assert "on record already" in challenge("add", folder, filled, now="2026-03-11T09:00")[1]


@needs_office
@pytest.mark.slow
def test_saved_without_an_entry_it_brings_none(folder, challenge, tmp_path):
    challenge("sheet", folder, "--format", "xlsx", "--language", "de")
    saved = tmp_path / "saved.xlsx"
    office.fill(folder / "diary-elder.xlsx", saved, [])
    code, out, err = challenge("add", folder, saved)
    assert (folder / SYMPTOMS).exists() is False, (code, out, err)


def test_a_note_beside_no_score_reaches_the_doctors_sentence(folder, challenge, tmp_path):
    """A tired client writes what happened and scores nothing."""
    from openpyxl import load_workbook

    challenge("sheet", folder, "--format", "xlsx")
    book = load_workbook(folder / "diary-elder.xlsx")
    book["Scores"]["E3"] = 3
    book["Scores"]["J4"] = "blood in the stool"
    book.save(tmp_path / "sent.xlsx")
    assert challenge("add", folder, tmp_path / "sent.xlsx")[0] == 0
    out = challenge("today", folder)[1]
    assert "Contact your doctor" in out
    assert "blood in the stool" in out
