"""What commands write about a client is for its owner only, whatever the umask allows."""

from __future__ import annotations

import json
import os
import stat
import sys

import pyrage
import pytest

from tests.commands.folders import run, sample
from tests.commands.test_plan import SCREENED

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")


@pytest.fixture
def challenge(monkeypatch, capsys):
    def call(*args, now="2026-11-25T09:00"):
        code, out, err = run(monkeypatch, capsys, *args, now=now)
        assert code == 0, err
        return out

    before = os.umask(0)
    yield call
    os.umask(before)


def open_to_others(folder):
    """Every path below a folder on which anybody but its owner has any right."""
    return [
        str(path.relative_to(folder))
        for path in sorted(folder.rglob("*"))
        if stat.S_IMODE(path.stat().st_mode) & 0o077
    ]


def test_a_client_from_the_first_question_to_the_export(challenge, tmp_path):
    folder = tmp_path / "elder"
    challenge("new", folder, *SCREENED, "--condition", "none", now="2026-03-01T09:00")
    challenge("plan", folder, "--start", "2026-03-02", "--ics", now="2026-03-01T09:00")
    challenge("page", folder, now="2026-03-01T09:00")
    challenge("page", folder, "--host", now="2026-03-01T09:00")
    challenge("sheet", folder, now="2026-03-01T09:00")
    challenge("log", folder, "--score", "pain=3", now="2026-03-02T09:00")
    diary = tmp_path / "sent.csv"
    diary.write_text("time,symptom,score\n2026-03-02T13:00,pain,2\n", encoding="utf-8")
    diary.chmod(0o600)
    challenge("add", folder, diary, now="2026-03-03T09:00")
    key = pyrage.x25519.Identity.generate().to_public()
    challenge("export", folder, "--encrypt", key, now="2026-03-03T09:00")
    assert len(list(folder.rglob("*"))) > 15
    assert open_to_others(tmp_path) == []


def test_results_letters_and_audits(challenge, tmp_path):
    folder = sample(tmp_path)
    folder.chmod(0o700)
    for path in folder.iterdir():
        path.chmod(0o600)  # as copied
    groups = json.loads(challenge("analyse", folder, "--figures", tmp_path / "fig", "--json"))
    group = groups["groups"][0]["fodmap_group"]
    challenge("decide", folder, group, "--unclear", "--reason", "a test", "--by", "AB")
    challenge("letter", folder, "--to", "doctor", "--name", "")
    challenge("report", folder)
    csv, html, jsonl = (tmp_path / f"a.{kind}" for kind in ("csv", "html", "jsonl"))
    challenge("audit", tmp_path, "--csv", csv, "--html", html, "--jsonl", jsonl)
    assert {"a.csv", "a.html", "a.jsonl", "fig"} <= {path.name for path in tmp_path.iterdir()}
    assert open_to_others(tmp_path) == []
