"""``challenge plan --repeat`` and ``--control``: from "unclear" to the plan that settles it."""

from __future__ import annotations

import shlex

import pytest

from challenge.files.reading import read_plan, read_settings
from tests.commands.folders import contents, flat, run, sample

SCREENED = (
    "--again", "--by", "AB", "--diagnosed", "--coeliac-test", "negative", "--on-gluten", "--helped",
    "--weeks", "5", "--alarm", "none", "--allergy", "none", "--condition", "none", "--medicine",
    "none", "--exclusion", "none", "--measure", "none",
)  # fmt: skip
NOW = "2026-05-28T09:00"  # the day after rowan's plan


@pytest.fixture
def client(tmp_path, monkeypatch, capsys):
    folder = sample(tmp_path)
    code, _, err = run(monkeypatch, capsys, "new", folder, *SCREENED, now=NOW)
    assert code == 0, err
    return folder


def told_command(out):
    return shlex.split(next(line for line in out.splitlines() if "challenge plan" in line))[1:]


def test_the_command_that_the_analysis_names_lays_the_repeat(client, monkeypatch, capsys):
    _, out, _ = run(monkeypatch, capsys, "analyse", client, now=NOW)
    assert "What is unclear and not in the plan any more is laid again with:" in flat(out)
    command = told_command(out)
    assert command == ["plan", str(client), "--repeat", "fructose=1"]
    before = read_plan(client / "plan.csv")
    code, out, err = run(monkeypatch, capsys, *command, now=NOW)
    assert code == 0, err
    assert "fructose 1, cycle 2" in out and f"Written: {client / 'client.toml'}" in out
    new = read_plan(client / "plan.csv")
    assert new.days[: len(before)] == before.days
    assert [(d.fodmap_group, d.cycle, d.step) for d in new if d.cycle == 2] == [("fructose", 2, 1)]
    settings = read_settings(client)
    assert [(r.fodmap_group, r.cycle, r.steps) for r in settings.protocol.repeats] == [
        ("fructose", 2, (1,))
    ]
    assert settings.screening.asked_by == "AB"
    # nothing is asked for twice
    _, out, _ = run(monkeypatch, capsys, "analyse", client, now=NOW)
    assert "laid again with" not in flat(out)
    laid = contents(client)
    code, _, err = run(monkeypatch, capsys, *command, now=NOW)
    assert code == 1 and "Step 1 of fructose stands in the plan already" in flat(err)
    assert contents(client) == laid
    # and a plan laid again keeps it
    code, _, err = run(monkeypatch, capsys, "plan", client, now="2026-05-29T09:00")
    assert code == 0, err
    assert any(d.cycle == 2 for d in read_plan(client / "plan.csv"))


def test_what_was_decided_as_unclear_can_be_laid_again_at_once(client, monkeypatch, capsys):
    who = ("--reason", "a cold that week", "--by", "AB")
    _, out, _ = run(monkeypatch, capsys, "decide", client, "mannitol", "--unclear", *who, now=NOW)
    command = told_command(out)
    assert command[:3] == ["plan", str(client), "--repeat"] and command[3].startswith("mannitol")
    code, out, err = run(monkeypatch, capsys, *command, now=NOW)
    assert code == 0 and "mannitol" in out and "cycle 2" in out, err
    _, out, _ = run(monkeypatch, capsys, "decide", client, "gos", "--accept", *who, now=NOW)
    assert "challenge plan" not in out


def test_a_control_comes_once(client, monkeypatch, capsys):
    code, out, err = run(monkeypatch, capsys, "plan", client, "--control", now=NOW)
    assert code == 0 and "glucose 1" in out, err
    assert read_settings(client).protocol.control
    code, _, err = run(monkeypatch, capsys, "plan", client, "--control", now=NOW)
    assert code == 1 and "has a control challenge already" in flat(err)


@pytest.mark.parametrize("more", [("--dry-run",), ("--power", "--clients", "10")])
def test_trying_it_out_writes_nothing(client, monkeypatch, capsys, more):
    before = contents(client)
    code, out, err = run(
        monkeypatch, capsys, "plan", client, "--repeat", "fructose=1-3", *more, now=NOW
    )
    assert code == 0, err
    assert "fructose" in out
    assert contents(client) == before


def test_every_mistake_is_told_and_nothing_written(client, monkeypatch, capsys):
    before = contents(client)
    code, _, err = run(
        monkeypatch, capsys, "plan", client, "--repeat", "fructse", "--repeat", "gos=7",
        "--repeat", "glucose", now=NOW,
    )  # fmt: skip
    assert code == 1
    assert err.count("error: ") == 3
    assert "'fructse' is no challenge to repeat" in flat(err)
    assert contents(client) == before


def test_without_screening_or_plan_nothing_is_laid(tmp_path, monkeypatch, capsys):
    folder = sample(tmp_path)
    before = contents(folder)
    code, _, err = run(monkeypatch, capsys, "plan", folder, "--repeat", "fructose", now=NOW)
    assert code == 1 and "No screening is on record" in flat(err)
    assert contents(folder) == before
    run(monkeypatch, capsys, "new", folder, *SCREENED, now=NOW)
    (folder / "plan.csv").unlink()
    code, _, err = run(monkeypatch, capsys, "plan", folder, "--repeat", "fructose", now=NOW)
    assert code == 1 and "There is no plan yet" in flat(err)


def test_nothing_is_proposed_while_a_doctor_is_waited_for(client, monkeypatch, capsys):
    with (client / "symptoms.csv").open("a") as file:
        file.write("2026-05-26T20:00,pain,3,blood in my stool,\n")
    _, out, err = run(monkeypatch, capsys, "analyse", client, now=NOW)
    assert "No doctor's answer is on record" in flat(err)
    assert "laid again with" not in flat(out)
