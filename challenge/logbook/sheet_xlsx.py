"""The diary as an XLSX workbook: prefilled, with lists and limits, days and plan locked."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

from challenge.diary.day import NIGHT_ENDS_H
from challenge.logbook.kinds import EVENTS
from challenge.logbook.sheet import Sheet, event_in_words
from challenge.logbook.sheet_book import Holds, Line, Page, build_pages
from challenge.terms import SCORE_MAX, SCORE_MIN
from challenge.wording import Words

_TEXT_WIDTH: Final = 80.0
_HEAD: Final = 2
"""Lines above the first day: the hint and the header."""
_WIDTHS: Final[Mapping[Holds, float]] = {
    "day": 17, "date": 17, "part": 13, "time": 9, "rated": 9, "score": 12, "stool": 12,
    "portion": 18, "food": 34, "event": 20, "note": 34, "plan": 34,
}  # fmt: skip
_LINE: Final = 18
"""Height of a line [points]."""
_PAPERS: Final = {"a4": 9, "us-letter": 1}
_GREY: Final = "#EDEDED"
_SHADE: Final = "#D5D3E4"
_RULE: Final = "#B0B0B0"
_MOST: Final = 20_000


def render_sheet_xlsx(
    sheet: Sheet,
    words: Words,
    *,
    mapping: Mapping[str, str],
    declared: Sequence[str],
    paper: Literal["a4", "us-letter"] = "a4",
) -> bytes:
    """Return the workbook; the same bytes for the same diary. It holds no formula in any cell.

    Parameters
    ----------
    sheet
        What it says.
    words
        The language.
    mapping, declared
        Column names and symptoms of the client's own, see `build_pages`.
    paper
        Size of the paper on which it would be printed.

    Raises
    ------
    ChallengeError
        If the client's own column names give a title of the workbook another meaning.
    """
    import xlsxwriter

    out = io.BytesIO()
    plain = {"strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(out, {"in_memory": True, **plain}) as book:
        book.set_properties(
            {
                "title": words("sheet.file_title", client=sheet.client),
                # the clock must not tell two workbooks of one diary apart
                "created": dt.datetime.combine(sheet.days[0].date, dt.time(12)),
            }
        )
        _Drawing(book, sheet, words, _PAPERS[paper]).draw(
            build_pages(sheet, words, mapping, declared)
        )
    return out.getvalue()


class _Drawing:
    """One workbook being drawn."""

    def __init__(self, book: Any, sheet: Sheet, words: Words, paper: int) -> None:
        self.book, self.sheet, self.words, self.paper = book, sheet, words, paper
        self.formats: dict[tuple[Any, ...], Any] = {}

    def draw(self, pages: Sequence[Page]) -> None:
        self._read_me()
        for page in pages:
            self._page(page)
        self._lists()

    def _format(self, **properties: Any) -> Any:
        key = tuple(sorted(properties.items()))
        if key not in self.formats:
            self.formats[key] = self.book.add_format({"valign": "top", **properties})
        return self.formats[key]

    # -- sheets ----------------------------------------------------------------------------------

    def _read_me(self) -> None:
        words, drawn = self.words, self.book.add_worksheet(self.words("sheet.book.read_me"))
        days = self.sheet.days
        span = words("sheet.days", first=words.date(days[0].date), last=words.date(days[-1].date))
        big, bold = self._format(bold=True, font_size=16), self._format(bold=True, font_size=12)
        text = self._format(text_wrap=True)
        lines = [
            (words("sheet.title"), big),
            (f"{words('sheet.code', client=self.sheet.client)}, {span}", bold),
            ("", text),
            (words("sheet.how_heading"), bold),
            *((line, text) for line in words.many("sheet.book.how")),
            ("", text),
            (words("sheet.stool_heading"), bold),
            *((f"{n}  {form}", text) for n, form in enumerate(words.many("sheet.stool_forms"), 1)),
            ("", text),
            (words("client.doctor_heading"), bold),
            (words("client.emergency"), self._format(bold=True, text_wrap=True)),
            (words("client.doctor_text"), text),
            *((f"– {item}", text) for item in words.many("client.doctor_items")),
        ]
        drawn.set_column(0, 0, _TEXT_WIDTH)
        for row, (line, form) in enumerate(lines):
            drawn.write_string(row, 0, line, form)
            drawn.set_row(row, 24 if form is big else _LINE * _lines_of(line, _TEXT_WIDTH))
        drawn.hide_gridlines(2)
        self._finish(drawn)
        # warning signs stand last and may not slip to a page of their own
        drawn.fit_to_pages(1, 1)

    def _lists(self) -> None:
        drawn = self.book.add_worksheet(self.words("sheet.book.lists"))
        for row, food in enumerate(self.sheet.foods):
            drawn.write_string(row, 0, food)
        drawn.protect()
        drawn.hide()

    def _page(self, page: Page) -> None:
        drawn = self.book.add_worksheet(page.name)
        drawn.set_default_row(_LINE)
        hint = self._format(text_wrap=True, italic=True)
        drawn.merge_range(0, 0, 0, len(page.columns) - 1, page.hint, hint)
        drawn.set_row(0, 2 * _LINE)
        head = self._format(bold=True, text_wrap=True, bg_color=_GREY, border=1, border_color=_RULE)
        heights = [_lines_of(column.title, _WIDTHS[column.holds]) for column in page.columns]
        drawn.set_row(_HEAD - 1, _LINE * max(heights))
        for place, column in enumerate(page.columns):
            drawn.set_column(place, place, _WIDTHS[column.holds])
            drawn.write_string(_HEAD - 1, place, column.title, head)
            self._limit(drawn, place, column.holds, _HEAD, _HEAD + len(page.lines) - 1)
        for row, line in enumerate(page.lines, _HEAD):
            height = _LINE * _lines_of(str(line.shown.get("plan", "")), _WIDTHS["plan"])
            if height > _LINE:
                drawn.set_row(row, height)
            for place, column in enumerate(page.columns):
                self._cell(drawn, row, place, column.holds, line)
        if page.needs_time is not None:
            self._shade_missing_times(drawn, page, page.needs_time)
        drawn.freeze_panes(_HEAD, 1)
        self._finish(drawn)
        drawn.set_landscape()
        drawn.repeat_rows(0, _HEAD - 1)

    def _finish(self, drawn: Any) -> None:
        # without a password: it keeps from slips, not from the will
        drawn.protect("", {"format_columns": True, "format_rows": True})
        drawn.set_paper(self.paper)
        drawn.fit_to_pages(1, 0)

    # -- cells -----------------------------------------------------------------------------------

    def _cell(self, drawn: Any, row: int, place: int, holds: Holds, line: Line) -> None:
        value = line.shown.get(holds)
        form = self._look(holds, given=value is not None, opens=line.opens)
        if value is None or value == "":
            drawn.write_blank(row, place, None, form)
        elif isinstance(value, str):
            drawn.write_string(row, place, value, form)
        else:
            drawn.write_datetime(row, place, value, form)

    def _look(self, holds: Holds, *, given: bool, opens: bool) -> Any:
        # days are given and locked; in spare lines they are typed
        locked = holds in ("part", "plan") or (holds == "day" and given)
        look: dict[str, Any] = {"border": 1, "border_color": _RULE, "locked": locked}
        if opens:
            look |= {"top": 2}
        if locked:
            look |= {"bg_color": _GREY}
        if holds in ("day", "date"):
            look |= {"num_format": "ddd d mmm yyyy", "align": "left"}
        elif holds in ("time", "rated"):
            look |= {"num_format": "hh:mm"}
        elif holds in ("food", "note", "event"):
            # as text, so that nothing typed there turns into a date, a number or a formula
            look |= {"num_format": "@"}
        elif holds == "plan":
            look |= {"text_wrap": True}
        return self._format(**look)

    def _limit(self, drawn: Any, place: int, holds: Holds, first: int, last: int) -> None:
        rule = self._rule(holds)
        if rule is None:
            return
        told = self.words.get(f"sheet.book.{rule.pop('told', '')}", "")
        if told:
            rule |= {"error_title": self.words("sheet.book.wrong"), "error_message": told}
        drawn.data_validation(first, place, last, place, rule)

    def _rule(self, holds: Holds) -> dict[str, Any] | None:
        if holds in ("day", "date"):
            # a day outside the plan is odd, not impossible
            first, last = self.sheet.days[0].date, self.sheet.days[-1].date
            limits = {"criteria": "between", "minimum": first, "maximum": last}
            return {"validate": "date", **limits, "error_type": "warning", "told": "date_wrong"}
        if holds in ("time", "rated"):
            first_hour = dt.time(NIGHT_ENDS_H if holds == "rated" else 0)
            limits = {"criteria": "between", "minimum": first_hour, "maximum": dt.time(23, 59, 59)}
            return {"validate": "time", **limits, "told": f"{holds}_wrong"}
        if holds == "score":
            scores = list(range(SCORE_MIN, SCORE_MAX + 1))
            return {"validate": "list", "source": scores, "told": "score_wrong"}
        if holds == "stool":
            return {"validate": "list", "source": list(range(1, 8)), "told": "stool_wrong"}
        if holds == "portion":
            limits = {"criteria": "between", "minimum": 0, "maximum": _MOST}
            return {"validate": "decimal", **limits, "told": "portion_wrong"}
        if holds == "event":
            events = [event_in_words(event, self.words) for event in EVENTS]
            return {"validate": "list", "source": events, "show_error": False}
        if holds == "food" and self.sheet.foods:
            lists = self.words("sheet.book.lists")
            source = f"='{lists}'!$A$1:$A${len(self.sheet.foods)}"
            return {"validate": "list", "source": source, "show_error": False}
        return None

    def _shade_missing_times(self, drawn: Any, page: Page, needing: Holds) -> None:
        held = [column.holds for column in page.columns]
        time, entry = held.index("time"), held.index(needing)
        first, last = _HEAD, _HEAD + len(page.lines) - 1
        a, b = (f"${chr(ord('A') + place)}{first + 1}" for place in (entry, time))
        rule = {"type": "formula", "criteria": f"=AND(LEN({a})>0,LEN({b})=0)"}
        shade = self.book.add_format({"bg_color": _SHADE})
        drawn.conditional_format(first, time, last, time, {**rule, "format": shade})


def _lines_of(text: str, width: float) -> int:
    """Return how many lines a text takes in a column of so many characters."""
    return max(1, math.ceil(len(text) / width))
