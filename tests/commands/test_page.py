from __future__ import annotations

import stat
from pathlib import Path

import pytest
from typer.testing import CliRunner

from challenge.commands.app import app
from challenge.commands.page import page
from challenge.errors import ChallengeError

PLAN = """date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g
2026-03-01,baseline,,,,,,
2026-03-02,challenge,1,lactose,1,milk </script>,100,4.9
"""
assert page is not None  # registers the command


@pytest.fixture
def client(tmp_path: Path) -> Path:
    folder = tmp_path / "juniper"
    folder.mkdir()
    (folder / "plan.csv").write_text(PLAN, encoding="utf-8")
    return folder


def run(*words: str) -> str:
    result = CliRunner().invoke(app, ["page", *words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def test_one_file_for_its_owner_only(client: Path) -> None:
    output = run(str(client))
    made = client / "diary-juniper.html"
    assert str(made) in output
    assert stat.S_IMODE(made.stat().st_mode) == 0o600
    text = made.read_text("utf-8")
    # one data block, one script, and a food's name ends neither
    assert text.count("</script>") == 2
    assert "@@" not in text
    assert "default-src 'none'" in text
    for address in ("http://", "https://"):
        assert address not in text.replace("http://www.w3.org/2000/svg", "")


def test_files_for_a_host(client: Path) -> None:
    run(str(client), "--host")
    names = {path.name for path in (client / "page").iterdir()}
    assert names == {"index.html", "manifest.webmanifest", "service-worker.js", "icon.svg"}


def test_a_folder_without_a_plan(tmp_path: Path) -> None:
    (tmp_path / "elder").mkdir()
    with pytest.raises(ChallengeError):
        run(str(tmp_path / "elder"))


def test_a_blocked_screening_leaves_the_challenge_food_out(
    client: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHALLENGE_NOW", "2026-03-01T09:00")
    (client / "client.toml").write_text(
        '[screening]\nasked_on = 2026-02-20\nconditions = ["eating-disorder"]\n'
    )
    assert "left out because of the screening" in run(str(client))
    text = (client / "diary-juniper.html").read_text("utf-8")
    assert '"held":true' in text
    assert "milk" not in text


def test_the_page_says_when_to_stop(client: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHALLENGE_NOW", "2026-03-01T09:00")
    (client / "client.toml").write_text("[protocol.stop]\nlevel = 6.0\nslots = 3\n")
    run(str(client))
    text = (client / "diary-juniper.html").read_text("utf-8")
    assert "the same score is 6 or more 3 times in one day" in text


def test_the_page_says_on_what_condition_a_dose_is_eaten(
    client: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHALLENGE_NOW", "2026-03-01T09:00")
    run(str(client))
    text = (client / "diary-juniper.html").read_text("utf-8")
    assert text.count('"only":"Eat none of it if you have a warning sign (see below)."') == 1
    assert "Warning signs: when to stop and ask for help" in text
