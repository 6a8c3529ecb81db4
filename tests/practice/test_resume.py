"""An interrupted audit goes on only as it was begun: same version, same settings, same day."""

import json
import shutil

import pytest

from challenge.errors import ChallengeError
from challenge.practice import audit, run
from challenge.practice.invent import invent_folders
from challenge.simulation.worlds import WORLDS
from tests.commands import folders

BEGUN, LATER = "2026-11-25T23:50", "2026-11-26T09:00"


@pytest.fixture(scope="module")
def clients(tmp_path_factory):
    directory = tmp_path_factory.mktemp("clients") / "p"
    directory.mkdir()
    invent_folders(directory, WORLDS["gaps"], seed=4, first=0, end=3)
    return directory


@pytest.fixture
def practice(clients, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return shutil.copytree(clients, tmp_path / "p")


@pytest.fixture
def begun(practice, monkeypatch, capsys):
    """An audit that ended after one client of three: its command, and what the whole gives."""

    def command(*more, now=BEGUN):
        return folders.run(monkeypatch, capsys, "audit", "p", "--csv", "a.csv", *more, now=now)

    assert folders.run(
        monkeypatch, capsys, "audit", "p", "--csv", "w.csv", "--jsonl", "w.jsonl", now=BEGUN
    )[0] == 0  # fmt: skip
    whole = (practice.parent / "w.jsonl").read_bytes()
    spool = practice.parent / "a.csv.partial.jsonl"
    spool.write_bytes(whole.splitlines(keepends=True)[0])
    return command, spool, (practice.parent / "w.csv").read_bytes()


def test_every_record_says_how_it_was_made(begun):
    _, spool, _ = begun
    made = json.loads(spool.read_text())["made"]
    assert made["version"] == audit.__version__
    assert made["as_of"] == "2026-11-25"
    assert len(made["settings"]) == 12


def test_gone_on_with_on_a_later_day_all_of_it_is_of_the_first(begun, practice):
    command, spool, whole = begun
    code, _, err = command("--resume", now=LATER)
    assert code == 0, err
    assert "Goes on as of 2026-11-25, the day on which it was begun." in err
    assert (practice.parent / "a.csv").read_bytes() == whole
    assert not spool.exists()


@pytest.mark.parametrize("version", ["0.0.9", None])
def test_another_version_is_told_and_refused(begun, practice, version):
    command, spool, whole = begun
    record = json.loads(spool.read_text())
    record["made"]["version"] = version
    if version is None:
        del record["made"]
    spool.write_text(json.dumps(record) + "\n")
    before = spool.read_bytes()
    code, out, err = command("--resume")
    assert (code, out) == (1, "")
    said = " ".join(err.split())
    assert f"by another version of the program ({version or 'unknown'}; this is" in said
    assert "--afresh" in said
    assert spool.read_bytes() == before
    assert not (practice.parent / "a.csv").exists()
    code, _, err = command("--afresh")
    assert code == 0, err
    assert (practice.parent / "a.csv").read_bytes() == whole
    assert not spool.exists()


def test_settings_changed_in_between_are_told_and_refused(begun, practice):
    command, _, _ = begun
    path = practice / "invented-00001" / "client.toml"
    text = path.read_text()
    path.write_text(text.replace("margin = ", "margin = 1"))
    code, _, err = command("--resume")
    said = " ".join(err.split())
    assert code == 1
    assert "The settings of 1 client were changed" in said and "invented-00001" in said
    assert "--afresh" in said
    path.write_text(text)
    assert command("--resume")[0] == 0


def test_what_changes_no_result_is_no_change_of_settings(begun, practice):
    command, _, _ = begun
    path = practice / "invented-00001" / "client.toml"
    path.write_text(path.read_text() + '\n# a remark\n[diet]\nexclusions = ["vegan"]\n')
    assert command("--resume")[0] == 0


def test_an_interrupted_run_is_neither_gone_on_with_nor_thrown_away_unasked(begun):
    command, spool, _ = begun
    before = spool.read_bytes()
    code, _, err = command()
    assert code == 1
    assert "--resume" in err and "--afresh" in err
    assert command("--resume", "--afresh")[0] == 2
    assert spool.read_bytes() == before


def test_results_of_two_days_are_refused(begun, practice):
    _, spool, _ = begun
    record = json.loads(spool.read_text())
    other = {**record, "client": "invented-00002"}
    other["made"] = {**record["made"], "as_of": "2026-11-26"}
    other["made"]["settings"] = audit.settings_digest(practice / "invented-00002")
    spool.write_text(json.dumps(record) + "\n" + json.dumps(other) + "\n")
    with pytest.raises(ChallengeError, match="several days"):
        run.prepare(practice, spool, resume=True)
