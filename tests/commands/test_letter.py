from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from challenge.commands.app import app
from challenge.errors import ChallengeError

SAMPLE = Path(__file__).parents[2] / "sample_diaries" / "rowan"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CHALLENGE_NOW", "2026-06-01T10:00")
    return Path(shutil.copytree(SAMPLE, tmp_path / "rowan"))


def run(*words: str):
    return CliRunner().invoke(app, ["letter", *words])


def text_of(path: Path) -> str:
    from docx import Document

    document = Document(str(path))
    return "\n".join(p.text for p in document.paragraphs)


def test_it_writes_both_files_of_the_day_into_the_client_folder(folder):
    result = run(str(folder), "--to", "client", "--name", "Sam Sample", "--json")
    assert result.exit_code == 0, result.output
    paths = [Path(path) for path in json.loads(result.stdout)["letters"]]
    assert paths == [
        folder / "letters" / f"letter-client-2026-06-01.{suffix}" for suffix in ("pdf", "docx")
    ]
    assert paths[0].read_bytes().startswith(b"%PDF-")
    assert "Dear Sam Sample," in text_of(paths[1])


def test_an_existing_letter_that_was_edited_stays_unless_forced(folder, tmp_path):
    args = (str(folder), "--to", "client", "--format", "docx", "--out", str(tmp_path / "out"))
    made = Path(run(*args).stdout.strip())
    first = made.read_bytes()
    assert run(*args).exit_code == 0  # the same letter again changes nothing
    made.write_bytes(b"edited by hand")
    refused = run(*args)
    assert refused.exit_code == 1
    assert isinstance(refused.exception, ChallengeError)
    assert "--force" in str(refused.exception)
    assert made.read_bytes() == b"edited by hand"
    assert run(*args, "--force").exit_code == 0
    assert made.read_bytes() == first


@pytest.mark.parametrize(
    "words",
    [
        ("--to", "client", "--date", "31.3.2026"),
        ("--to", "client", "--date", "2026-02-30"),
        ("--to", "neighbour"),
        ("--to", "client", "--paper", "a5"),
        (),
    ],
)
def test_wrong_usage_exits_with_2_and_writes_nothing(folder, words):
    assert run(str(folder), *words).exit_code == 2
    assert not (folder / "letters").exists()


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("--language", "xx"), "en, de"),
        (("--practice", "nowhere.toml"), "nowhere.toml"),
        (("--name", "样本", "--format", "pdf"), "--font-dir"),
    ],
)
def test_what_can_be_put_right_exits_with_1_and_names_the_remedy(folder, words, part):
    result = run(str(folder), "--to", "client", *words)
    assert result.exit_code == 1
    assert isinstance(result.exception, ChallengeError)
    assert part in str(result.exception)
    assert not (folder / "letters").exists()


def test_the_practice_file_and_the_options_shape_the_letter(folder):
    (folder.parent / "practice.toml").write_text(
        'letterhead = ["Invented practice"]\nlanguage = "de"\npaper = "us-letter"\n',
        encoding="utf-8",
    )
    from docx import Document

    args = (str(folder), "--to", "doctor", "--format", "docx", "--about", "Sam Sample")
    made = Path(run(*args, "--date", "2026-05-04", "--request", "Blutbild").stdout.strip())
    assert made.name == "letter-doctor-2026-05-04.docx"
    text = text_of(made)
    for part in ("Invented practice", "Betrifft: Sam Sample", "Blutbild"):
        assert part in text
    assert round(Document(str(made)).sections[0].page_width.inches, 1) == 8.5
    english = run(*args, "--date", "2026-05-05", "--language", "en", "--paper", "a4")
    assert "About: Sam Sample" in text_of(Path(english.stdout.strip()))


def test_no_name_is_kept_beside_the_letter(folder):
    run(str(folder), "--to", "client", "--format", "docx", "--name", "Sam Sample")
    for path in folder.rglob("*"):
        if path.is_file() and "letters" not in path.parts:
            assert b"Sam Sample" not in path.read_bytes(), path


def test_the_doctor_reads_what_the_diary_says_and_is_asked(folder):
    symptoms = folder / "symptoms.csv"
    lines = symptoms.read_text("utf-8").splitlines()
    columns = lines[0].split(",")
    cells = lines[1].split(",")
    cells[columns.index("note")] = "blood in the stool"
    symptoms.write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n", "utf-8")
    result = run(str(folder), "--to", "doctor", "--name", "", "--format", "docx")
    assert result.exit_code == 0, result.output
    text = text_of(folder / "letters" / "letter-doctor-2026-06-01.docx")
    assert "“blood in the stool”. Please say whether this needs looking into" in text
    assert "belongs before a doctor" in " ".join(text.split())
