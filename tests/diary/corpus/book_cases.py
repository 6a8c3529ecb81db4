"""Workbooks made by script, with what spreadsheets put beside plain values.

Written with XlsxWriter and then made like a file that Excel saved: XlsxWriter calculates nothing
and says so (``fullCalcOnLoad``), which Excel does not.
"""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

import xlsxwriter

from .case import Case
from .tables import Table, apart, foods, long, wide
from .truth import SETTINGS, Moment
from .truth import foods as true_foods
from .truth import scores as true_scores

Fill = Callable[[Any], None]
DAY_FIRST, MONTH_FIRST = "dd/mm/yyyy hh:mm", "m/d/yy h:mm"


def book_cases() -> Iterator[Case]:
    yield from _plain()
    yield from _layout()
    yield from _formulas()
    yield from _dates()
    yield from _kinds()


def book_of(fill: Fill, *, calculated: bool = True, **options: Any) -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, options) as book:
        book.set_properties({"created": dt.datetime(2026, 3, 14)})
        fill(book)
    data = out.getvalue()
    if not calculated:
        return data
    return _changed(data, "xl/workbook.xml", b' fullCalcOnLoad="1"', b"")


def _changed(data: bytes, part: str, old: bytes, new: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as before, zipfile.ZipFile(out, "w") as after:
        for item in before.infolist():
            content = before.read(item)
            if item.filename == part:
                assert old in content
                content = content.replace(old, new)
            after.writestr(item, content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def put(book: Any, name: str, table: Table, shown: str, top: int = 0) -> Any:
    sheet = book.add_worksheet(name)
    moment = book.add_format({"num_format": shown})
    for row, cells in enumerate(table, top):
        for column, cell in enumerate(cells):
            if isinstance(cell, dt.datetime):
                sheet.write_datetime(row, column, cell, moment)
            elif cell not in (None, ""):
                sheet.write(row, column, cell)
    return sheet


def _plain() -> Iterator[Case]:
    us, de, pl = SETTINGS["en-US"], SETTINGS["de"], SETTINGS["pl"]

    def several(book: Any) -> None:
        book.add_worksheet("Read me").write(0, 0, "How to fill this in")
        put(book, "Food", foods(us), MONTH_FIRST)
        put(book, "Symptoms", long(us), MONTH_FIRST)
        book.add_worksheet("Empty")
        chart = book.add_chart({"type": "line"})
        chart.add_series({"values": "=Symptoms!$C$2:$C$5"})
        book.add_chartsheet("Chart").set_chart(chart)

    yield Case(
        file="excel-en-US-several-sheets.xlsx",
        says="two sheets with entries, one with words, an empty one and a chart",
        data=book_of(several),
        foods=true_foods("en-US"),
        symptoms=true_scores("en-US"),
        warnings=frozenset({"sheet-not-read"}),
    )
    yield Case(
        file="excel-de.xlsx",
        says="true dates with times; numbers have no decimal sign of any language",
        data=book_of(lambda book: put(book, "Tabelle1", foods(de), "dd.mm.yyyy hh:mm")),
        foods=true_foods("de"),
    )
    yield Case(
        file="excel-mac-1904.xlsx",
        says="dates counted from 1904, as older Macs did",
        data=book_of(lambda book: put(book, "Arkusz1", wide(pl), DAY_FIRST), date_1904=True),
        symptoms=true_scores("pl"),
    )

    def exported(book: Any) -> None:
        summary = book.add_worksheet("Export Summary")
        summary.write(0, 0, "This document was exported. Each table was converted to a worksheet.")
        summary.write_row(2, 0, ["Sheet name", "Table name", "Worksheet name"])
        put(book, "Symptoms - Table 1", [["Table 1"], *long(us)], MONTH_FIRST)
        put(book, "Food - Table 1-1", [["Table 1-1"], *foods(us)], MONTH_FIRST)

    yield Case(
        file="numbers-en-US.xlsx",
        says="Numbers > Export > Excel: a sheet per table, its name above it, a summary before",
        data=book_of(exported),
        foods=true_foods("en-US"),
        symptoms=true_scores("en-US"),
        warnings=frozenset({"sheet-not-read"}),
    )


def _layout() -> Iterator[Case]:
    fr, gb = SETTINGS["fr"], SETTINGS["en-GB"]

    def titled(book: Any) -> None:
        sheet = put(book, "Feuil1", wide(fr), DAY_FIRST, top=3)
        sheet.merge_range(0, 0, 0, 5, "Journal des symptômes", book.add_format({"bold": True}))
        sheet.merge_range(2, 1, 2, 3, "de 0 à 10", book.add_format({"align": "center"}))

    yield Case(
        file="excel-fr-title-and-merged-heads.xlsx",
        says="a merged title and a merged head above the names of the columns",
        data=book_of(titled),
        symptoms=true_scores("fr"),
    )

    def touched(book: Any) -> None:
        sheet = put(book, "Sheet1", foods(gb), DAY_FIRST)
        for row, column in ((1, 9), (40, 0), (60, 11)):
            sheet.write_blank(row, column, None, book.add_format({"bg_color": "#eeeeee"}))
        sheet.write_string(50, 2, " ")

    yield Case(
        file="excel-en-GB-touched-cells.xlsx",
        says="formatted but empty cells far right and below, a stray space",
        data=book_of(touched),
        foods=true_foods("en-GB"),
    )

    def hidden(book: Any) -> None:
        put(book, "March", long(gb), DAY_FIRST)
        put(book, "Old copy", [*long(gb)[:2]], DAY_FIRST).hide()
        lists = book.add_worksheet("Lists")
        lists.write_column(0, 0, ["Pain", "Bloating"])
        lists.very_hidden()

    yield Case(
        file="excel-en-GB-hidden-sheet.xlsx",
        says="a hidden sheet with entries is named, not read; one with lists is passed over",
        data=book_of(hidden),
        symptoms=true_scores("en-GB"),
        warnings=frozenset({"sheet-hidden"}),
    )

    def one_date_for_several_rows(book: Any) -> None:
        sheet = book.add_worksheet("Sheet1")
        day = book.add_format({"num_format": "dd/mm/yyyy"})
        clock = book.add_format({"num_format": "hh:mm"})
        sheet.write_row(0, 0, ["Date", "Time", "Pain"])
        sheet.merge_range(1, 0, 3, 0, dt.date(2026, 3, 4), day)
        for row, hour in ((1, 8), (2, 13), (3, 20)):
            sheet.write_datetime(row, 1, dt.time(hour), clock)
            sheet.write(row, 2, row)

    merged = [(f"2026-03-04T{hour:02d}:00", "pain", str(n), "", "")
              for n, hour in ((1, 8), (2, 13), (3, 20))]  # fmt: skip
    yield Case(
        file="excel-en-GB-merged-dates.xlsx",
        says="one date merged over the three rows of its day",
        data=book_of(one_date_for_several_rows),
        symptoms=merged,
    )

    def one_score_for_several_rows(book: Any) -> None:
        sheet = put(book, "Sheet1", [["Time", "Pain"], [Moment(2026, 3, 4, 8)],
                                      [Moment(2026, 3, 4, 13)]], DAY_FIRST)  # fmt: skip
        sheet.merge_range(1, 1, 2, 1, 3)

    yield Case(
        file="excel-en-GB-merged-score.xlsx",
        says="one score merged over two rows: read for the first, and said",
        data=book_of(one_score_for_several_rows),
        symptoms=[("2026-03-04T08:00", "pain", "3", "", "")],
        warnings=frozenset({"cells-merged"}),
        at=("cells-merged", 2, "Pain", None),
    )


def _formulas() -> Iterator[Case]:
    rows: Table = [["Time", "Pain", "Bloating", "Total", "Notes"],
                   [Moment(2026, 3, 4, 8), 2, 3], [Moment(2026, 3, 5, 8), 4, 5]]  # fmt: skip
    true = [
        ("2026-03-04T08:00", "bloating", "3", "", ""), ("2026-03-04T08:00", "pain", "2", "", ""),
        ("2026-03-05T08:00", "bloating", "5", "", ""), ("2026-03-05T08:00", "pain", "4", "", ""),
    ]  # fmt: skip

    def with_cells(*cells: tuple[int, int, str, object]) -> Fill:
        def fill(book: Any) -> None:
            sheet = put(book, "Sheet1", rows, DAY_FIRST)
            shown = book.add_format({"num_format": DAY_FIRST})
            for row, column, formula, value in cells:
                sheet.write_formula(row, column, formula, shown if column == 0 else None, value)

        return fill

    serial = (Moment(2026, 3, 5, 8) - Moment(1899, 12, 30)).total_seconds() / 86_400
    yield Case(
        file="formula-with-result.xlsx",
        says="dates and scores by formula, calculated when the file was saved",
        data=book_of(with_cells((2, 0, "=A2+1", serial), (2, 1, "=B2+2", 4), (2, 3, "=B3+C3", 9))),
        symptoms=true,
        warnings=frozenset({"column-not-read"}),
    )
    yield Case(
        file="formula-never-calculated.xlsx",
        says="a score by formula, and no spreadsheet ever gave its result",
        data=book_of(with_cells((2, 1, "=B2+2", ""))),
        errors=frozenset({"formula-not-calculated"}),
        at=("formula-not-calculated", 3, "Pain", "=B2+2"),
    )
    yield Case(
        file="formula-zero-for-not-calculated.xlsx",
        says="a program wrote 0 as the result and asked for calculation on opening",
        data=book_of(with_cells((2, 1, "=B2+2", 0)), calculated=False),
        errors=frozenset({"formula-not-calculated"}),
    )
    yield Case(
        file="formula-in-unread-column.xlsx",
        says="a total nobody reads may be without a result",
        data=book_of(with_cells((1, 3, "=B2+C2", ""), (2, 3, "=B3+C3", ""))),
        symptoms=true,
    )
    yield Case(
        file="formula-error.xlsx",
        says="#N/A in a score, #REF! in a note: no empty cells",
        data=book_of(with_cells((2, 1, "=NA()", "#N/A"), (1, 4, "=Z1", "#REF!"))),
        errors=frozenset({"formula-error"}),
        at=("formula-error", 3, "Pain", "#N/A"),
    )


def _dates() -> Iterator[Case]:
    us, de, gb = SETTINGS["en-US"], SETTINGS["de"], SETTINGS["en-GB"]

    def two_columns(book: Any) -> None:
        table = apart(long(us), us, lambda t: t.replace(hour=0, minute=0), lambda t: None)
        sheet = put(book, "Sheet1", table, "m/d/yyyy")
        clock = book.add_format({"num_format": "h:mm AM/PM"})
        moments = [row[0] for row in long(us)[1:]]
        for row, moment in enumerate(moments, 1):
            assert isinstance(moment, Moment)
            sheet.write_datetime(row, 1, moment.time(), clock)

    yield Case(
        file="excel-en-US-date-and-time-apart.xlsx",
        says="true dates and true times, 12-hour clock",
        data=book_of(two_columns),
        symptoms=true_scores("en-US"),
    )

    def midnight(book: Any) -> None:
        moments = (Moment(2026, 3, 4, 8), Moment(2026, 3, 5), Moment(2026, 3, 13, 20))
        table: Table = [["Time", "Pain"], *([t, n] for n, t in enumerate(moments, 1))]
        put(book, "Sheet1", table, DAY_FIRST)

    yield Case(
        file="midnight.xlsx",
        says="a score at midnight: a time, not a forgotten one",
        data=book_of(midnight),
        symptoms=[
            ("2026-03-04T08:00", "pain", "1", "", ""), ("2026-03-05T00:00", "pain", "2", "", ""),
            ("2026-03-13T20:00", "pain", "3", "", ""),
        ],
    )  # fmt: skip

    def forgotten(book: Any) -> None:
        sheet = put(book, "Sheet1", [["Time", "Pain"], [Moment(2026, 3, 4, 8), 1], [None, 2]],
                     DAY_FIRST)  # fmt: skip
        sheet.write_datetime(2, 0, dt.date(2026, 3, 5), book.add_format({"num_format": "d/m/yyyy"}))

    yield Case(
        file="time-forgotten.xlsx",
        says="a date without a time among dates with times",
        data=book_of(forgotten),
        errors=frozenset({"time-missing"}),
        at=("time-missing", 3, "Time", "2026-03-05"),
    )

    def durations(book: Any) -> None:
        sheet = put(book, "Sheet1", [["Date", "Time", "Pain"]], DAY_FIRST)
        for row, hours in enumerate((8, 13.5), 1):
            sheet.write_datetime(
                row, 0, dt.date(2026, 3, 4), book.add_format({"num_format": "d/m/yy"})
            )
            sheet.write_datetime(
                row, 1, dt.timedelta(hours=hours), book.add_format({"num_format": "[h]:mm"})
            )
            sheet.write(row, 2, row)

    yield Case(
        file="time-as-duration.xlsx",
        says="a time of day formatted as a duration",
        data=book_of(durations),
        symptoms=[
            ("2026-03-04T08:00", "pain", "1", "", ""), ("2026-03-04T13:30", "pain", "2", "", ""),
        ],
    )  # fmt: skip

    def as_text(book: Any) -> None:
        table = [[cell if not isinstance(cell, dt.datetime) else de.stamp(cell) for cell in row]
                 for row in wide(de)]  # fmt: skip
        put(book, "Tabelle1", table, DAY_FIRST)

    yield Case(
        file="dates-as-text-de.xlsx",
        says="dates typed into cells formatted as text",
        data=book_of(as_text),
        symptoms=true_scores("de"),
    )

    def exchanged(book: Any) -> None:
        # 04/03/2026 typed into a spreadsheet set to month first becomes 3 April; 13/03/2026 stays
        table = long(gb)
        for row in table[1:]:
            assert isinstance(row[0], Moment)
            day, month = row[0].day, row[0].month
            row[0] = gb.stamp(row[0]) if day > 12 else row[0].replace(day=month, month=day)
        put(book, "Sheet1", table, MONTH_FIRST)

    yield Case(
        file="dates-exchanged-by-the-spreadsheet.xlsx",
        says="typed day first into a spreadsheet that reads month first",
        data=book_of(exchanged),
        errors=frozenset({"dates-and-texts-mixed"}),
    )

    def unformatted(book: Any) -> None:
        table = long(us)
        for row in table[1:]:
            assert isinstance(row[0], Moment)
            row[0] = (row[0] - Moment(1899, 12, 30)).total_seconds() / 86_400
        put(book, "Sheet1", table, DAY_FIRST)

    yield Case(
        file="dates-as-numbers.xlsx",
        says="a date column formatted as a number",
        data=book_of(unformatted),
        symptoms=true_scores("en-US"),
        warnings=frozenset({"date-serial"}),
    )

    def ticked(book: Any) -> None:
        sheet = put(book, "Sheet1", [["Time", "Pain"], [Moment(2026, 3, 4, 8)]], DAY_FIRST)
        sheet.write_boolean(1, 1, True)

    yield Case(
        file="ticked-box.xlsx",
        says="a ticked box is no score",
        data=book_of(ticked),
        errors=frozenset({"score-unreadable"}),
    )
    yield Case(
        file="numbers-as-text.xlsx",
        says="grams typed as text, one that can be a thousand",
        data=book_of(lambda book: put(book, "S", [["Time", "Food", "Portion g"],
                   [Moment(2026, 3, 4, 8), "soup", "12,5"],
                   [Moment(2026, 3, 4, 9), "soup", "1,250"]], DAY_FIRST)),
        errors=frozenset({"number-ambiguous"}),
        at=("number-ambiguous", 3, "Portion g", "1,250"),
    )  # fmt: skip


def _kinds() -> Iterator[Case]:
    yield Case(
        file="older-format.xls",
        says="the older format, or a password: asked to save it anew",
        data=b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504),
        errors=frozenset({"workbook-unreadable"}),
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(zipfile.ZipInfo("Index/Document.iwa"), b"\0")
    yield Case(
        file="numbers-own-format.numbers",
        says="a document of Numbers itself",
        data=out.getvalue(),
        errors=frozenset({"workbook-unreadable"}),
    )
