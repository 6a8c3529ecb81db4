"""What the program writes, opened in a real spreadsheet: no cell becomes a formula.

LibreOffice stands for spreadsheets here; it runs fewer texts than others do (only those that begin
with ``=``, and some with ``+`` or ``-``), so that none of the guarded texts may begin with any sign
that one of them runs is tested without it, too.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from challenge.errors import ChallengeError
from challenge.files.imports import add_files, record_entries
from challenge.files.reading import read_diary

OFFICE = shutil.which("soffice")
TEXTS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(1;1)",
    "\t=1+1",
    "'=1+1",
    " =1+1".strip(),
    '=HYPERLINK("https://example.org";"here")',
    "=1+1,2",
    'a"=1+1',
    "a\r\n=1+1",
    "＝1+1",
    "-",
    "=",
]
RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> dict[str, Path]:
    """A client's folder in which every text is one of those that a spreadsheet may run."""
    base = tmp_path_factory.mktemp("sheets")
    folder = base / "client"
    folder.mkdir()
    times = [f"2026-03-01T08:{n:02d}" for n in range(len(TEXTS))]
    pairs = list(zip(times, TEXTS, strict=True))
    record_entries(
        folder,
        foods=[{"time": time, "food": text, "note": text} for time, text in pairs],
        symptoms=[{"time": t, "symptom": "pain", "score": 3, "note": text} for t, text in pairs],
        events=[{"start": "2026-03-01", "event": text, "note": text} for text in TEXTS],
    )
    bad = base / "bad.csv"
    with bad.open("w", newline="") as file:
        rows = [["2026-04-01T08:00", "pain", "11", text] for text in TEXTS]
        csv.writer(file).writerows([["time", "symptom", "score", "note"], *rows])
        csv.writer(file).writerow(["2026-04-01T08:00", "pain", "3", "fine"])
    refused = add_files(folder, [bad], skip_bad_rows=True).refused_files
    tables = [folder / name for name in ("foods.csv", "symptoms.csv", "events.csv")]
    return {path.name: path for path in (*tables, *refused)}


def formulas(path: Path, base: Path) -> list[str]:
    """Open a file in LibreOffice and return the formulas of its cells."""
    assert OFFICE is not None
    command = [
        OFFICE,
        f"-env:UserInstallation={(base / 'profile').as_uri()}",
        "--headless",
        "--infilter=CSV:44,34,76,1,,0,false,true,false,false,false,0,true",
        "--convert-to",
        "fods",
        "--outdir",
        str(base / "out"),
        str(path),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    text = (base / "out" / f"{path.stem}.fods").read_text("utf-8")
    assert "<table:table-cell" in text
    return re.findall(r'table:formula="([^"]*)"', text)


@pytest.mark.slow
@pytest.mark.skipif(OFFICE is None, reason="needs LibreOffice (soffice)")
def test_no_cell_of_a_table_becomes_a_formula(written, tmp_path):
    control = tmp_path / "control.csv"
    control.write_text('time,food\n2026-03-01T08:00,=1+1\n2026-03-01T08:00,"=1+1,2"\n')
    assert len(formulas(control, tmp_path)) >= 1  # unguarded, it would be one
    for name, path in written.items():
        assert formulas(path, tmp_path) == [], name


def test_no_cell_begins_with_a_sign_that_a_spreadsheet_runs(written):
    assert set(written) == {"foods.csv", "symptoms.csv", "events.csv", "refused-1.csv"}
    for name, path in written.items():
        text = path.read_bytes().decode()
        cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
        assert any("1+1" in cell for cell in cells), name
        assert not [
            cell
            for cell in cells
            if cell.strip(" \xa0'").startswith(RUNS) and not cell.startswith("'")
        ], name


def test_all_texts_come_back_as_they_were(written, tmp_path):
    folder = written["foods.csv"].parent
    diary = read_diary(folder)
    assert diary.foods["food"].tolist() == diary.foods["note"].tolist() == TEXTS
    assert diary.symptoms["note"].tolist()[: len(TEXTS)] == TEXTS
    assert sorted(diary.events["event"]) == sorted(diary.events["note"]) == sorted(set(TEXTS))
    # and the refused rows, put right
    mended = tmp_path / "mended.csv"
    text = written["refused-1.csv"].read_bytes().decode()
    rows = list(csv.reader(io.StringIO(text, newline="")))
    place = rows[0].index("score")
    for number, row in enumerate(rows[1:]):
        row[place] = "3"
        row[rows[0].index("time")] = f"2026-05-01T08:{number:02d}"
    with mended.open("w", newline="") as file:
        csv.writer(file).writerows(rows)
    again = tmp_path / "again"
    again.mkdir()
    try:
        add_files(again, [mended])
    except ChallengeError as error:
        raise AssertionError([p.sentence() for p in error.problems]) from error
    assert read_diary(again).symptoms["note"].tolist() == TEXTS
