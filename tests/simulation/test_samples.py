import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "sample_diaries"
CODES = ("juniper", "rowan", "hazel", "sorrel")


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("make_samples", ROOT / "make_samples.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_script_makes_the_samples_that_are_kept(script, tmp_path):
    script.make(tmp_path)
    for code in CODES:
        made = {p.name: p.read_bytes() for p in (tmp_path / code).iterdir()}
        kept = {p.name: p.read_bytes() for p in (ROOT / code).iterdir()}
        assert made == kept, code


def test_the_note_says_that_they_are_invented():
    assert "invented" in (ROOT / "README.md").read_text(encoding="utf-8")
    for code in CODES:
        assert "Invented" in (ROOT / code / "client.toml").read_text(encoding="utf-8")


def test_the_truth_behind_them_is_the_story_told(script):
    steps = {t.fodmap_group: t.tolerated_step for t in script.juniper().truth}
    assert steps.pop("fructans") < 3
    assert set(steps.values()) == {3}
    steps = [t.tolerated_step for t in script.rowan().truth]
    assert sorted(steps)[1:] == [3] * 5
    assert sum(t.tolerated_step < 3 for t in script.sorrel().truth) == 2


def test_the_messy_one_is_messy():
    raw = (ROOT / "sorrel" / "symptoms.csv").read_bytes()
    with pytest.raises(UnicodeDecodeError):
        raw.decode("utf-8")
    text = raw.decode("cp1252")
    lines = text.splitlines()
    assert lines[0].startswith("Date;Time;")
    assert any(",0;" in line for line in lines)
    assert any(" pm;" in line for line in lines)
    assert any(not line.strip(";") for line in lines)


def test_none_is_prettier_than_life():
    # scores missing in all of them, about half of them in the one nobody could judge
    for code, least, most in (("juniper", 0.6, 0.95), ("rowan", 0.6, 0.95), ("hazel", 0.3, 0.65)):
        days = len((ROOT / code / "plan.csv").read_text().splitlines()) - 1
        rows = (ROOT / code / "symptoms.csv").read_text().splitlines()[1:]
        scores = sum("stool_form" not in row for row in rows)
        assert least < scores / (days * 15) < most, code


@pytest.mark.parametrize("code", CODES)
def test_reading_gives_back_what_was_simulated(script, code):
    # the messy one too: semicolons, decimal commas, 12-hour clock, days first, Windows-1252
    import numpy as np

    from challenge.files.reading import read_diary, read_plan

    client = getattr(script, code)()
    read = read_diary(ROOT / code)
    assert read_plan(ROOT / code / "plan.csv") == client.plan
    assert not [p for p in read.problems if p.severity == "error"]
    made = client.diary.symptoms
    if code == "sorrel":  # her spreadsheet has no column for stools
        made = made[made["symptom"] != "stool_form"]
    keys = ["time", "symptom"]
    first = made.sort_values(keys, kind="stable")
    second = read.symptoms.sort_values(keys, kind="stable")
    assert first["time"].tolist() == second["time"].tolist()
    assert first["symptom"].tolist() == second["symptom"].tolist()
    assert first["score"].tolist() == second["score"].tolist()
    eaten = client.diary.foods[client.diary.foods["fodmap_group"] != ""]
    found = read.foods[(read.foods["fodmap_group"] != "") & ~read.foods["filled_in"]]
    assert eaten["fodmap_group"].tolist() == found["fodmap_group"].tolist()
    assert np.allclose(eaten["fodmap_g"], found["fodmap_g"])
    assert eaten["time"].tolist() == found["time"].tolist()
