"""The short way to the record, by the tables, against the long one, by all imports."""

from __future__ import annotations

import tempfile
from pathlib import Path
from unittest import mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from challenge.errors import ChallengeError
from challenge.files import import_store as store
from challenge.files.imports import add_files, record_entries, undo_last
from challenge.files.ledger import opened
from challenge.files.writing import rows_bytes

H = "time,symptom,score,note\n"
TIMES = st.integers(1, 3).map(lambda day: f"2026-03-0{day}T08:00")
ROWS = st.lists(
    st.tuples(
        TIMES, st.sampled_from(["pain", "stool_form"]), st.integers(1, 2), st.sampled_from("ab")
    ),
    min_size=1,
    max_size=3,
)
STEP = st.sampled_from(["add", "add", "correct", "entry", "by hand", "undo", "lost"])


def both_records(folder: Path):
    with opened(folder, None) as ledger:
        return ledger._from_tables(), ledger._from_imports()


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(STEP, ROWS), min_size=1, max_size=8))
def test_tables_and_imports_tell_the_same(steps):
    """After any adding, correcting, changing by hand, losing and taking back."""
    with tempfile.TemporaryDirectory() as base, mock.patch("os.fsync"):
        folder = Path(base) / "client"
        folder.mkdir()
        for number, (step, rows) in enumerate(steps):
            text = H + "".join(f"{','.join(map(str, row))}\n" for row in rows)
            table = folder / "symptoms.csv"
            file = Path(base) / f"{number}.csv"
            file.write_text(text)
            try:
                if step in ("add", "correct"):
                    add_files(folder, [file], correct=step == "correct")
                elif step == "entry":
                    names = ("time", "symptom", "score", "note")
                    record_entries(
                        folder, symptoms=[dict(zip(names, rows[0], strict=True))], correct=True
                    )
                elif step == "undo":
                    undo_last(folder)
                elif step == "by hand":
                    table.write_text(text)
                    continue
                else:
                    table.unlink(missing_ok=True)
                    continue
            except ChallengeError:
                continue  # a contradiction, or nothing to take back
            short, long = both_records(folder)
            assert short is not None
            assert rows_bytes(short.rows()) == rows_bytes(long.rows())
            assert short.gone() == long.gone()


@pytest.fixture
def client(tmp_path):
    folder = tmp_path / "juniper"
    folder.mkdir()
    return folder


def test_an_import_reads_none_of_those_before_it(client, tmp_path):
    for day in (1, 2):
        file = tmp_path / f"{day}.csv"
        file.write_text(H + f"2026-03-0{day}T08:00,pain,3,\n")
        add_files(client, [file])
    file.write_text(H + "2026-03-03T08:00,pain,3,\n")
    with mock.patch.object(store, "read_import_rows", side_effect=AssertionError):
        assert add_files(client, [file]).symptoms == 1


@pytest.mark.parametrize("spoil", ["", "{}", '{"imports": [], "tables": {}, "gone": []}'])
def test_what_is_noted_of_the_tables_can_always_be_made_anew(client, tmp_path, spoil):
    file = tmp_path / "a.csv"
    file.write_text(H + "2026-03-01T08:00,pain,3,\n")
    add_files(client, [file])
    before = (client / "symptoms.csv").read_bytes()
    state = client / "imports" / "state.json"
    known = state.read_bytes()
    state.write_text(spoil)
    assert add_files(client, [file]).name is None
    assert (client / "symptoms.csv").read_bytes() == before
    assert state.read_bytes() == known
    state.unlink()
    add_files(client, [file])
    assert state.read_bytes() == known
