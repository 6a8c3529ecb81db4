from __future__ import annotations

import datetime as dt

import pytest

from challenge.errors import ChallengeError
from challenge.files.imports import add_files, record_entries, undo_last
from challenge.files.reading import read_diary
from challenge.files.rewriting import Change, change_entries

NOW = dt.datetime(2026, 3, 5, 19, 10)
AT = dt.datetime(2026, 3, 5, 8, 10)
PAIN = ("2026-03-05T08:10", "pain", "3", "a note", "2026-03-05T09:00")
WIND = ("2026-03-05T08:10", "wind", "1", "", "2026-03-05T09:00")
MILK = ("2026-03-05T08:00", "milk", "60", "lactose", "3", "", "2026-03-05T09:00")


@pytest.fixture
def client(tmp_path):
    folder = tmp_path / "juniper"
    folder.mkdir()
    record_entries(
        folder,
        symptoms=[
            {"time": AT, "symptom": "pain", "score": 3, "note": "a note", "entered_at": PAIN[4]},
            {"time": AT, "symptom": "wind", "score": 1, "entered_at": WIND[4]},
        ],
        foods=[
            {"time": MILK[0], "food": "milk", "portion_g": 60, "fodmap_group": "lactose",
             "fodmap_g": 3, "entered_at": MILK[6]}
        ],
        when=NOW,
    )  # fmt: skip
    return folder


def lines(folder, name="symptoms.csv"):
    path = folder / name
    return path.read_text().split()[1:] if path.exists() else []


def test_what_is_taken_out_stays_in_the_history_and_can_be_brought_back(client):
    before = lines(client)
    added = change_entries(client, [Change(kind="symptoms", row=WIND, time=None)], when=NOW)
    assert added.corrected == 1
    assert not any("wind" in line for line in lines(client))
    kept = client / "imports" / str(added.name) / "original-1-changed-symptoms.csv"
    assert "2026-03-05T08:10,wind,1,,2026-03-05T09:00" in kept.read_text()
    undo_last(client)
    assert lines(client) == before


def test_the_last_entry_can_be_taken_out(client):
    change_entries(client, [Change(kind="foods", row=MILK, time=None)], when=NOW)
    assert lines(client, "foods.csv") == []
    assert len(read_diary(client).symptoms) == 2


def test_moved_entries_keep_everything_but_their_time(client):
    later = AT.replace(hour=9)
    change_entries(
        client,
        [
            Change(kind="symptoms", row=PAIN, time=later),
            Change(kind="foods", row=MILK, time=later),
        ],
        when=NOW,
    )
    table = read_diary(client).symptoms
    assert sorted(zip(table["time"].dt.hour, table["symptom"], strict=True)) == [
        (8, "wind"),
        (9, "pain"),
    ]
    assert lines(client, "foods.csv") == ["2026-03-05T09:10,milk,60,lactose,3,,2026-03-05T19:10"]


def test_a_file_does_not_bring_back_what_was_taken_out(client, tmp_path):
    change_entries(client, [Change(kind="symptoms", row=WIND, time=None)], when=NOW)
    old = tmp_path / "old.csv"
    old.write_text("time,symptom,score\n2026-03-05T08:10,wind,1\n2026-03-05T08:10,pain,3\n")
    assert add_files(client, [old]).outdated == 1
    assert not any("wind" in line for line in lines(client))


@pytest.mark.parametrize(
    "wrong",
    [
        Change(kind="symptoms", row=("2026-03-05T08:10", "urgency", "1", "", ""), time=None),
        Change(kind="symptoms", row=PAIN, time=AT.replace(hour=7)),
    ],
)
def test_all_or_nothing(client, wrong):
    record_entries(client, symptoms=[{"time": AT.replace(hour=7), "symptom": "pain", "score": 5}])
    before = lines(client)
    with pytest.raises(ChallengeError, match="Nothing was changed"):
        change_entries(client, [Change(kind="symptoms", row=WIND, time=None), wrong], when=NOW)
    assert lines(client) == before
