import csv
import json

import pytest
from typer.testing import CliRunner

from challenge.commands import audit as audit_command  # noqa: F401  (two commands make verbs)
from challenge.commands import simulate as simulate_command  # noqa: F401
from challenge.commands.app import app
from challenge.errors import ChallengeError
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import USUAL, WORLDS


def run(*words):
    return CliRunner().invoke(app, ["simulate", *map(str, words)])


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def files_below(directory):
    return {
        str(path.relative_to(directory)): path.read_bytes()
        for path in directory.rglob("*")
        if path.is_file()
    }


def test_writes_folders_of_the_contract_and_the_truth_apart(tmp_path):
    done = run(tmp_path / "practice", "--clients", 3, "--seed", 7)
    assert done.exit_code == 0, done.output
    folder = tmp_path / "practice" / "invented-00001"
    assert sorted(path.name for path in folder.iterdir()) == [
        "client.toml",
        "events.csv",
        "foods.csv",
        "plan.csv",
        "symptoms.csv",
    ]
    # the headers are those of the contract
    heads = {p.name: p.read_text().splitlines()[0] for p in folder.glob("*.csv")}
    assert heads["foods.csv"] == "time,food,portion_g,fodmap_group,fodmap_g,note,entered_at"
    assert heads["symptoms.csv"] == "time,symptom,score,note,entered_at"
    assert heads["plan.csv"] == "date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g"
    assert heads["events.csv"] == "start,end,event,note"
    truth = rows(tmp_path / "practice" / "truth.csv")
    assert list(truth[0]) == [
        *("client", "fodmap_group", "tolerated_step", "rise_1", "rise_2", "rise_3")
    ]
    assert len(truth) == 18
    assert "tolerated_step" not in "".join(
        text.decode() for name, text in files_below(folder).items() if name != "truth.csv"
    )


def test_files_say_what_the_client_in_memory_says(tmp_path):
    run(tmp_path / "p", "--clients", 1, "--seed", 7)
    client = simulate_client(USUAL, 7, 0)
    scores = rows(tmp_path / "p" / client.code / "symptoms.csv")
    table = client.diary.symptoms
    assert [row["symptom"] for row in scores] == table["symptom"].tolist()
    assert [float(row["score"]) for row in scores] == table["score"].tolist()
    assert scores[0]["time"] == table["time"][0].strftime("%Y-%m-%dT%H:%M")
    assert not any(row["score"].startswith("-") for row in scores)
    plan = rows(tmp_path / "p" / client.code / "plan.csv")
    assert [row["date"] for row in plan] == [day.date.isoformat() for day in client.plan]
    assert {row["step"] for row in plan if row["phase"] != "challenge"} == {""}


@pytest.mark.slow
def test_any_number_of_jobs_writes_the_same_files(tmp_path):
    run(tmp_path / "one", "--clients", 60, "--jobs", 1)
    run(tmp_path / "two", "--clients", 60, "--jobs", 2)
    assert files_below(tmp_path / "one") == files_below(tmp_path / "two")


def test_settings_reach_the_world(tmp_path):
    done = run(
        *(tmp_path / "p", "--clients", 2, "--cycles", 2, "--control", "--json"),
        *("--set", "reacting_share.gos=1", "--set", "missing_day=0", "--set", "order=fixed"),
    )
    told = json.loads(done.output)
    assert told["cycles"] == 2
    assert told["groups"] == 14
    truth = rows(tmp_path / "p" / "truth.csv")
    assert all(int(row["tolerated_step"]) < 3 for row in truth if row["fodmap_group"] == "gos")
    assert all(row["tolerated_step"] == "3" for row in truth if row["fodmap_group"] == "glucose")


def test_nothing_is_overwritten(tmp_path):
    assert run(tmp_path / "p", "--clients", 1).exit_code == 0
    before = files_below(tmp_path / "p")
    again = run(tmp_path / "p", "--clients", 1, "--truth", tmp_path / "t.csv", "--seed", 9)
    assert isinstance(again.exception, ChallengeError)
    assert "holds invented clients already" in again.exception.message
    assert files_below(tmp_path / "p") == before
    assert not (tmp_path / "t.csv").exists()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--world", "nowhere"), "no world called"),
        (("--set", "flare_ratee=1"), "no setting"),
        (("--set", "flare_rate=much"), "no number"),
        (("--set", "flare_rate=nan"), "no number"),
        (("--set", "kernel=square"), "kernel is one of"),
        (("--set", "cycles=1.5"), "whole number"),
        (("--set", "groups=lactose"), "from Python only"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_written(tmp_path, words, message):
    done = run(tmp_path / "p", *words)
    assert isinstance(done.exception, ChallengeError)
    assert message in done.exception.message
    assert not (tmp_path / "p").exists()


def test_wrong_usage_is_exit_2(tmp_path):
    assert run().exit_code == 2
    assert run(tmp_path / "p", "--clients", "none").exit_code == 2


def test_worlds_are_listed():
    assert run("--list-worlds").output.split() == list(WORLDS)
