"""The workbook by itself: empty it holds no entry, and it limits what can be typed."""

import datetime as dt
import io
import re
import zipfile

import pytest
from openpyxl import load_workbook

from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions
from challenge.errors import ChallengeError
from challenge.logbook.sheet import build_sheet
from challenge.logbook.sheet_xlsx import render_sheet_xlsx
from challenge.wording import languages, load_words
from tests.logbook.making import LONG, PLAN_TEXT, make_plan, make_settings, make_sheet

OWN = ("pain", "bloating", "Nausea after meals", "stress")


def make_book(language="en", mapping=None, **diary):
    symptoms = diary.get("symptoms", ("pain", "bloating", "wind", "discomfort", "urgency"))
    return render_sheet_xlsx(
        make_sheet(language, **diary),
        load_words(language),
        mapping=mapping or {},
        declared=symptoms,
    )


def opened(content):
    return load_workbook(io.BytesIO(content))


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("symptoms", [("pain", "bloating"), OWN])
def test_an_empty_workbook_holds_no_entry_and_nothing_else_is_said(language, symptoms):
    content = make_book(language, symptoms=symptoms)
    rows = read_bytes(content, "diary.xlsx", ReadOptions(symptoms=symptoms))
    assert {(p.code, p.severity) for p in rows.problems} == {("no-rows", "warning")}
    assert (rows.foods, rows.count("symptoms"), rows.events) == ([], 0, [])


@pytest.mark.parametrize("language", languages())
def test_every_cell_filled_in_comes_back(language):
    """Each score a different one, so that no column can stand for another."""
    book = opened(make_book(language, symptoms=OWN))
    scores = book.worksheets[1]
    scores["E3"], scores["F3"], scores["G3"], scores["H3"] = 1, 2, 3, 4
    scores["I3"] = "a note"
    foods = book.worksheets[2]
    foods["C3"], foods["D3"], foods["E3"], foods["F3"] = dt.time(7, 5), LONG, 45.5, "another"
    stools = book.worksheets[3]
    stools["B3"], stools["C3"], stools["D3"] = dt.time(6, 30), 7, "early"
    unusual = book.worksheets[4]
    unusual["A3"], unusual["B3"] = dt.date(2026, 3, 4), dt.date(2026, 3, 5)
    unusual["C3"], unusual["D3"] = "Reise", "by train"
    file = io.BytesIO()
    book.save(file)
    rows = read_bytes(file.getvalue(), "diary.xlsx", ReadOptions(symptoms=OWN))
    assert rows.problems == []
    assert rows.foods == [("2026-03-01T07:05", LONG, "45.5", "", "", "another", "")]
    assert sorted(rows.scores()) == [
        ("2026-03-01T06:30", "stool_form", "7", "early", ""),
        ("2026-03-01T08:00", "Nausea after meals", "3", "", ""),
        ("2026-03-01T08:00", "bloating", "2", "", ""),
        ("2026-03-01T08:00", "pain", "1", "a note", ""),
        ("2026-03-01T08:00", "stress", "4", "", ""),
    ]
    assert rows.events == [("2026-03-04", "2026-03-05", "Reise", "by train")]


def test_no_cell_holds_a_formula_and_the_file_names_nobody():
    with zipfile.ZipFile(io.BytesIO(make_book())) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/"):
                assert not re.search(r"<f[ >]", archive.read(name).decode())
        core = archive.read("docProps/core.xml").decode()
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert "<dc:creator></dc:creator>" in core or "<dc:creator/>" in core
    assert "2026-03-01" in core


def test_a_food_that_looks_like_a_formula_stays_a_text():
    plan = make_plan(PLAN_TEXT.replace("cow's milk", "=1+1 milk"))
    sheet = build_sheet(plan, plan.days, make_settings(), load_words(), client="elder")
    book = opened(render_sheet_xlsx(sheet, load_words(), mapping={}, declared=("pain",)))
    cell = book["(Lists)"]["A1"]
    assert (cell.value, cell.data_type) == ("=1+1 milk", "s")


def test_the_same_diary_gives_the_same_bytes():
    assert make_book("de") == make_book("de")


def limits(sheet):
    """Data validations by the first cell they hold for."""
    return {str(rule.sqref).split(":")[0]: rule for rule in sheet.data_validations.dataValidation}


def test_scores_and_stool_forms_are_lists_of_whole_numbers():
    book = opened(make_book())
    scores, stools = limits(book["Scores"]), limits(book["Stools"])
    for column in "EFGHI":
        rule = scores[f"{column}3"]
        assert (rule.type, rule.formula1) == ("list", '"0,1,2,3,4,5,6,7,8,9,10"')
        assert rule.showErrorMessage
        assert rule.allow_blank
    assert (stools["C3"].type, stools["C3"].formula1) == ("list", '"1,2,3,4,5,6,7"')
    assert scores["D3"].type == "time"
    # a score after midnight would count for the day before: it is written as 23:59
    assert float(scores["D3"].formula1) == pytest.approx(4 / 24)
    assert float(limits(book["Foods"])["C3"].formula1) == 0
    assert limits(book["Foods"])["E3"].type == "decimal"


def test_the_foods_of_the_plan_are_offered_and_others_may_be_typed():
    book = opened(make_book())
    rule = limits(book["Foods"])["D3"]
    assert (rule.type, rule.formula1) == ("list", "'(Lists)'!$A$1:$A$3")
    assert not rule.showErrorMessage
    listed = [row[0].value for row in book["(Lists)"].iter_rows(max_row=3)]
    assert listed == ["cow's milk", LONG, "sachet A1"]
    assert book["(Lists)"].sheet_state == "hidden"


def test_only_what_is_for_reading_is_locked():
    book = opened(make_book())
    for name in ("Scores", "Foods", "Stools", "Unusual"):
        sheet = book[name]
        assert sheet.protection.sheet
        titles = [cell.value for cell in sheet[2]]
        for row in sheet.iter_rows(min_row=3):
            for title, cell in zip(titles, row, strict=True):
                given = title in ("(plan)", "(part of day)") or (
                    title == "Date" and cell.value is not None
                )
                assert cell.protection.locked == given, (name, cell.coordinate)


def test_the_header_stays_in_sight():
    book = opened(make_book())
    assert book["Scores"].freeze_panes == "B3"
    assert book["Scores"].print_title_rows == "$1:$2"


def test_titles_follow_the_clients_own_column_names():
    """Where a title of the language has another meaning for this client, another is taken."""
    options = ReadOptions(columns={"Time": "note"})
    with_time = make_book(mapping={"Time": "note"})
    assert [cell.value for cell in opened(with_time)["Scores"][2]][3] == "clock"
    assert {p.code for p in read_bytes(with_time, "d.xlsx", options).problems} == {"no-rows"}


def test_names_that_no_title_can_get_round_are_refused_with_a_remedy():
    with pytest.raises(ChallengeError, match=r"\[diary.columns\].*--format pdf"):
        make_book(mapping={"Time": "note", "clock": "note"})


def test_a_column_or_sheet_in_brackets_is_for_reading_only():
    book = opened(make_book())
    book["Scores"]["B4"] = "scribble"
    book["(Read me)"]["C1"] = "scribble"
    book["Scores"]["E3"] = 4
    file = io.BytesIO()
    book.save(file)
    assert read_bytes(file.getvalue(), "d.xlsx", ReadOptions()).problems == []
    # without brackets the same is said
    book["Scores"]["B2"] = "plan for the day"
    book["(Read me)"].title = "Read me"
    file = io.BytesIO()
    book.save(file)
    codes = {p.code for p in read_bytes(file.getvalue(), "d.xlsx", ReadOptions()).problems}
    assert codes == {"column-not-read", "sheet-not-read"}


def test_sheets_left_empty_beside_one_with_entries_are_nothing_amiss():
    book = opened(make_book())
    book["Stools"]["B3"], book["Stools"]["C3"] = dt.time(8), 4
    file = io.BytesIO()
    book.save(file)
    rows = read_bytes(file.getvalue(), "d.xlsx", ReadOptions())
    assert rows.problems == []
    assert rows.count("symptoms") == 1
