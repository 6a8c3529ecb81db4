"""No note is lost when entries of the same time and value come together, in whatever order."""

import datetime as dt
import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from challenge.diary.intake import read_bytes
from challenge.diary.merge import Record
from challenge.diary.notes import one_note, parts_of
from challenge.diary.options import ReadOptions
from challenge.diary.rows import Rows
from challenge.diary.twice import check_rows
from challenge.files.imports import add_files, record_entries
from challenge.files.reading import read_diary
from challenge.protocol.alarms import alarms
from challenge.protocol.record import record_of

LONG = "no blood, only tired after a long day"
SHORT = "blood in the stool"
TODAY = dt.date(2026, 3, 9)
SCORE = "time,symptom,score,note\n2026-03-01T08:00,{},4,{}\n"
FOOD = 'time,food,portion_g,note\n2026-03-01T08:00,milk,100,"{1}"\n'
EACH = pytest.mark.parametrize(
    ("text", "kind"), [(SCORE, "pain"), (SCORE, "stool_form"), (FOOD, "")], ids=str
)


def signs(folder):
    return [(one.sign, one.text) for one in alarms(record_of(read_diary(folder)), TODAY)]


def files_of(tmp_path, text, kind, notes):
    paths = [tmp_path / f"{number}.csv" for number in range(len(notes))]
    for path, note in zip(paths, notes, strict=True):
        path.write_text(text.format(kind, f'"{note}"' if text is SCORE else note))
    return paths


@EACH
def test_a_short_alarm_beside_a_longer_note_is_kept_and_heard(text, kind, tmp_path):
    paths = files_of(tmp_path, text, kind, [LONG, SHORT, "", "blood"])
    tables = set()
    for number, order in enumerate(itertools.permutations(paths)):
        folder = tmp_path / f"client-{number}"
        folder.mkdir()
        for path in (*order, order[0]):
            add_files(folder, [path])
        (table,) = (
            folder / name for name in ("foods.csv", "symptoms.csv") if (folder / name).exists()
        )
        tables.add(table.read_bytes())
        assert signs(folder) == [("blood", "blood"), ("blood", SHORT)]
    assert len(tables) == 1
    assert tables.pop().decode().count(f"{LONG} | {SHORT} | blood") == 1


def test_two_notes_of_one_score_in_one_file_are_both_kept(tmp_path):
    (tmp_path / "a.csv").write_text(
        f'time,symptom,score,note\n2026-03-01T08:00,pain,4,"{LONG}"\n2026-03-01T08:00,pain,4,{SHORT}\n'
    )
    folder = tmp_path / "client"
    folder.mkdir()
    assert add_files(folder, [tmp_path / "a.csv"]).symptoms == 1
    assert signs(folder) == [("blood", SHORT)]
    assert read_diary(folder).symptoms["note"].tolist() == [f"{LONG} | {SHORT}"]


def test_a_note_typed_later_for_the_same_score_is_stored(tmp_path):
    entry = {"time": "2026-03-01T08:00", "symptom": "pain", "score": 4}
    record_entries(tmp_path, symptoms=[entry | {"note": LONG}])
    for correct in (False, True, True):
        record_entries(tmp_path, symptoms=[entry | {"note": SHORT}], correct=correct)
        assert signs(tmp_path) == [("blood", SHORT)]
        assert read_diary(tmp_path).symptoms["note"].tolist() == [f"{LONG} | {SHORT}"]


def test_a_corrected_value_keeps_the_note_beside_the_old_one(tmp_path):
    score = {"time": "2026-03-01T08:00", "symptom": "pain"}
    meal = {"time": "2026-03-01T08:00", "food": "milk"}
    record_entries(tmp_path, symptoms=[score | {"score": 4, "note": SHORT}])
    record_entries(tmp_path, foods=[meal | {"portion_g": 100, "note": "felt faint"}])
    for _ in range(2):
        record_entries(tmp_path, symptoms=[score | {"score": 6, "note": LONG}], correct=True)
        record_entries(tmp_path, foods=[meal | {"portion_g": 200}], correct=True)
        diary = read_diary(tmp_path)
        assert diary.symptoms[["score", "note"]].values.tolist() == [[6, f"{LONG} | {SHORT}"]]
        assert diary.foods[["portion_g", "note"]].values.tolist() == [[200, "felt faint"]]
        assert signs(tmp_path) == [("blood", SHORT), ("fainting", "felt faint")]


def test_a_doctors_answer_still_holds_when_another_note_is_joined(tmp_path):
    entry = {"time": "2026-03-01T08:00", "symptom": "pain", "score": 4}
    keys = []
    for note in (SHORT, LONG):
        record_entries(tmp_path, symptoms=[entry | {"note": note}])
        keys.append([one.key for one in alarms(record_of(read_diary(tmp_path)), TODAY)])
    assert keys[0] == keys[1]


# -- joining is a semilattice ----------------------------------------------------------------------

NOTES = st.sampled_from(["", "a", "bb", "blood", "no blood", "a | bb", "bb|a", "|", "a|a", "=c|a"])
ENTERED = st.sampled_from(["", "2026-03-09T09:00", "2026-03-08T09:00"])


@st.composite
def diaries(draw: st.DrawFn) -> Rows:
    """Diaries whose values follow from time and name, so that no two contradict."""
    hours = st.integers(8, 9)
    foods = [
        (f"2026-03-01T{hour:02d}:00", "milk", "100", "", "", note, at)
        for hour, note, at in draw(st.lists(st.tuples(hours, NOTES, ENTERED), max_size=5))
    ]
    names = st.sampled_from(["pain", "stool_form"])
    symptoms = [
        (f"2026-03-01T{hour:02d}:00", name, "4", note, at)
        for hour, name, note, at in draw(
            st.lists(st.tuples(hours, names, NOTES, ENTERED), max_size=6)
        )
    ]
    return check_rows(Rows(foods=foods, symptoms=symptoms))[0]


def joined(*diaries: Rows) -> Rows:
    record = Record()
    for one in diaries:
        assert not record.join(one)[1]
    return record.rows()


def notes_in(*diaries: Rows) -> set[tuple[str, str, str]]:
    rows = [(*row[:2], row[-2]) for one in diaries for row in (*one.foods, *one.symptoms)]
    return {(time, name, part) for time, name, note in rows for part in parts_of(note)}


@settings(max_examples=300, deadline=None)
@given(diaries(), diaries(), diaries())
def test_joining_is_associative_commutative_idempotent_and_loses_no_note(a, b, c):
    every = joined(a, b, c)
    for order in itertools.permutations((a, b, c)):
        assert joined(*order) == every
        assert joined(*order, *order) == every
        one, two, three = order
        assert joined(one, joined(two, three)) == every
        assert joined(joined(one, two), three) == every
    assert joined(every, every) == every
    assert notes_in(every) == notes_in(a, b, c)


@settings(max_examples=300, deadline=None)
@given(st.lists(NOTES, min_size=1, max_size=5), st.randoms())
def test_one_note_of_several_does_not_depend_on_their_order(notes, random):
    every = one_note(notes)
    assert one_note(random.sample(notes, len(notes))) == every
    assert one_note([one_note(notes[:2]), *notes[2:]]) == one_note([every, every, *notes])
    assert set(parts_of(every)) == {part for note in notes for part in parts_of(note)}


def test_joined_notes_are_read_back_from_the_table_as_they_were():
    note = one_note(["=1+1", "two words", "- dash"])
    table = f'time,symptom,score,note\n2026-03-01T08:00,pain,4,"{note}"\n'
    (row,) = read_bytes(table.encode(), "a.csv", ReadOptions()).scores()
    assert set(parts_of(row[3])) == {"=1+1", "two words", "- dash"}
