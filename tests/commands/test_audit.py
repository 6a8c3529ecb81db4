import csv
import json
import shutil

import pytest
from typer.testing import CliRunner

from challenge.commands import audit as audit_command  # noqa: F401  (two commands make verbs)
from challenge.commands import simulate as simulate_command  # noqa: F401
from challenge.commands.app import app
from challenge.errors import ChallengeError

from .folders import NOW
from .terminal import Terminal

N = 6


def run(*words):
    return CliRunner().invoke(app, [str(word) for word in words], env={"CHALLENGE_NOW": NOW})


@pytest.fixture(scope="module")
def practice(tmp_path_factory):
    directory = tmp_path_factory.mktemp("practice") / "p"
    assert run("simulate", directory, "--clients", N, "--seed", 3).exit_code == 0
    broken = directory / "broken-1"
    broken.mkdir()
    (broken / "plan.csv").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00")
    (directory / "empty-1").mkdir()
    (directory / "Anna Beispiel").mkdir()
    return directory


@pytest.fixture(scope="module")
def audited(practice, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    done = run(
        *("audit", practice, "--csv", out / "a.csv", "--jsonl", out / "a.jsonl"),
        *("--html", out / "a.html", "--truth", practice / "truth.csv"),
    )
    assert done.exit_code == 0, done.output
    return out, done


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_one_row_per_client_and_group_and_one_per_bad_folder(audited):
    found = rows(audited[0] / "a.csv")
    good = [row for row in found if not row["problem"]]
    bad = [row for row in found if row["problem"]]
    assert len(good) == 6 * N
    assert len(bad) == 3
    assert {row["client"] for row in bad} >= {"broken-1", "empty-1"}
    for row in good:
        assert row["outcome"] in {"tolerated", "reacted", "unclear"}
        chances = [float(row[f"p{k}"]) for k in range(4) if row[f"p{k}"]]
        assert not chances or sum(chances) == pytest.approx(1.0, abs=1e-4)
        assert (row["suggested_step"] == "") == (row["outcome"] == "unclear")
        assert 0 < float(row["completeness"]) <= 1


def test_bad_folders_were_the_folders_fault(audited):
    # a failure of the program would be told as one
    assert not [r for r in rows(audited[0] / "a.csv") if "program failed" in r["problem"]]


def test_no_name_gets_out(audited):
    out, done = audited
    for path in out.iterdir():
        assert "Anna" not in path.read_text(encoding="utf-8")
    assert "Anna" not in done.output


def test_lines_of_json_hold_results_and_nothing_of_the_diary(audited):
    lines = (audited[0] / "a.jsonl").read_text(encoding="utf-8").splitlines()
    records = [json.loads(line) for line in lines]
    assert len(records) == N + 3
    assert "porridge" not in "".join(lines)
    group = next(r for r in records if r["problem"] is None)["groups"][0]
    assert {"outcome", "steps", "doses_eaten", "unclear_because"} <= set(group)


def test_no_code_of_a_client_is_in_the_report(audited):
    page = (audited[0] / "a.html").read_text(encoding="utf-8")
    assert "invented-0" not in page
    assert "broken-1" not in page
    assert "empty-1" not in page


def test_words_that_somebody_typed_stay_in_the_folder(practice, tmp_path):
    """A name in every place where a person can type one."""
    name = "Beispiel"
    directory = tmp_path / name / "clients"
    good = practice / "invented-00001"

    def spoil(code, file, text):
        folder = shutil.copytree(good, directory / code)
        (folder / file).write_text(text, encoding="utf-8")

    spoil("toml-1", "client.toml", f'name = "{name}"\n{name} = [')
    spoil("key-1", "client.toml", f'[analysis]\n{name} = 1\nmargin = "{name}"')
    spoil("header-1", "foods.csv", f"{name},{name} 2\n1,2\n")
    spoil("cell-1", "symptoms.csv", f"time,symptom,score,{name}\n{name},pain,{name},x\n")
    spoil("plan-1", "plan.csv", f"date,phase,{name}\n2026-01-01,{name},1\n")
    spoil("decided-1", "decisions.csv", f"{name}\n{name}\n")
    (directory / "empty-1").mkdir()
    (directory / "only-plan").mkdir()
    shutil.copy(good / "plan.csv", directory / "only-plan" / "plan.csv")
    (directory / f"Anna {name}").mkdir()
    out = tmp_path / "out"
    out.mkdir()
    done = run(
        *("audit", directory, "--csv", out / "a.csv", "--jsonl", out / "a.jsonl"),
        *("--html", out / "a.html"),
    )
    assert done.exit_code == 0
    assert len(rows(out / "a.csv")) == 9
    assert all(row["problem"] for row in rows(out / "a.csv")), rows(out / "a.csv")
    assert not [r for r in rows(out / "a.csv") if "program failed" in r["problem"]]
    for path in out.iterdir():
        assert name.casefold() not in path.read_text(encoding="utf-8").casefold(), path


def test_a_client_on_the_way_is_judged_by_what_has_begun(practice, tmp_path):
    """Half of a plan: what is still to come is neither unclear nor a dose that was missed."""
    folder = shutil.copytree(practice / "invented-00001", tmp_path / "p" / "invented-00001")
    days = sorted(day["date"] for day in rows(folder / "plan.csv") if day["phase"] == "challenge")
    until = days[len(days) // 2]
    for name in ("foods.csv", "symptoms.csv", "events.csv"):
        head, *lines = (folder / name).read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [line for line in lines if line < until]
        (folder / name).write_text(head + "".join(kept), encoding="utf-8")
    found = {}
    for now in (f"{until}T09:00", NOW):
        lines = tmp_path / "a.jsonl"
        words = ("audit", str(tmp_path / "p"), "--jsonl", str(lines))
        assert CliRunner().invoke(app, words, env={"CHALLENGE_NOW": now}).exit_code == 0
        (found[now],) = [json.loads(line) for line in lines.read_text().splitlines()]
    midway, late = found[f"{until}T09:00"], found[NOW]
    assert (midway["problem"], late["problem"]) == (None, None)
    assert len(midway["groups"]) == 3
    assert sum(group["doses_planned"] for group in midway["groups"]) == 9
    assert not any(g["unclear_because"] == "no dose logged as eaten" for g in midway["groups"])
    assert len(late["groups"]) == 6
    assert not midway["finished"]
    assert not late["finished"]


def test_progress_is_shown_on_a_terminal(practice, tmp_path):
    terminal = Terminal("audit", str(practice), "--csv", "a.csv", now=NOW, cwd=tmp_path)
    terminal.wait_for("Auditing", 120)
    assert terminal.finish(120) == 0
    assert "with a problem" in terminal.text


def test_truth_is_compared_on_the_screen(audited):
    assert "Suggestions against the truth" in audited[1].output
    assert "utility" in audited[1].output


@pytest.mark.slow
def test_two_jobs_and_an_interruption_change_nothing(practice, audited, tmp_path):
    out = audited[0]
    assert run("audit", practice, "--csv", tmp_path / "b.csv", "--jobs", 2).exit_code == 0
    assert (tmp_path / "b.csv").read_bytes() == (out / "a.csv").read_bytes()
    lines = (out / "a.jsonl").read_bytes().splitlines(keepends=True)
    (tmp_path / "c.csv.partial.jsonl").write_bytes(b"".join(lines[:4]) + lines[4][:30])
    refused = run("audit", practice, "--csv", tmp_path / "c.csv")
    assert isinstance(refused.exception, ChallengeError)
    assert run("audit", practice, "--csv", tmp_path / "c.csv", "--resume").exit_code == 0
    assert (tmp_path / "c.csv").read_bytes() == (out / "a.csv").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.csv", "c.csv"]


def test_what_cannot_be_audited_is_said(tmp_path):
    done = run("audit", tmp_path / "nothing", "--csv", tmp_path / "a.csv")
    assert isinstance(done.exception, ChallengeError)
    assert not (tmp_path / "a.csv").exists()
    (tmp_path / "d" / "c1").mkdir(parents=True)
    bad = run("audit", tmp_path / "d", "--truth", tmp_path / "none.csv")
    assert isinstance(bad.exception, ChallengeError)


def test_json_summary(practice, tmp_path):
    done = run("audit", practice, "--csv", tmp_path / "a.csv", "--json")
    told = json.loads(done.stdout)
    assert told["clients"] == N + 3
    assert told["with_a_problem"] == 3


def test_designs_are_told_apart_when_a_directory_mixes_them(tmp_path):
    directory, truth = tmp_path / "p", tmp_path / "truth.csv"
    run("simulate", directory, "--clients", 2, "--seed", 5, "--truth", truth)
    more = tmp_path / "more"
    run("simulate", more, "--clients", 2, "--seed", 6, "--cycles", 2, "--control")
    lines = (more / "truth.csv").read_text().replace("invented", "control").splitlines()[1:]
    for folder in more.glob("invented-*"):
        shutil.copytree(folder, directory / folder.name.replace("invented", "control"))
    for settings in directory.glob("control-*/client.toml"):
        settings.write_text(settings.read_text().replace("invented-", "control-"))
    truth.write_text(truth.read_text() + "\n".join(lines) + "\n")
    done = run("audit", directory, "--truth", truth, "--json")
    by = json.loads(done.stdout)["against_truth"]["by"]
    assert set(by["design"]) == {"1 cycle", "2 cycles, control"}
    assert by["design"]["2 cycles, control"]["n_groups"] == 14
    assert by["group"]["glucose"]["n_clients"] == 2
    assert sum(part["n_clients"] for part in by["day-to-day spread"].values()) == 4
