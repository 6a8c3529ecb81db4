import csv
import json

import pytest

from challenge import __version__
from challenge.errors import ChallengeError
from challenge.practice.audit import (
    append_to_spool,
    audited,
    client_folders,
    mend_spool,
    read_spool,
    settings_digest,
    shown_code,
    write_csv,
)
from challenge.practice.records import csv_columns, problem_record
from challenge.practice.run import prepare, spool_for
from challenge.practice.truth import Told, lay_beside, read_truth


def fake_record(code, step=2, probability=(0.0, 0.1, 0.8, 0.1)):
    group = {
        "fodmap_group": "lactose",
        "suggested_step": step,
        "suggested_g": 6.0,
        "outcome": "reacted",
        "probability": list(probability),
        "n_pairs": 3,
        "difference": 1 / 3,
        "low": None,
        "high": 1.5,
        "pvalue_adjusted": None,
        "steps": [{"rise": 0.5, "low": 0.0, "high": 1.0}],
    }
    return {"client": code, "problem": None, "completeness": {"all": 0.9}, "groups": [group]}


def fake_work(folder):
    made = {"version": __version__, "as_of": None, "settings": settings_digest(folder)}
    if folder.name.endswith("3"):
        return {**problem_record(folder.name, "foods.csv, line 2: no date"), "made": made}
    return {**fake_record(folder.name), "made": made}


@pytest.fixture
def practice(tmp_path):
    for number in range(40):
        (tmp_path / "practice" / f"client-{number:02d}").mkdir(parents=True)
    return tmp_path / "practice"


def test_csv_has_the_columns_of_the_contract(tmp_path):
    spool = tmp_path / "spool"
    list(append_to_spool(spool, [fake_record("a"), problem_record("b", "no plan.csv")]))
    write_csv(tmp_path / "a.csv", spool)
    with (tmp_path / "a.csv").open() as file:
        rows = list(csv.reader(file))
    assert ",".join(rows[0]) == (
        "client,fodmap_group,suggested_step,suggested_g,outcome,p0,p1,p2,p3,"
        "n_pairs,difference,low,high,pvalue_adjusted,completeness,problem"
    )
    # an unknown number is an empty cell, never 0
    assert ",".join(rows[1]) == "a,lactose,2,6,reacted,0,0.1,0.8,0.1,3,0.333333,,1.5,,0.9,"
    assert rows[2] == ["b", *[""] * 14, "no plan.csv"]


def test_more_steps_make_more_columns(tmp_path):
    spool = tmp_path / "spool"
    records = [fake_record("a"), fake_record("b", probability=(0.1, 0.2, 0.3, 0.2, 0.2))]
    list(append_to_spool(spool, records))
    write_csv(tmp_path / "a.csv", spool)
    with (tmp_path / "a.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert [row["p4"] for row in rows] == ["", "0.2"]
    assert "p4" in csv_columns(4)


@pytest.mark.parametrize("jobs", [1, 2])
def test_same_records_in_the_same_order_on_any_number_of_jobs(practice, jobs):
    folders = client_folders(practice)
    records = list(audited(folders, jobs, fake_work, chunk=3))
    assert records == [fake_work(folder) for folder in folders]


@pytest.mark.slow
def test_dask_as_the_backend_gives_the_same_records(practice):
    from distributed import Client, LocalCluster
    from joblib import parallel_config

    folders = client_folders(practice)
    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
        ) as cluster,
        Client(cluster),
        parallel_config("dask"),
    ):
        records = list(audited(folders, 2, fake_work, chunk=3))
    assert records == [fake_work(folder) for folder in folders]


def test_interrupted_and_resumed_gives_the_same_file(practice, tmp_path):
    whole = tmp_path / "whole"
    list(append_to_spool(whole, audited(client_folders(practice), 1, fake_work)))
    with spool_for(tmp_path / "a.csv") as spool:
        stream = append_to_spool(spool, audited(client_folders(practice), 1, fake_work))
        for _ in range(17):
            next(stream)
        stream.close()
    # the power went while a line was being written
    spool.write_bytes(spool.read_bytes()[:-20])
    with pytest.raises(ChallengeError, match="--resume"):
        prepare(practice, spool, resume=False)
    task = prepare(practice, spool, resume=True)
    assert len(task.todo) == 40 - 16
    list(append_to_spool(spool, audited(task.todo, 1, fake_work)))
    assert spool.read_bytes() == whole.read_bytes()


def test_spool_without_a_last_line_end_is_mended(tmp_path):
    spool = tmp_path / "spool"
    spool.write_text(json.dumps(problem_record("a", "x")) + "\n" + '{"client": "b"')
    assert [record["client"] for record in read_spool(spool)] == ["a"]
    assert set(mend_spool(spool)) == {"a"}
    assert spool.read_text().endswith("}\n")


@pytest.mark.parametrize("length", [0, 1, 65_535, 65_536, 65_537, 200_000])
@pytest.mark.parametrize("before", [0, 1, 3])
def test_a_half_line_of_any_length_is_cut_off(tmp_path, length, before):
    spool = tmp_path / "spool"
    whole = "".join(json.dumps(problem_record(f"c{k}", "x")) + "\n" for k in range(before))
    spool.write_text(whole + "x" * length)
    assert set(mend_spool(spool)) == {f"c{k}" for k in range(before)}
    assert spool.read_text() == whole


def test_folder_name_that_may_be_a_persons_is_not_shown(tmp_path):
    folder = tmp_path / "Anna Beispiel"
    folder.mkdir()
    assert "Anna" not in shown_code(folder)
    assert shown_code(folder) != shown_code(tmp_path / "Anna Beispiel 2")


def test_what_is_no_practice_is_said_so(tmp_path):
    with pytest.raises(ChallengeError, match="no directory"):
        client_folders(tmp_path / "nothing")
    with pytest.raises(ChallengeError, match="no client folders"):
        client_folders(tmp_path)
    (tmp_path / "plan.csv").touch()
    with pytest.raises(ChallengeError, match="one client's folder"):
        client_folders(tmp_path)


def test_truth_is_read_and_laid_beside(tmp_path):
    path = tmp_path / "truth.csv"
    path.write_text(
        "client,fodmap_group,tolerated_step,rise_1,rise_2,rise_3\n"
        "a,lactose,2,0,0.4,1.6\nz,lactose,0,1.1,2,3\n"
    )
    truth = read_truth(path)
    assert truth["a", "lactose"] == Told(step=2, rises=(0.0, 0.4, 1.6))
    calls = lay_beside([fake_record("a"), fake_record("b", step=None)], truth)
    assert calls.truth.tolist() == [2]
    assert calls.suggested.tolist() == [2]
    assert calls.not_analysed == 1
    with pytest.raises(ChallengeError, match="belong together"):
        lay_beside([fake_record("c")], truth)


@pytest.mark.parametrize(
    "text", ["", "client,step\na,1\n", "client,fodmap_group,tolerated_step\na,b,x\n"]
)
def test_bad_truth_file_is_a_plain_message(tmp_path, text):
    path = tmp_path / "truth.csv"
    path.write_text(text)
    with pytest.raises(ChallengeError, match=r"truth\.csv"):
        read_truth(path)
