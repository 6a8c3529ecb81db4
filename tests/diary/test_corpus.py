"""Files as spreadsheets write them in five languages: every value exact, or the right question."""

from __future__ import annotations

import io
import zipfile

import pytest

from challenge.diary.intake import read_bytes
from challenge.diary.model import EVENT_COLUMNS, FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.diary.options import ReadOptions
from challenge.files.writing import guarded_text

from .corpus.case import FILES, Case
from .corpus.cases import CASES


def _name(case: Case) -> str:
    return "-".join([case.file, *map(str, case.told.values())])


@pytest.mark.parametrize("case", CASES, ids=_name)
def test_every_value_is_exact_or_the_file_is_refused_with_the_right_question(case):
    rows = read_bytes(case.path.read_bytes(), case.file, ReadOptions(**case.told))
    errors = {problem.code for problem in rows.problems if problem.severity == "error"}
    warnings = {problem.code for problem in rows.problems if problem.severity == "warning"}
    assert errors == case.errors, [p.sentence() for p in rows.problems]
    assert warnings == case.warnings, [p.sentence() for p in rows.problems]
    for problem in rows.problems:
        assert problem.message.endswith(".") and problem.remedy.endswith((".", ""))
    if case.at is not None:
        places = [(p.code, p.line, p.column, p.value) for p in rows.problems]
        assert case.at in places
    if not case.errors:
        assert sorted(rows.scores()) == sorted(case.symptoms)
        assert sorted(rows.foods) == sorted(case.foods)
        assert sorted(rows.events) == sorted(case.events)
        assert rows.scores() or rows.foods or rows.events or case.warnings


def test_the_corpus_is_complete():
    assert {case.file for case in CASES} == {
        path.relative_to(FILES).as_posix() for path in FILES.rglob("*") if path.is_file()
    }
    assert len({case.file for case in CASES}) >= 60


@pytest.mark.parametrize(
    "case", [case for case in CASES if case.data and case.file[-4:] in (".csv", ".txt")],
    ids=_name,
)  # fmt: skip
def test_the_text_files_are_those_that_the_script_writes(case):
    assert case.path.read_bytes() == case.data


def _parts(data: bytes) -> dict[str, bytes]:
    """Sheets and texts of a workbook; what names the program that wrote it may differ."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name) for name in book.namelist() if "worksheets/" in name}


@pytest.mark.parametrize(
    "case", [case for case in CASES if case.data and case.file.endswith(".xlsx")], ids=_name
)
def test_the_workbooks_are_those_that_the_script_writes(case):
    assert _parts(case.path.read_bytes()) == _parts(case.data)


@pytest.mark.parametrize("case", [case for case in CASES if not case.errors], ids=_name)
def test_a_second_reading_of_what_was_read_is_the_same(case):
    rows = read_bytes(case.path.read_bytes(), case.file, ReadOptions(**case.told))
    for kind, header, table in (
        ("foods", FOOD_COLUMNS, rows.foods),
        ("symptoms", SYMPTOM_COLUMNS, rows.scores()),
        ("events", EVENT_COLUMNS, rows.events),
    ):
        if table:
            again = read_bytes(guarded_text(header, table).encode(), "again.csv", ReadOptions())
            assert sorted(again.scores() if kind == "symptoms" else getattr(again, kind)) == sorted(
                table
            )
