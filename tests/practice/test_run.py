"""Whole audits of real folders: any backend, any number of jobs, killed and gone on with."""

import datetime as dt
import json
import os
import signal
import subprocess
import sys
import time
from functools import partial

import pytest

from challenge.errors import ChallengeError
from challenge.practice.audit import audit_folder, audited, client_folders, write_csv
from challenge.practice.invent import invent_folders
from challenge.practice.run import Task, carry_out, prepare
from challenge.simulation.worlds import WORLDS

N = 40
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def practice(tmp_path_factory):
    """Clients of a world with gaps, so that some outcomes are unclear, and two bad folders."""
    directory = tmp_path_factory.mktemp("whole") / "practice"
    directory.mkdir()
    invent_folders(directory, WORLDS["gaps"], seed=4, first=0, end=N)
    (directory / "invented-00007" / "symptoms.csv").write_text("time,symptom,score\nx,pain,3\n")
    (directory / "middle-of-nowhere").mkdir()
    return directory


TODAY = dt.date(2027, 1, 1)


def outputs(directory, spool, jobs=1):
    """Bytes of spool and CSV of a run."""
    task = prepare(directory, spool, today=TODAY)
    for _ in carry_out(task, jobs):
        pass
    table = spool.with_suffix(".csv")
    write_csv(table, spool)
    return spool.read_bytes(), table.read_bytes()


@pytest.fixture(scope="module")
def alone(practice, tmp_path_factory):
    """What one process gives."""
    return outputs(practice, tmp_path_factory.mktemp("alone") / "spool")


def test_two_processes_give_the_same_bytes(practice, alone, tmp_path):
    records = [json.loads(line) for line in alone[0].splitlines()]
    assert len(records) == N + 1
    assert sum(record["problem"] is not None for record in records) == 2
    assert {g["outcome"] for r in records for g in r["groups"]} == {
        "tolerated",
        "reacted",
        "unclear",
    }
    assert outputs(practice, tmp_path / "spool", jobs=2) == alone


def test_processes_of_dask_give_the_same_bytes(practice, alone, tmp_path):
    from distributed import Client, LocalCluster
    from joblib import parallel_config

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0") as cluster,
        Client(cluster),
        parallel_config("dask"),
    ):
        assert outputs(practice, tmp_path / "spool", jobs=2) == alone


@pytest.mark.parametrize("chunk", [1, 5, 100])
def test_the_size_of_a_task_changes_nothing(practice, alone, chunk):
    folders = client_folders(practice)[:6]
    expected = [json.loads(line) for line in alone[0].splitlines()[:6]]
    work = partial(audit_folder, today=TODAY)
    assert list(audited(folders, 1, work, chunk=chunk)) == expected


def start(practice, out, *more):
    """Run the program with two jobs in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "challenge", "audit", practice, "--csv", out, "--jobs", "2", *more],
        start_new_session=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "OMP_NUM_THREADS": "1", "CHALLENGE_NOW": f"{TODAY}T09:00"},
    )


def wait_for_a_record(spool, process):
    while process.poll() is None and not (spool.exists() and spool.stat().st_size):
        time.sleep(0.02)


def test_killed_and_gone_on_with_gives_the_same_bytes(practice, alone, tmp_path):
    out = tmp_path / "audit.csv"
    spool = tmp_path / "audit.csv.partial.jsonl"
    process = start(practice, out)
    wait_for_a_record(spool, process)
    os.killpg(process.pid, signal.SIGKILL)
    process.communicate()
    assert not out.exists()
    done = spool.read_bytes()
    # the first task is in the spool, the last is not; and the power went within a line
    assert 0 < done.count(b"\n") < N + 1
    spool.write_bytes(done[:-25])
    again = start(practice, out, "--resume")
    again.communicate()
    assert again.returncode == 0
    assert out.read_bytes() == alone[1]
    assert not spool.exists()


def test_ctrl_c_keeps_what_is_done_and_says_how_to_go_on(practice, tmp_path):
    out = tmp_path / "audit.csv"
    spool = tmp_path / "audit.csv.partial.jsonl"
    process = start(practice, out)
    wait_for_a_record(spool, process)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate()
    assert process.returncode == 130
    assert "--resume" in told
    assert "Traceback" not in told
    assert spool.read_bytes().endswith(b"\n")


def test_a_spool_of_another_directory_is_refused(practice, alone, tmp_path):
    spool = tmp_path / "spool"
    spool.write_bytes(alone[0])
    other = tmp_path / "practice"
    (other / "somebody-else").mkdir(parents=True)
    with pytest.raises(ChallengeError, match="another directory"):
        prepare(other, spool, resume=True)
    assert spool.read_bytes() == alone[0]
    assert prepare(practice, spool, resume=True) == Task(
        folders=tuple(client_folders(practice)), todo=(), spool=spool, as_of=TODAY
    )
