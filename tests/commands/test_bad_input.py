"""Bad input to ``analyse`` and ``check``: said plainly, exit 1, no traceback, nothing written."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from .folders import NOW, contents, flat, run, sample

PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06\x00\x00\x00"


def empty_file(folder):
    (folder / "foods.csv").write_bytes(b"")


def header_only(folder):
    for name in ("foods.csv", "symptoms.csv", "events.csv"):
        file = folder / name
        if file.exists():
            file.write_text(file.read_text().splitlines()[0] + "\n")


def folder_for_file(folder):
    (folder / "symptoms.csv").unlink()
    (folder / "symptoms.csv").mkdir()


def picture(folder):
    (folder / "foods.csv").write_bytes(PNG)


def picture_as_plan(folder):
    (folder / "plan.csv").write_bytes(PNG)


def one_bad_row_in_a_thousand(folder):
    rows = [f"2026-04-{13 + i // 60:02d}T{8 + i // 4 % 15:02d}:{15 * (i % 4):02d},pain,{i % 10}\n"
            for i in range(1000)]  # fmt: skip
    rows[700] = rows[700].rsplit(",", 1)[0] + ",eleven\n"
    (folder / "symptoms.csv").write_text("time,symptom,score\n" + "".join(rows))


def no_challenge_day(folder):
    lines = (folder / "plan.csv").read_text().splitlines(keepends=True)
    (folder / "plan.csv").write_text("".join(line for line in lines if ",challenge," not in line))


def no_plan(folder):
    (folder / "plan.csv").unlink()


def settings_out_of_range(folder):
    (folder / "client.toml").write_text("[analysis]\nmargin = -1\n")


BAD = {
    empty_file: ("foods.csv", "The file is empty"),
    header_only: ("The diary holds no entry",),
    folder_for_file: ("symptoms.csv", "This is a folder, not a file"),
    picture: ("foods.csv", "a picture (PNG)"),
    picture_as_plan: ("plan.csv", "not text"),
    one_bad_row_in_a_thousand: ("symptoms.csv", "line 702", "column score", "'eleven'"),
    no_challenge_day: ("The plan has no challenge day", "`challenge plan`"),
    no_plan: ("There is no", "plan.csv"),
    settings_out_of_range: ("client.toml", "margin"),
}


@pytest.mark.parametrize("command", ["analyse", "check"])
@pytest.mark.parametrize("spoil", BAD, ids=lambda spoil: spoil.__name__)
def test_bad_input_is_said_plainly(monkeypatch, capsys, tmp_path, command, spoil):
    folder = sample(tmp_path)
    spoil(folder)
    before = contents(tmp_path)
    code, out, err = run(monkeypatch, capsys, command, folder)
    assert code == 1
    said = " ".join(err.split())
    for words in BAD[spoil]:
        assert words in said
    assert "Traceback" not in out + err
    assert err.count("\n") < 20
    assert contents(tmp_path) == before
    if command == "analyse":
        assert out == ""


@pytest.mark.parametrize("command", ["analyse", "check"])
def test_figures_of_bad_input_are_not_begun(monkeypatch, capsys, tmp_path, command):
    folder = sample(tmp_path)
    empty_file(folder)
    before = contents(tmp_path)
    options = ("--figures", tmp_path / "figures") if command == "analyse" else ("--json",)
    assert run(monkeypatch, capsys, command, folder, *options)[0] == 1
    assert contents(tmp_path) == before


@pytest.mark.parametrize("command", ["analyse", "check"])
@pytest.mark.parametrize("place", ["missing", "a-file"])
def test_no_folder_where_one_should_be(monkeypatch, capsys, tmp_path, command, place):
    (tmp_path / "a-file").write_text("x")
    before = contents(tmp_path)
    code, out, err = run(monkeypatch, capsys, command, tmp_path / place)
    assert (code, out) == (1, "")
    assert place in err
    # one sentence, in as many lines as it needs
    assert flat(err).count(". ") <= 1 and "Traceback" not in err
    assert contents(tmp_path) == before


@pytest.mark.parametrize("command", ["analyse", "check"])
def test_the_program_itself_ends_with_one_and_no_traceback(tmp_path, command):
    # as a process, with nothing of the test in between
    folder = sample(tmp_path)
    one_bad_row_in_a_thousand(folder)
    done = subprocess.run(
        [sys.executable, "-m", "challenge", command, str(folder)],
        env={**os.environ, "CHALLENGE_NOW": NOW, "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "line 702" in done.stderr
    assert "Traceback" not in done.stderr + done.stdout
