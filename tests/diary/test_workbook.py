"""Workbooks that are damaged in any way give rows or problems, never another exception."""

from __future__ import annotations

import io
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from challenge.diary.cells import oddities
from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions
from challenge.problems import errors_in

from .corpus.case import FILES

BOOKS = {
    name: (FILES / name).read_bytes()
    for name in ("formula-error.xlsx", "excel-en-GB-merged-dates.xlsx", "midnight.xlsx",
                 "libreoffice-formula-error.ods", "libreoffice-midnight.ods")
}  # fmt: skip


def judged(data: bytes) -> None:
    rows = read_bytes(data, "book.xlsx", ReadOptions())
    assert rows.problems or rows.scores() or rows.foods
    for problem in rows.problems:
        assert problem.message.endswith(".")


CUT = st.tuples(st.floats(0, 1), st.integers(0, 60), st.binary(max_size=8))


@settings(deadline=None)
@given(
    name=st.sampled_from(sorted(BOOKS)),
    cuts=st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 60), st.binary(max_size=8)), max_size=4
    ),
)
def test_bytes_of_the_file_spoilt(name, cuts):
    data = bytearray(BOOKS[name])
    for place, length, put in cuts:
        at = int(place * len(data))
        data[at : at + length] = put
    judged(bytes(data))


@settings(deadline=None)
@given(
    name=st.sampled_from(sorted(BOOKS)),
    part=st.floats(0, 1),
    cuts=st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 60), st.binary(max_size=8)), max_size=3
    ),
    dropped=st.booleans(),
)
def test_parts_within_the_file_spoilt(name, part, cuts, dropped):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BOOKS[name])) as before, zipfile.ZipFile(out, "w") as after:
        names = before.namelist()
        spoilt = names[min(int(part * len(names)), len(names) - 1)]
        for item in names:
            content = bytearray(before.read(item))
            if item == spoilt:
                if dropped:
                    continue
                for place, length, put in cuts:
                    at = int(place * len(content))
                    content[at : at + length] = put
            after.writestr(item, bytes(content))
    judged(out.getvalue())


def test_a_file_whose_formulas_cannot_be_looked_at_is_refused():
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(BOOKS["midnight.xlsx"])) as before,
        zipfile.ZipFile(out, "w") as after,
    ):
        for item in before.namelist():
            after.writestr(item.replace("workbook.xml", "workbook.bin"), before.read(item))
    assert oddities(out.getvalue()) is None
    (problem,) = errors_in(read_bytes(out.getvalue(), "b.xlsb", ReadOptions()).problems)
    assert problem.code == "workbook-unreadable"


@pytest.mark.parametrize(
    ("code", "shows"),
    [("dd/mm/yyyy hh:mm", True), ("d/m/yy", False), ('d"h"', False), ("[h]:mm", True),
     ("[Red]d/m", False), (r"yyyy\h", False), ("m/d/yy h:mm AM/PM", True)],
)  # fmt: skip
def test_formats_that_show_hours(code, shows):
    # ECMA-376 part 1, 18.8.31: h and hh are hours; quoted, escaped and bracketed letters are none
    from challenge.diary import cells

    assert ("h" in cells._QUOTED.sub("", code).lower()) is shows
