from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

import challenge.commands.analyse
import challenge.commands.decide
import challenge.commands.letter  # noqa: F401
from challenge.analysis.decision import evidence_digest, standings
from challenge.commands.app import app
from challenge.errors import ChallengeError
from challenge.files.decisions import add_decision, read_decisions
from tests.letter.builders import TYPICAL, Told, make_analysis

SAMPLE = Path(__file__).parents[2] / "sample_diaries" / "rowan"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CHALLENGE_NOW", "2026-06-01T10:00")
    return Path(shutil.copytree(SAMPLE, tmp_path / "rowan"))


def run(*words: str):
    return CliRunner().invoke(app, [*words], catch_exceptions=True)


def test_decide_on_every_group_and_the_letter_is_no_draft(folder):
    told = json.loads(run("decide", str(folder), "--json").stdout)["groups"]
    assert {g["state"] for g in told} == {"open"}
    args = ("--accept", "--reason", "=agrees with her view", "--by", "AB")
    for group in told:
        assert run("decide", str(folder), group["fodmap_group"], *args).exit_code == 0
    told = json.loads(run("decide", str(folder), "--json").stdout)["groups"]
    assert {g["state"] for g in told} == {"decided"}
    assert read_decisions(folder)[0].reason == "=agrees with her view"
    assert "'=agrees" in (folder / "decisions.csv").read_text()
    made = run("letter", str(folder), "--to", "doctor", "--format", "docx")
    assert made.exit_code == 0, made.output
    from docx import Document

    head = Document(made.stdout.strip()).sections[0].header.paragraphs[0].text
    assert "DRAFT" not in head


def test_history_is_kept_and_the_last_row_counts(folder):
    for step in ("0", "1"):
        args = ("--step", step, "--reason", "cautious", "--by", "AB")
        assert run("decide", str(folder), "fructans", *args).exit_code == 0
    assert [d.decided_step for d in read_decisions(folder)] == [0, 1]
    told = json.loads(run("decide", str(folder), "--json").stdout)["groups"]
    assert next(g for g in told if g["fodmap_group"] == "fructans")["decision"]["decided_step"] == 1


@pytest.mark.parametrize(
    "words", [("glucose", "--accept"), ("fructans", "--step", "9"), ("fructans", "--accept")]
)
def test_what_cannot_be_decided_is_refused_and_nothing_is_written(folder, words):
    # the last lacks a reason and initials
    extra = (
        ()
        if words[1:] == ("--accept",) and words[0] == "fructans"
        else ("--reason", "x", "--by", "AB")
    )
    result = run("decide", str(folder), *words, *extra)
    assert isinstance(result.exception, ChallengeError)
    assert not (folder / "decisions.csv").exists()


def alarm(folder, date="2026-03-25"):
    with (folder / "events.csv").open("a", encoding="utf-8") as events:
        events.write(f"{date},,other,blood in the stool\n")


def by_words(folder, *words):
    return run("decide", str(folder), "lactose", *words, "--reason", "x", "--by", "AB")


@pytest.mark.parametrize("words", [("--accept",), ("--step", "1")])
def test_no_food_is_brought_back_while_the_diary_waits_for_a_doctor(folder, words):
    earlier = by_words(folder, "--step", "1")
    assert (earlier.exit_code, earlier.stderr) == (0, "")
    alarm(folder)
    refused = by_words(folder, *words)
    assert isinstance(refused.exception, ChallengeError)
    assert "Only --step 0 or --unclear" in refused.exception.message
    assert len(read_decisions(folder)) == 1
    first = " ".join(refused.stderr.split())
    assert first.startswith("On 2026-03-25 the client wrote what a doctor should hear: 'blood in")
    remedy = refused.stderr.splitlines()[-1].split()
    assert " ".join(remedy) == f"challenge new {folder} --doctor diary-alarm=GP --by AB"
    # the remedy, as it is printed, is enough
    assert run(*remedy[1:]).exit_code == 0
    answered = by_words(folder, *words)
    assert (answered.exit_code, answered.stderr) == (0, "")


@pytest.mark.parametrize("words", [("--unclear",), ("--step", "0")])
def test_holding_off_can_be_decided_while_the_diary_waits_for_a_doctor(folder, words):
    alarm(folder)
    made = by_words(folder, *words, "--json")
    assert made.exit_code == 0
    assert made.stderr.startswith("On 2026-03-25 the client wrote what a doctor should hear")
    waiting = [{"date": "2026-03-25", "sign": "blood", "text": "blood in the stool"}]
    assert json.loads(made.stdout)["alarms"] == waiting
    assert len(read_decisions(folder)) == 1
    shown = run("decide", str(folder))
    assert shown.stderr.startswith("On 2026-03-25 the client wrote what a doctor should hear")
    assert json.loads(run("decide", str(folder), "--json").stdout)["alarms"] == waiting


@pytest.mark.parametrize("options", [(), ("--brief",), ("--json",)])
def test_an_analysis_says_first_of_all_that_the_diary_waits_for_a_doctor(folder, options):
    quiet = run("analyse", str(folder), *options).stderr
    alarm(folder)
    shown = run("analyse", str(folder), *options)
    assert shown.exit_code == 0
    assert "a doctor should hear" not in quiet
    assert shown.stderr.startswith("On 2026-03-25 the client wrote what a doctor should hear")


def test_the_remedy_can_be_copied_where_a_folder_has_a_space_in_its_name(folder):
    place = folder.parent / "my clients"
    place.mkdir()
    moved = folder.rename(place / folder.name)
    alarm(moved)
    remedy = shlex.split(run("decide", str(moved)).stderr.splitlines()[-1])
    assert remedy == ["challenge", "new", str(moved), "--doctor", "diary-alarm=GP", "--by", "AB"]
    recorded = run(*remedy[1:])
    assert recorded.exit_code == 0
    # a sample diary comes without a screening: nobody may be told to go
    assert "Go:" not in recorded.stdout
    assert recorded.stdout.startswith("The screening has not been asked here.")
    following = shlex.split(recorded.stdout.splitlines()[-1].partition(": ")[2])
    assert following == ["challenge", "new", str(moved), "--again"]


def test_an_answer_to_nothing_is_not_recorded(folder):
    before = (folder / "client.toml").read_bytes()
    result = run("new", str(folder), "--doctor", "diary-alarm=GP", "--by", "AB")
    assert isinstance(result.exception, ChallengeError)
    assert "challenge add" in result.exception.message
    assert (folder / "client.toml").read_bytes() == before


def test_words_under_a_date_to_come_wait_and_are_answered_like_any_other(folder):
    alarm(folder, "2026-06-25")
    assert by_words(folder, "--step", "1").exit_code == 1
    assert run("new", str(folder), "--doctor", "diary-alarm=GP", "--by", "AB").exit_code == 0
    assert by_words(folder, "--step", "1").exit_code == 0


def test_a_doctor_who_advises_against_it_frees_nothing(folder):
    alarm(folder)
    args = ("--doctor-refused", "diary-alarm=GP", "--by", "AB")
    assert run("new", str(folder), *args).exit_code == 0
    assert isinstance(by_words(folder, "--step", "1").exception, ChallengeError)
    assert by_words(folder, "--step", "0").exit_code == 0


def test_new_evidence_makes_a_decision_out_of_date_and_small_shifts_do_not(folder):
    before = make_analysis(TYPICAL[:2])
    args = ("--accept", "--reason", "x", "--by", "AB")
    run("decide", str(folder), "fructans", *args)
    decision = read_decisions(folder)[0]
    from dataclasses import replace

    own = replace(decision, evidence=evidence_digest(before.groups[0], before.settings))
    assert standings(before, [own])["fructans"].current
    moved = replace(
        before, groups=(replace(before.groups[0], probability={0: 0.5, 1: 0.5}), before.groups[1])
    )
    assert standings(moved, [own])["fructans"].current
    after = make_analysis([Told("fructans", "reacted", 0, (2, 3, 4)), TYPICAL[1]])
    assert not standings(after, [own])["fructans"].current
    add_decision(folder, own)
    assert len(read_decisions(folder)) == 2
