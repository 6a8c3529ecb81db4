"""``challenge check`` on the sample diaries and on folders with one thing put wrong."""

import csv
import json

import pytest

from .folders import SAMPLES, contents, flat, run, sample


@pytest.fixture
def check(monkeypatch, capsys):
    def call(*args, **kwargs):
        return run(monkeypatch, capsys, "check", *args, **kwargs)

    return call


def codes(out):
    return [problem["code"] for problem in json.loads(out)["problems"]]


@pytest.mark.parametrize("name", ["juniper", "rowan", "hazel", "sorrel"])
def test_samples_have_warnings_but_no_error(check, name):
    code, out, err = check(SAMPLES / name)
    assert code == 0
    assert out.startswith(f"{name}: ")
    assert "error" not in out
    assert "nan" not in (out + err).casefold().split()
    assert all(len(line) <= 120 for line in (out + err).splitlines())


def test_the_story_of_the_sample_nobody_could_judge_is_found(check):
    # sample_diaries/README.md: days without scores, doses forgotten, washouts cut short
    _, out, _ = check(SAMPLES / "hazel", "--json")
    assert {"food-on-unscored-day", "dose-not-eaten", "washout-too-short"} <= set(codes(out))
    result = json.loads(out)
    assert result["schema"] == 1
    assert result["client"] == "hazel"
    assert result["completeness"]["all"] < 0.5
    assert result["errors"] == 0
    assert result["warnings"] + result["notes"] == len(result["problems"])


def test_the_same_facts_are_in_text_and_json(check):
    _, out, _ = check(SAMPLES / "hazel", "--json")
    _, text_out, err = check(SAMPLES / "hazel")
    flat = " ".join(err.split())
    for problem in json.loads(out)["problems"]:
        assert problem["message"] in flat
        assert problem["remedy"] in flat
        assert problem["code"] in flat
    assert f"{json.loads(out)['warnings']} warnings" in text_out


def test_errors_come_first_and_end_with_one(check, tmp_path):
    folder = sample(tmp_path)
    with (folder / "symptoms.csv").open("a", newline="") as file:
        file.write("2027-05-20T08:01,pain,3,,\n")
    code, out, err = check(folder)
    assert code == 1
    assert err.startswith("error: entry-in-the-future in symptoms.csv")
    assert "1 error, " in out
    code, out, _ = check(folder, "--json")
    assert code == 1
    assert codes(out)[0] == "entry-in-the-future"
    severities = [p["severity"] for p in json.loads(out)["problems"]]
    assert severities == sorted(severities, key=["error", "warning", "note"].index)


def test_all_files_are_looked_at_although_one_is_broken(check, tmp_path):
    folder = sample(tmp_path)
    plan = (folder / "plan.csv").read_text()
    (folder / "plan.csv").write_text(plan.replace("baseline", "warm-up", 1))
    symptoms = (folder / "symptoms.csv").read_text()
    (folder / "symptoms.csv").write_text(symptoms.replace(",pain,0", ",pain,11", 1))
    (folder / "foods.csv").write_bytes(b"")
    code, out, _ = check(folder, "--json")
    assert code == 1
    found = json.loads(out)
    places = {(p["file"], p["line"]) for p in found["problems"] if p["severity"] == "error"}
    assert places == {("plan.csv", 2), ("symptoms.csv", 2), ("foods.csv", None)}
    assert found["completeness"] is None


def test_a_folder_without_plan_or_diary_names_both(check, tmp_path):
    (tmp_path / "empty").mkdir()
    code, out, _ = check(tmp_path / "empty", "--json")
    assert code == 1
    assert codes(out) == ["not-there", "not-there"]
    assert all(problem["remedy"] for problem in json.loads(out)["problems"])


def test_a_plan_still_under_way_is_judged_up_to_yesterday(check, tmp_path):
    folder = sample(tmp_path)
    for name in ("foods.csv", "symptoms.csv"):
        lines = (folder / name).read_text().splitlines(keepends=True)
        kept = [line for line in lines[1:] if line < "2026-04-19"]
        (folder / name).write_text("".join([lines[0], *kept]))
    code, out, _ = check(folder, "--json", now="2026-04-19T07:00")
    assert code == 0
    assert codes(out) == []
    assert set(json.loads(out)["completeness"]) == {"all", "baseline"}


def test_before_the_first_day_there_is_no_completeness(check, tmp_path):
    folder = sample(tmp_path)
    code, out, _ = check(folder, "--json", now="2026-04-13T23:00")
    assert code == 1  # all later entries lie in the future
    assert json.loads(out)["completeness"] is None


def test_completeness_is_the_share_of_expected_scores(check, tmp_path):
    # two days of three ratings each, five of the six given
    folder = tmp_path / "two"
    folder.mkdir()
    (folder / "plan.csv").write_text(
        "date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g\n"
        "2026-03-02,baseline,,,,,,\n2026-03-03,challenge,1,lactose,1,milk,100,5\n"
    )
    (folder / "foods.csv").write_text(
        "time,food,portion_g,fodmap_group,fodmap_g\n2026-03-03T08:00,milk,100,lactose,5\n"
    )
    times = ["02T08:00", "02T13:00", "02T20:00", "03T09:00", "03T20:00"]
    (folder / "symptoms.csv").write_text(
        "time,symptom,score\n" + "".join(f"2026-03-{time},pain,2\n" for time in times)
    )
    _, out, _ = check(folder, "--json")
    shares = json.loads(out)["completeness"]
    assert shares["baseline"] == 1
    assert shares["challenge"] == pytest.approx(2 / 3)
    assert shares["all"] == pytest.approx(5 / 6)
    _, out, _ = check(folder)
    assert "83 % (baseline 100 %, challenge 66 %)" in flat(out)


def test_nothing_is_written(check, tmp_path):
    folder = sample(tmp_path, "hazel")
    before = contents(tmp_path)
    check(folder)
    check(folder, "--json")
    assert contents(tmp_path) == before


@pytest.mark.parametrize("name", ["juniper", "rowan", "hazel"])
def test_a_problem_with_an_entry_behind_it_names_the_line_of_that_entry(check, name):
    _, out, _ = check(SAMPLES / name, "--json")
    problems = json.loads(out)["problems"]
    lines = {
        file: (SAMPLES / name / file).read_text(encoding="utf-8").splitlines()
        for file in ("foods.csv", "symptoms.csv")
    }
    header = {file: texts[0].split(",") for file, texts in lines.items()}
    named = [problem for problem in problems if problem["line"] is not None]
    for problem in named:
        row = next(csv.reader([lines[problem["file"]][problem["line"] - 1]]))
        assert row[0].startswith(problem["date"])
        if problem["value"] is not None:
            assert row[header[problem["file"]].index(problem["column"])] == problem["value"]
    absent = {
        "dose-not-eaten", "dose-left-out-after-stop", "no-scores", "baseline-too-short",
        "baseline-unstable", "setting-unknown", "not-there", "grams-filled-in",
    }  # fmt: skip
    assert {p["code"] for p in problems if p["line"] is None} <= absent
    assert named or name == "juniper"


def test_lines_are_those_of_the_file_as_it_is_whatever_its_order(check, tmp_path):
    folder = sample(tmp_path)
    file = folder / "foods.csv"
    header, *rows = file.read_text(encoding="utf-8").splitlines()
    late = "2026-05-10T22:15,something sweet,40,sorbitol,4,,2026-05-14T09:00"
    file.write_text("\n".join([header, late, "", *reversed(rows)]) + "\n", encoding="utf-8")
    _, out, _ = check(folder, "--json")
    found = {
        p["code"]: (p["file"], p["line"], p["column"], p["value"])
        for p in json.loads(out)["problems"]
        if p["date"] == "2026-05-10"
    }
    assert found["written-late"] == ("foods.csv", 2, "entered_at", "2026-05-14T09:00")
    groups = {"second-group", "group-on-baseline-day", "dose-beyond-plan", "wrong-group"}
    (code,) = groups & set(found)
    assert found[code] == ("foods.csv", 2, "fodmap_group", "sorbitol")
    _, _, err = check(folder)
    assert "line 2, column fodmap_group, 2026-05-10: " in " ".join(err.split())
