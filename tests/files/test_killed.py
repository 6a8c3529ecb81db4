"""Imports killed at random moments, and several at once; `killing.py` does the long run."""

from __future__ import annotations

import os

import pytest

from challenge.files.import_store import stored_names
from tests.files.killing import imports_at_once, killed_imports, settle

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL"),
]


@pytest.fixture
def client(tmp_path):
    folder = tmp_path / "client"
    folder.mkdir()
    return folder


def test_killed_at_any_moment_everything_acknowledged_is_there(client, tmp_path):
    tally = killed_imports(client, tmp_path, imports=30, seed=5)
    assert len(tally.acknowledged) >= 8 and tally.met.total() == 22
    assert tally.met["while a file was written"] + tally.met["between two changes"] > 0
    settle(client, tmp_path, tally)


def test_four_processes_at_once_lose_nothing(client, tmp_path):
    tally = imports_at_once(client, tmp_path, processes=4, each=4, seed=1)
    assert len(tally.acknowledged) == 16
    assert len(stored_names(client)) == 16
    settle(client, tmp_path, tally)


def test_kills_among_four_processes_lose_nothing(client, tmp_path):
    tally = imports_at_once(client, tmp_path, processes=4, each=4, seed=2, kills=0.5)
    assert tally.doubtful
    settle(client, tmp_path, tally)
