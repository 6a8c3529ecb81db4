"""What commands print fits a terminal of 80 columns; only what is copied whole may stick out."""

import shutil

import pytest

from challenge.commands.screen import list_problems, wrapped
from challenge.problems import Problem

from .folders import SAMPLES, run, sample
from .test_blind import AFTER, Client

COLUMNS = 80


def widest(text):
    return max(map(len, text.splitlines()), default=0)


@pytest.fixture
def there(monkeypatch, capsys, tmp_path):
    """Run a command where paths are short."""
    monkeypatch.chdir(tmp_path)
    return lambda *args, **kwargs: run(monkeypatch, capsys, *args, **kwargs)


@pytest.mark.parametrize("name", ["juniper", "rowan", "hazel", "sorrel"])
def test_check(there, tmp_path, name):
    sample(tmp_path, name)
    with (tmp_path / name / "symptoms.csv").open("a", newline="") as file:
        file.write("2027-05-20T08:01,pain,3,,\n2026-05-20T08:01,pian,3,,\n")
    code, out, err = there("check", name)
    # one of the samples is written otherwise: there the lines above are short rows
    assert code == (name != "sorrel")
    assert len(err.splitlines()) > 3
    assert widest(out) <= COLUMNS and widest(err) <= COLUMNS


def test_blind_freeze_and_unblind(monkeypatch, capsys, tmp_path):
    monkeypatch.chdir(tmp_path)
    client = Client(monkeypatch, capsys, tmp_path)

    def shown(*words, now=AFTER):
        return "".join(run(monkeypatch, capsys, *words, now=now)[1:])

    blind = ("blind", "clients/fern", "lactose", "--key-file")
    refused = shown(*blind, "clients/none/fern.key", now="2026-03-14T09:00")
    drawn = shown(*blind, "clients/fern.key", "--block", "2", now="2026-03-14T09:00")
    again = shown(*blind, "clients/other.key", now="2026-03-14T09:00")
    client.live()
    fixed = shown("freeze", "clients/fern")
    opened = shown("unblind", "clients/fern", "--key", "clients/fern.key")
    assert "nothing was written" in refused and "is not opened yet" in again
    for said in ("Taste and look", "Digest of the key", "In one block", "lies in the same place"):
        assert said in drawn
    assert "Digest of it" in fixed and "held glucose" in opened
    for text in (refused, drawn, again, fixed, opened):
        assert widest(text) <= COLUMNS, text


def test_audit(there, tmp_path):
    there("simulate", "p", "--clients", 3, "--seed", 3)
    shutil.copy(SAMPLES / "README.md", tmp_path / "p" / "notes.txt")
    code, out, err = there("audit", "p", "--csv", "a.csv", "--truth", "p/truth.csv")
    assert code == 0, err
    assert "by fodmap group" in out or "by group" in out
    assert widest(out) <= COLUMNS and widest(err) <= COLUMNS
    # every group of the table is there, if below each other
    assert all(name in out for name in ("fructans", "lactose", "mannitol", "all", "utility"))


def test_add_tells_once_what_is_wrong_with_many_rows(there, tmp_path):
    sample(tmp_path)
    rows = [f"2026-05-{n:02d},9.{n % 10},3\n" for n in range(1, 29)]
    (tmp_path / "may.csv").write_text("date,time,pain\n" + "".join(rows))
    code, out, err = there("add", "rowan", "may.csv")
    assert code == 1
    assert widest(out) <= COLUMNS and widest(err) <= COLUMNS
    said = " ".join(err.split())
    assert said.count("error:") == 1
    assert "may.csv, column time, 28 rows (lines 2, 3, 4 ...): Times with a point" in said
    assert "Found: '9.1', '9.2', '9.3' ..." in said
    assert said.count("Write it like 08:30") == 1


def test_add_tells_each_of_a_few_and_says_what_was_read_how(there, tmp_path):
    sample(tmp_path)
    (tmp_path / "a.csv").write_text("date,time,pain\n2026-05-02,noon,3\n2026-05-03,8,3\n")
    _, _, err = there("add", "rowan", "a.csv")
    assert err.count("error: a.csv, line ") == 2
    (tmp_path / "b.csv").write_text("date,time,pain\n2026-10-02,12.45,3\n2026-10-03,21h15,3\n")
    code, _, err = there("add", "rowan", "b.csv")
    assert code == 0
    assert "In 1 row; 12.45 is 12:45." in " ".join(err.split())


def test_problems_that_differ_by_more_than_the_line_are_never_put_together(capsys):
    few = [
        Problem(code="c", severity="error", message=f"Wrong {n}.", file="a.csv", line=n, column="x")
        for n in range(5)
    ]
    dated = [
        Problem(code="d", severity="warning", message="Late.", file="a.csv", date=f"2026-03-0{n}")
        for n in range(1, 6)
    ]
    list_problems([*dated, *few])
    lines = capsys.readouterr().err.splitlines()
    assert [line[:5] for line in lines] == ["error"] * 5 + ["warni"] * 5


def test_what_is_cut_from_a_long_list_is_counted_by_rows(capsys):
    many = [
        Problem(
            code="c", severity="error", message=f"Wrong {n // 4}.", file="a", line=n, column="x"
        )
        for n in range(41 * 4)
    ]
    list_problems(many)
    lines = capsys.readouterr().err.splitlines()
    assert len([line for line in lines if line.startswith("error")]) == 40
    assert "4 more" in lines[-1]


def test_dates_options_and_paths_stay_whole():
    text = wrapped("x " * 36 + "2026-03-01 " + "y " * 33 + "--date-order dmy " + "p/" * 60)
    assert "2026-03-01" in text and "--date-order" in text and "p/" * 60 in text
