"""``challenge add`` and ``challenge undo`` as a person meets them. Expected values set by hand."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from openpyxl import Workbook
from typer.testing import CliRunner

import challenge.commands.add
import challenge.commands.undo  # noqa: F401
from challenge.commands.app import app
from challenge.errors import ChallengeError
from challenge.files.reading import read_diary


@pytest.fixture
def client(tmp_path, monkeypatch):
    monkeypatch.setenv("CHALLENGE_NOW", "2026-06-01T10:00")
    folder = tmp_path / "juniper"
    folder.mkdir()
    return folder


def run(*words: object):
    return CliRunner().invoke(app, [str(word) for word in words])


def said(*words: object) -> str:
    """What a person is told of an error, problem by problem."""
    result = run(*words)
    assert result.exit_code == 1 and isinstance(result.exception, ChallengeError)
    return " ".join(problem.sentence() for problem in result.exception.problems)


def added(*words: object) -> dict[str, object]:
    result = run("add", *words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def refused(*words: object) -> set[str]:
    result = run("add", *words, "--json")
    assert result.exit_code == 1, result.output
    return {p["code"] for p in json.loads(result.stdout)["problems"] if p["severity"] == "error"}


def workbook(path: Path, *sheets: list[list[object]]) -> Path:
    book = Workbook()
    book.remove(book.active)
    for rows in sheets:
        sheet = book.create_sheet()
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def test_workbook_with_true_dates_times_and_numbers(client, tmp_path):
    file = workbook(
        tmp_path / "march.xlsx",
        [
            ["Date", "Time", "Pain", "Bloating", "Note"],
            [dt.date(2026, 2, 1), dt.time(8, 0), 3, 2.0, "=1+1 was felt"[1:]],
            [dt.date(2026, 2, 1), dt.time(20, 30), 0, None, None],
        ],
        [
            ["time", "food", "portion (g)", "fodmap group", "fodmap g"],
            [dt.datetime(2026, 2, 1, 12, 15), "skimmed milk", 125.5, "Lactose", 6.125],
        ],
    )
    told = added(client, file)
    assert told["new"] == {"foods": 1, "symptoms": 3, "events": 0}
    diary = read_diary(client)
    assert diary.symptoms["time"].dt.strftime("%Y-%m-%dT%H:%M").tolist() == [
        "2026-02-01T08:00",
        "2026-02-01T08:00",
        "2026-02-01T20:30",
    ]
    assert diary.symptoms["symptom"].tolist() == ["bloating", "pain", "pain"]
    assert diary.symptoms["score"].tolist() == [2, 3, 0]
    (food,) = diary.foods.to_dict("records")
    assert str(food["time"]) == "2026-02-01 12:15:00"
    assert (food["portion_g"], food["fodmap_group"], food["fodmap_g"]) == (125.5, "lactose", 6.125)


def test_workbook_and_the_csv_of_the_same_rows_are_one_diary(client, tmp_path):
    added(
        client,
        workbook(
            tmp_path / "a.xlsx",
            [["time", "symptom", "score"], [dt.datetime(2026, 2, 1, 8), "pain", 3]],
        ),
    )
    csv = tmp_path / "a.csv"
    csv.write_text("Datum;Uhrzeit;Beschwerde;Wert\n1.2.2026;08:00;Schmerz;3\n13.2.2026;8:00;Wind;1")
    assert added(client, csv)["known"] == 1


def test_decimal_comma_and_windows_1252(client, tmp_path):
    file = tmp_path / "essen.csv"
    file.write_bytes(
        "Datum;Uhrzeit;Lebensmittel;Menge (g);Gruppe;FODMAP g\r\n"
        "13.02.2026;08:00;Käse;62,5;Laktose;1,25\r\n".encode("cp1252")
    )
    told = added(client, file)
    assert [p["code"] for p in told["problems"]] == ["encoding-guessed"]
    (food,) = read_diary(client).foods.to_dict("records")
    assert (food["food"], food["portion_g"], food["fodmap_g"]) == ("Käse", 62.5, 1.25)


def test_another_encoding_is_asked_for_and_then_used(client, tmp_path):
    file = tmp_path / "jedzenie.csv"
    file.write_bytes("data;godzina;produkt\n13.02.2026;08:00;mięso\n".encode("cp1250"))
    assert refused(client, file) == {"encoding-unsure"}
    added(client, file, "--encoding", "windows-1250")
    assert read_diary(client).foods["food"].tolist() == ["mięso"]


@pytest.mark.parametrize(("order", "day"), [("dmy", "2026-02-01"), ("mdy", "2026-01-02")])
def test_ambiguous_dates_are_asked_about(client, tmp_path, order, day):
    file = tmp_path / "a.csv"
    file.write_text("time,symptom,score\n01/02/2026 08:00,pain,3\n")
    assert "--date-order dmy" in said("add", client, file)
    assert refused(client, file, "--skip-bad-rows") >= {"date-order-unknown"}
    assert not (client / "symptoms.csv").exists()
    added(client, file, "--date-order", order)
    assert str(read_diary(client).symptoms["time"][0].date()) == day


def test_a_wrong_date_order_is_wrong_usage(client):
    assert run("add", client, "a.csv", "--date-order", "ydm").exit_code == 2


def test_all_or_nothing_over_all_files(client, tmp_path):
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text("time,food\n2026-03-01T08:00,milk\n")
    bad.write_text("time,symptom,score\n\n2026-03-01T08:00,pain,11\n2026-03-01T09:00,pain,x\n")
    result = run("add", client, good, bad, tmp_path / "none.csv", "--json")
    assert result.exit_code == 1
    problems = json.loads(result.stdout)["problems"]
    places = {(p["file"], p["line"], p["column"], p["value"], p["code"]) for p in problems}
    assert places == {
        ("bad.csv", 3, "score", "11", "score-out-of-range"),
        ("bad.csv", 4, "score", "x", "score-unreadable"),
        ("none.csv", None, None, None, "file-unreadable"),
    }
    with pytest.raises(ChallengeError):
        read_diary(client)


def test_refused_rows_are_kept_beside_and_can_be_added_when_put_right(client, tmp_path):
    file = tmp_path / "a.csv"
    file.write_text(
        "time,symptom,score,note\n2026-03-01T08:00,pain,3,\n2026-03-01T09:00,pain,11,=1\n"
        "2026-03-01T10:00,pain,4,a,b\n"
    )
    assert refused(client, file) == {"score-out-of-range", "row-too-long"}
    told = added(client, file, "--skip-bad-rows")
    assert (told["new"]["symptoms"], told["refused"]) == (1, 2)
    (kept,) = map(Path, told["refused_files"])
    lines = kept.read_text().splitlines()
    assert lines[1].startswith("3,The score is outside") and lines[1].endswith(",'=1,")
    assert lines[2].endswith("2026-03-01T10:00,pain,4,a,b")
    mended = tmp_path / "mended.csv"
    mended.write_text(kept.read_text().replace(",11,", ",1,").replace(",a,b", ",a b,"))
    assert added(client, mended)["new"]["symptoms"] == 2
    assert read_diary(client).symptoms["note"].tolist() == ["", "=1", "a b"]


def test_a_quote_that_swallows_rows_cannot_be_skipped(client, tmp_path):
    file = tmp_path / "a.csv"
    file.write_text('time,symptom,score\n2026-03-01T08:00,pain,3\n"2026-03-01T09:00,pain,3\n')
    assert refused(client, file, "--skip-bad-rows") == {"quote-not-closed"}


def test_twice_conflict_and_undo_in_plain_words(client, tmp_path):
    file = tmp_path / "a.csv"
    file.write_text("time,symptom,score\n2026-03-01T08:00,pain,3\n")
    assert "1 score, 0 events" in run("add", client, file).output
    assert "on record already" in run("add", client, file).output
    file.write_text("time,symptom,score\n2026-03-01T08:00,pain,4\n")
    assert "on record is 3" in said("add", client, file)
    assert run("add", client, file, "--correct").exit_code == 0
    assert read_diary(client).symptoms["score"].tolist() == [4]
    assert run("undo", client).exit_code == 0
    assert read_diary(client).symptoms["score"].tolist() == [3]
    assert json.loads(run("undo", client, "--json").stdout)["kind"] == "files"
    last = run("undo", client)
    assert last.exit_code == 1 and isinstance(last.exception, ChallengeError)


def test_it_says_when_a_note_was_added_to_an_entry_on_record(client, tmp_path):
    file = tmp_path / "a.csv"
    head = "time,symptom,score,note\n2026-03-01T08:00,pain,3,"
    file.write_text(f"{head}after lunch\n")
    assert "notes" not in run("add", client, file).output
    file.write_text(f"{head}woke me\n")
    told = run("add", client, file).output
    assert "Further notes, or earlier times of writing, kept beside those: at 1 time." in told
    for _ in range(3):
        assert "nothing was changed" in run("add", client, file).output
    assert read_diary(client).symptoms["note"].tolist() == ["after lunch | woke me"]


def test_mapped_columns_of_the_clients_own_sheet(client, tmp_path):
    (client / "client.toml").write_text('[diary.columns]\n"Bauchi" = "pain"\n"Wann" = "time"\n')
    file = tmp_path / "a.csv"
    file.write_text("Wann,Bauchi\n2026-03-01 08:00,3\n")
    added(client, file)
    assert read_diary(client).symptoms["symptom"].tolist() == ["pain"]
