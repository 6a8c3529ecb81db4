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
    assert code == 1 and "asks for a control challenge already" in flat(err)


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


def test_a_step_that_is_to_come_anyway_is_not_asked_for_twice(tmp_path, monkeypatch, capsys):
    folder = sample(tmp_path, "hazel")
    run(monkeypatch, capsys, "new", folder, *SCREENED, now="2026-06-12T09:00")
    _, out, _ = run(monkeypatch, capsys, "analyse", folder, now="2026-06-12T09:00")
    _, laid, _ = run(monkeypatch, capsys, "plan", folder, "--dry-run", now="2026-06-12T09:00")
    ahead = laid[laid.rindex("> ") :]
    named = [line.split()[-1] for line in out.splitlines() if "--repeat" in line]
    coming = {g for g in ("sorbitol", "fructans", "fructose", "gos") if f"  {g} " in ahead}
    assert coming == {"sorbitol", "fructans", "fructose"}
    # the challenge of lactose had ended after step 2: step 3 is not laid alone
    assert named == ["lactose", "gos=3"]


def test_nothing_above_the_step_that_ended_a_challenge_is_named_or_laid(
    tmp_path, monkeypatch, capsys
):
    folder = sample(tmp_path, "sorrel")
    run(monkeypatch, capsys, "new", folder, *SCREENED, now="2026-05-14T09:00")
    _, out, _ = run(monkeypatch, capsys, "analyse", folder, now="2026-05-14T09:00")
    assert "The challenge ended after step 1" in flat(out)
    assert "sorbitol=2" not in out
    code, _, err = run(
        monkeypatch, capsys, "plan", folder, "--repeat", "sorbitol=2", now="2026-05-14T09:00"
    )
    assert code == 1 and "step 2 lies above it. Lay sorbitol=1, or sorbitol=1-2." in flat(err)


def test_a_repeat_that_begins_above_step_1_begins_only_when_symptoms_have_settled(
    client, monkeypatch, capsys
):
    with (client / "symptoms.csv").open("a") as file:
        for day in (24, 25, 26):
            for hour in (7, 12, 22):
                file.write(f"2026-05-{day}T{hour:02}:50,pain,9,,\n")
    done = run(
        monkeypatch, capsys, "plan", client, "--repeat", "mannitol=3", now="2026-05-25T09:00"
    )
    assert done[0] == 0, done[2]
    _, out, _ = run(monkeypatch, capsys, "today", client, now="2026-05-26T21:00")
    assert "Tomorrow: 150 g button mushrooms (2 cups, sliced), if your symptoms have settled." in (
        flat(out)
    )


def test_answers_from_a_file_do_not_lose_repeats(client, tmp_path, monkeypatch, capsys):
    run(monkeypatch, capsys, "plan", client, "--repeat", "fructose=1", now=NOW)
    answers = tmp_path / "answers.toml"
    answers.write_text("[protocol]\nwashout_days = 4\n")
    code, _, err = run(monkeypatch, capsys, "new", client, *SCREENED, "--from", answers, now=NOW)
    assert code == 0, err
    protocol = read_settings(client).protocol
    assert protocol.washout_days == 4 and len(protocol.repeats) == 1
