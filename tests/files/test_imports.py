"""Storage of imports: nothing lost, nothing doubled, nothing overwritten in silence."""

from __future__ import annotations

import datetime as dt
import itertools
import os
from pathlib import Path

import pytest

from challenge.errors import ChallengeError
from challenge.files.import_store import stored_names
from challenge.files.imports import add_files, record_entries, undo_last
from challenge.files.reading import read_diary
from challenge.files.writing import write_diary

H = "time,symptom,score\n"


@pytest.fixture
def client(tmp_path):
    folder = tmp_path / "juniper"
    folder.mkdir()
    return folder


@pytest.fixture
def sent(tmp_path):
    numbers = itertools.count(1)

    def write(text: str, ending: str = ".csv") -> Path:
        path = tmp_path / f"sent{next(numbers)}{ending}"
        path.write_bytes(text.encode())
        return path

    return write


def scores(folder: Path) -> list[tuple[str, str, float]]:
    table = read_diary(folder).symptoms
    times = table["time"].dt.strftime("%d %H:%M")
    return list(zip(times, table["symptom"], table["score"], strict=True))


def everything(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_the_same_file_twice_changes_nothing(client, sent):
    file = sent(H + "2026-03-01T08:00,pain,3\n")
    assert add_files(client, [file]).symptoms == 1
    before = everything(client)
    again = add_files(client, [file, file])
    assert (again.name, again.symptoms) == (None, 0)
    assert everything(client) == before


def test_the_file_is_kept_unchanged_and_readable_by_its_owner_only(client, sent):
    text = H + "01.03.2026 8:00,Bauchschmerzen,3\n13.03.2026 8:00,pain,1\n"
    name = add_files(client, [sent(text)]).name
    kept = client / "imports" / name / "original-1.csv"
    assert kept.read_bytes() == text.encode()
    if os.name == "posix":
        assert kept.stat().st_mode & 0o077 == 0
        assert kept.parent.stat().st_mode & 0o077 == 0


def test_overlapping_exports_merge(client, sent):
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n2026-03-01T12:00,pain,4\n")])
    added = add_files(client, [sent(H + "2026-03-01T12:00,pain,4\n2026-03-01T20:00,pain,5\n")])
    assert (added.symptoms, added.known) == (1, 1)
    assert [row[2] for row in scores(client)] == [3, 4, 5]


def test_food_and_stools_that_come_twice_at_a_time_are_neither_lost_nor_doubled(client, sent):
    stools = H + "2026-03-01T08:00,stool_form,4\n2026-03-01T08:00,stool_form,4\n"
    foods = "time,food,portion_g\n2026-03-01T08:00,milk,100\n2026-03-01T08:00,milk,100\n"
    for _ in range(2):
        add_files(client, [sent(stools), sent(foods + "2026-03-02T08:00,rice,50\n")])
        add_files(client, [sent(foods)])
    diary = read_diary(client)
    assert len(diary.symptoms) == 2
    assert len(diary.foods) == 3


def test_a_changed_score_stops_the_import_and_both_are_shown(client, sent):
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
    before = everything(client)
    file = sent(H + "2026-03-01T08:00,pain,5\n2026-03-02T08:00,pain,1\n")
    for options in ({}, {"skip_bad_rows": True}):
        with pytest.raises(ChallengeError) as caught:
            add_files(client, [file], **options)
        (problem,) = caught.value.problems
        assert (problem.code, problem.file, problem.value) == ("score-conflict", file.name, "5")
        assert "2026-03-01T08:00" in problem.message and "3" in problem.message
        assert everything(client) == before


def test_two_files_that_contradict_each_other_are_refused_together(client, sent):
    one = sent(H + "2026-03-01T07:00,pain,3\n\n2026-03-01T08:00,pain,3\n")
    two = sent(H + "2026-03-01T08:00,pain,4\n")
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [one, two])
    (problem,) = caught.value.problems
    assert (problem.file, problem.line) == (two.name, 2)
    assert f"on record is 3, from {one.name}, line 4." in problem.message
    assert stored_names(client) == ()


def test_a_conflict_names_the_line_and_the_import_that_the_old_value_came_from(client, sent):
    when = dt.datetime(2026, 3, 5, 9, 30)
    first = add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")], when=when).name
    food = "time,food,portion_g\n2026-03-02T08:00,milk,100\n"
    second = add_files(client, [sent(food), sent(H + "2026-03-01T08:00,pain,3\n")]).name
    entry = {"time": "2026-03-03T08:00", "symptom": "wind", "score": 2}
    record_entries(client, symptoms=[{**entry, "score": 1}])
    third = record_entries(client, symptoms=[entry], correct=True).name
    file = sent(
        "time,food,portion_g,symptom,score\n2026-03-01T08:00,,,pain,4\n"
        "2026-03-02T07:00,tea,200,pain,1\n2026-03-02T08:00,milk,250,pain,1\n"
        "2026-03-03T08:00,,,wind,9\n"
    )
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [file])
    told = {(p.line, p.value): p.message for p in caught.value.problems}
    assert told.keys() == {(2, "4"), (4, "250 g"), (5, "9")}
    assert told[2, "4"].endswith(f"on record is 3, from import {first} of 2026-03-05.")
    assert told[4, "250 g"].endswith(f"on record is 100 g, from import {second}.")
    assert told[5, "9"].endswith(f"on record is 2, from import {third}.")


def test_a_conflict_with_a_table_changed_by_hand_says_so(client, sent):
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
    (client / "symptoms.csv").write_text(H + "2026-03-01T08:00,pain,7\n")
    file = sent(H + "2026-03-01T08:00,pain,5\n")
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [file])
    assert "on record is 7, from symptoms.csv, line 2." in caught.value.problems[0].message


def test_two_scores_in_one_file_name_both_lines(client, sent):
    file = sent(H + "2026-03-01T08:00,pain,3\n2026-03-01T09:00,pain,3\n2026-03-01T08:00,pain,5\n")
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [file])
    (problem,) = caught.value.problems
    assert (problem.code, problem.line, problem.value) == ("score-contradicts", 4, "3 and 5")
    assert problem.message.endswith("the other is in line 2.")


def test_a_changed_portion_is_a_conflict_too(client, sent):
    head = "time,food,portion_g\n"
    add_files(client, [sent(head + "2026-03-01T08:00,milk,100\n")])
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [sent(head + "2026-03-01T08:00,milk,150\n")])
    assert caught.value.problems[0].code == "food-conflict"


def test_a_correction_replaces_stays_and_can_be_taken_back(client, sent):
    old = sent(H + "2026-03-01T08:00,pain,3\n")
    add_files(client, [old])
    entry = {"time": "2026-03-01T08:00", "symptom": "pain", "score": 5}
    with pytest.raises(ChallengeError):
        record_entries(client, symptoms=[entry])
    assert record_entries(client, symptoms=[entry], correct=True).corrected == 1
    assert [row[2] for row in scores(client)] == [5]
    # the client's next export still holds the old score
    added = add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n2026-03-02T08:00,pain,1\n")])
    assert (added.symptoms, added.outdated) == (1, 1)
    assert [row[2] for row in scores(client)] == [5, 1]
    undo_last(client)
    undo_last(client)
    assert [row[2] for row in scores(client)] == [3]
    assert (client / "imports" / stored_names(client)[0] / "original-1.csv").exists()


def test_undo_gives_the_tables_as_they_were_and_keeps_the_files(client, sent):
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
    before = (client / "symptoms.csv").read_bytes()
    file = sent("time,food\n2026-03-01T08:00,milk\n")
    name = add_files(client, [file]).name
    back = undo_last(client)
    assert (back.name, back.foods) == (name, 1)
    assert (client / "symptoms.csv").read_bytes() == before
    assert not (client / "foods.csv").exists()
    assert (back.kept / "original-1.csv").read_bytes() == file.read_bytes()
    assert add_files(client, [file]).name.startswith("0003-")
    undo_last(client)
    undo_last(client)
    with pytest.raises(ChallengeError, match="no import"):
        undo_last(client)


def test_tables_that_were_there_first_become_an_import_and_are_never_taken_back(client, sent):
    made = "Datum;Uhrzeit;Schmerz;Wind\n1.3.2026;8:00;3;2\n13.3.2026;8:00;1;0\n"
    (client / "symptoms.csv").write_text(made)
    added = add_files(client, [sent(H + "2026-03-14T08:00,pain,5\n")])
    (kept,) = added.preserved
    assert (client / "imports" / kept / "original-1-symptoms.csv").read_text() == made
    assert len(scores(client)) == 5
    undo_last(client)
    assert len(scores(client)) == 4
    with pytest.raises(ChallengeError):
        undo_last(client)
    assert len(scores(client)) == 4


def test_a_table_changed_by_hand_is_kept_and_what_was_removed_stays_out(client, sent):
    file = sent(H + "2026-03-01T08:00,pain,3\n2026-03-01T12:00,pain,4\n")
    add_files(client, [file])
    (client / "symptoms.csv").write_text(H + "2026-03-01T08:00,pain,7\n")
    added = add_files(client, [sent("time,food\n2026-03-01T08:00,milk\n")])
    assert len(added.preserved) == 1
    assert [row[2] for row in scores(client)] == [7]
    add_files(client, [file])
    assert [row[2] for row in scores(client)] == [7]


def test_a_table_saved_again_in_another_form_is_no_change(client, sent):
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
    (client / "symptoms.csv").write_text("time;symptom;score\n2026-03-01 08:00;pain;3\n")
    assert add_files(client, [sent("time,food\n2026-03-01T08:00,milk\n")]).preserved == ()


def test_a_table_spoilt_by_hand_stops_everything(client, sent):
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
    (client / "symptoms.csv").write_text(H + "2026-03-01T08:00,pain,30\n")
    before = everything(client)
    with pytest.raises(ChallengeError, match="by hand"):
        add_files(client, [sent(H + "2026-03-02T08:00,pain,3\n")])
    assert everything(client) == before


def test_a_lost_table_comes_back(client, sent):
    file = sent(H + "2026-03-01T08:00,pain,3\n")
    add_files(client, [file])
    (client / "symptoms.csv").unlink()
    add_files(client, [file])
    assert len(scores(client)) == 1


def test_a_changed_import_is_noticed(client, sent):
    name = add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")]).name
    (client / "imports" / name / "read-symptoms.csv").write_text(H)
    with pytest.raises(ChallengeError, match="damaged"):
        undo_last(client)


def test_the_same_file_under_another_date_order_is_refused(client, sent):
    file = sent(H + "01/02/2026 08:00,pain,3\n")
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [file])
    assert any("--date-order dmy" in problem.remedy for problem in caught.value.problems)
    add_files(client, [file], date_order="day-first")
    assert scores(client)[0][0] == "01 08:00"
    with pytest.raises(ChallengeError, match="undo"):
        add_files(client, [file], date_order="month-first")
    undo_last(client)
    add_files(client, [file], date_order="month-first")
    assert scores(client)[0][0] == "02 08:00"


def test_typed_entries_are_checked_like_files(client):
    good = {"time": "2026-03-01T08:00", "food": "=1+1", "portion_g": 12.5}
    with pytest.raises(ChallengeError) as caught:
        record_entries(
            client,
            foods=[good],
            symptoms=[{"time": "2026-03-01T08:00", "symptom": "pain", "score": 11}],
        )
    assert [p.code for p in caught.value.problems] == ["score-out-of-range"]
    with pytest.raises(ChallengeError) as caught:
        record_entries(client, foods=[{"time": "2026-03-01T08:00"}])
    assert [p.code for p in caught.value.problems] == ["entry-incomplete"]
    note = "two\n2026-03-01 lines"
    with pytest.raises(ChallengeError) as caught:
        record_entries(client, foods=[{**good, "note": note}])
    assert caught.value.problems
    assert stored_names(client) == ()
    record_entries(client, foods=[good], source="page")
    assert read_diary(client).foods["food"].tolist() == ["=1+1"]


def test_tables_are_those_that_a_diary_would_be_written_as(client, sent):
    add_files(
        client,
        [
            sent(H + "2026-03-01T08:00:30,pain,3\n"),
            sent("time,food,portion_g,note\n2026-03-01T08:00,milk,12.5,=x\n"),
        ],
    )
    before = {name: (client / name).read_bytes() for name in ("foods.csv", "symptoms.csv")}
    write_diary(client, read_diary(client))
    assert before == {name: (client / name).read_bytes() for name in before}


class PowerCutError(Exception):
    pass


@pytest.mark.parametrize("scene", ["found", "by-hand", "plain"])
def test_cut_short_before_any_renaming_nothing_is_lost(scene, tmp_path, monkeypatch, sent):
    """Every step that changes the folder is a renaming; stop before each of them."""
    file = sent(H + "2026-03-05T08:00,pain,5\n")
    replace, rename = os.replace, Path.replace
    for stop in itertools.count():
        client = tmp_path / f"{scene}-{stop}"
        client.mkdir()
        if scene != "found":
            add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
        if scene != "plain":
            (client / "symptoms.csv").write_text(H + "2026-03-01T08:00,pain,4\n")
        steps = itertools.count()

        def cut(plain, source, target, steps=steps, stop=stop):
            if next(steps) == stop:
                raise PowerCutError
            plain(source, target)

        with monkeypatch.context() as patch:
            patch.setattr(os, "replace", lambda a, b: cut(replace, a, b))
            patch.setattr(Path, "replace", lambda a, b: cut(rename, a, b))
            try:
                add_files(client, [file])
                done = True
            except PowerCutError:
                done = False
        read_diary(client)
        add_files(client, [file])
        expected = [3 if scene == "plain" else 4, 5]
        assert [row[2] for row in scores(client)] == expected, stop
        assert len(stored_names(client)) == {"found": 2, "by-hand": 3, "plain": 2}[scene]
        assert not [p for p in read_diary(client).problems if p.file == "imports"]
        if done:
            break
    assert stop >= 4


def test_what_a_killed_process_left_is_removed_and_no_more(client, sent):
    (client / "imports").mkdir()
    left = [client / ".writing-symptoms.csv-x", client / "imports" / ".writing-state.json-x"]
    others = client / ".writing-plan.csv-x"  # another command may be writing it
    for path in (*left, others):
        path.write_text("half")
    add_files(client, [sent(H + "2026-03-01T08:00,pain,3\n")])
    assert not any(path.exists() for path in left)
    assert others.exists()


def test_of_very_many_conflicts_some_are_listed_and_the_others_counted(client, sent):
    """A whole diary on another scale; a list of a million lines helps nobody."""
    days = [
        f"20{y:02d}-{m:02d}-{d:02d}"
        for y in range(20, 40)
        for m in range(1, 13)
        for d in range(1, 29)
    ]
    first = H + "".join(f"{day}T08:00,pain,3\n" for day in days)
    add_files(client, [sent(first)])
    with pytest.raises(ChallengeError) as caught:
        add_files(client, [sent(first.replace(",3", ",5"))])
    problems = caught.value.problems
    assert [p.code for p in problems[:5000]] == ["score-conflict"] * 5000
    assert [(p.code, p.value) for p in problems[5000:]] == [("more-of-the-same", str(6720 - 5000))]
    with pytest.raises(ChallengeError) as caught:
        add_files(
            client, [sent(first + first.replace("time,symptom,score\n", "").replace(",3", ",5"))]
        )
    assert caught.value.problems[5000].value == str(6720 - 5000)


def test_a_note_changed_by_hand_stands_when_the_old_file_comes_again(client, sent):
    head = "time,symptom,score,note\n"
    file = sent(head + "2026-03-01T08:00,pain,3,after a long walk\n")
    add_files(client, [file])
    (client / "symptoms.csv").write_text(head + "2026-03-01T08:00,pain,3,walk\n")
    for _ in range(2):
        add_files(client, [file])
        assert read_diary(client).symptoms["note"].tolist() == ["walk"]
