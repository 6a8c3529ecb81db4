"""The quick way for large files against the careful one: same entries, same problems, same record.

The careful way, row by row, is the oracle; its own results are set by hand in other tests.
"""

from __future__ import annotations

from itertools import product

import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from challenge.diary.bulk import take_plain
from challenge.diary.intake import read_bytes
from challenge.diary.merge import Record
from challenge.diary.options import ReadOptions
from challenge.diary.tables import symptoms_table
from challenge.diary.twice import check_rows
from challenge.files.writing import rows_bytes

NEVER = 10**9
OPTIONS = (
    ReadOptions(),
    ReadOptions(timezone="Europe/London"),
    ReadOptions(symptoms=("pain", "wind left", "wind", "Übelkeit")),
)

ODD_TIMES = [
    "2026-03-01T08:00",
    "2026-03-01T08:00",
    "2026-03-01T08:01",
    "2026-03-01 08:00",
    "2026-03-01T08:00:30",
    "2026-03-01T08:00:00",
    "2026-03-01T08:60",
    "2026-03-01T08:00:60",
    "2026-04-31T08:00",
    "2026-03-01x08:00",
    "2026/03/01 08:00",
    "2026-03-01 08:00:00",
    "2024-02-29T23:59",
    "2026-02-29T08:00",
    "2026-03-01T24:00",
    "2026-13-01T08:00",
    "2026-00-10T08:00",
    "1999-12-31T08:00",
    "2079-12-31T08:00",
    "2080-01-01T08:00",
    "2026-03-29T01:30",
    "2026-10-25T01:30",
    "2026-03-01T08:00Z",
    "2026-03-01T8:00",
    "2026-3-01T08:000",
    "1/3/2026 08:00",
    "13/03/2026 08:00",
    "8:00",
    "",
    "2026-03-01",
]
ODD_SYMPTOMS = [
    "pain",
    "pain",
    "wind",
    "wind left",
    "stool_form",
    "Übelkeit",
    "Pain",
    " pain",
    "",
    "hiccups",
]
ODD_SCORES = [
    "0",
    "1",
    "3",
    "3",
    "7",
    "8",
    "10",
    "11",
    "3.0",
    "10.0",
    "03",
    "2.5",
    "-1",
    "x",
    "",
    " 4",
    "-",
    "٣",
]
ODD_NOTES = [
    'a"',
    "",
    "",
    "felt well",
    "=1+1",
    "'=1",
    " a",
    "a ",
    "a\xa0",
    "é",
    "aé",
    'so "so"',
    "0",
    "-",
    "a\tb",
]
TIMES = st.sampled_from(ODD_TIMES) | st.datetimes().map(lambda t: t.isoformat(timespec="minutes"))
SYMPTOM = st.sampled_from(ODD_SYMPTOMS)
SCORE = st.sampled_from(ODD_SCORES)
NOTE = st.sampled_from(ODD_NOTES)
HEADERS = st.sampled_from(
    [
        ["time", "symptom", "score"],
        ["time", "symptom", "score", "note"],
        ["time", "symptom", "score", "note", "entered_at"],
        ["Time", "Symptom", "Score", "Entered at"],
        ["note", "score", "symptom", "time"],
        ["entered_at", "time", "note", "symptom", "severity"],
    ]
)
CELLS = {"entered_at": TIMES | st.just(""), "entered at": TIMES, "note": NOTE, "time": TIMES}
CELLS |= {"symptom": SYMPTOM, "score": SCORE, "severity": SCORE}
PLAIN = {
    "symptom": st.sampled_from(["pain", "wind", "stool_form"]),
    "score": st.sampled_from("137"),
    "severity": st.sampled_from("137"),
    "note": st.sampled_from(["", "ok"]),
    "time": st.integers(0, 30).map(lambda n: f"2026-04-{1 + n // 4:02d}T{8 + n % 4:02d}:00"),
}
PLAIN |= {name: PLAIN["time"] | st.just("") for name in ("entered_at", "entered at")}


@st.composite
def odd_rows(draw: st.DrawFn, names: list[str]) -> list[str]:
    """A plain row of which one cell, or each, is anything."""
    row = [draw(PLAIN[name]) for name in names]
    one = draw(st.integers(-1, len(names) - 1))
    return [
        draw(CELLS[name]) if one in (-1, place) else cell
        for place, (name, cell) in enumerate(zip(names, row, strict=True))
    ]


@st.composite
def files(draw: st.DrawFn, odd: int = 6) -> bytes:
    """A file of which most rows are plain and some are odd, quoted here and there."""
    header = draw(HEADERS)
    names = [name.lower() for name in header]
    mark = draw(st.sampled_from(",,,;\t"))
    end = draw(st.sampled_from(["\n", "\n", "\r\n", "\r"]))
    rows = draw(st.lists(st.tuples(*(PLAIN[name] for name in names)), min_size=1, max_size=12))
    lines = [mark.join(row) for row in rows]
    for row in draw(st.lists(odd_rows(names), max_size=odd)):
        quoted = draw(st.sampled_from(["none", "none", "all", "open", "comma", "twice"]))
        cells = [f'"{c.replace(chr(34), chr(34) * 2)}"' for c in row] if quoted == "all" else row
        line = mark.join(cells) + {"open": f'{mark}"', "comma": mark}.get(quoted, "")
        at = draw(st.integers(0, len(lines)))
        lines[at:at] = [line, line] if quoted == "twice" else [line]
    if draw(st.integers(0, 5)) == 0:
        lines.insert(draw(st.integers(0, len(lines))), draw(st.sampled_from(["", mark * 2, " "])))
    return (end.join([mark.join(header), *lines]) + draw(st.sampled_from([end, ""]))).encode()


def both_ways(data: bytes, options: ReadOptions, file: str = "f.csv"):
    return [read_bytes(data, file, options, large=large) for large in (0, NEVER)]


@settings(max_examples=250, deadline=None)
@given(files(), st.sampled_from(OPTIONS))
@example(b"time,symptom,score\n2026-03-01T08:00,pain,3\n2026-03-01T08:00,pain,5\n", OPTIONS[0])
@example(b"time,symptom,score\n2026-03-01T08:00,pain,3,\n2026-03-01T08:00,pain\n", OPTIONS[0])
def test_the_quick_way_reads_what_the_careful_one_reads(data, options):
    quick, careful = both_ways(data, options)
    assert careful.plain is None
    # how often each comes is compared below, when rows given twice are merged
    assert set(quick.scores()) == set(careful.symptoms)
    assert quick.problems == careful.problems
    assert quick.refused == careful.refused
    heads = [row[:2] for row in careful.symptoms]
    assert quick.places("symptoms", heads).keys() == careful.places("symptoms", heads).keys()
    (quick, found), (careful, expected) = check_rows(quick), check_rows(careful)
    assert found == expected
    assert rows_bytes(sorted_rows(quick)) == rows_bytes(sorted_rows(careful))
    tables = symptoms_table(quick.symptoms, quick.plain), symptoms_table(careful.symptoms)
    pd.testing.assert_frame_equal(*tables)


def sorted_rows(rows):
    from challenge.diary.merge import in_order

    return in_order(rows)


ODD = [
    *((time, "pain", "3", "", "") for time in ODD_TIMES),
    *(("2026-03-01T08:00", "pain", "3", "", time) for time in ODD_TIMES),
    *(("2026-03-01T08:00", *pair, "", "") for pair in product(ODD_SYMPTOMS, ODD_SCORES)),
    *(("2026-03-01T08:00", "pain", "3", note, "") for note in ODD_NOTES),
]


@pytest.mark.parametrize("options", OPTIONS)
def test_every_odd_cell_is_read_as_the_careful_way_reads_it(options):
    plain = "2026-04-01T08:00,pain,3,,\n"
    for cells in ODD:
        text = f"time,symptom,score,note,entered_at\n{','.join(cells)}\n{plain}"
        quick, careful = both_ways(text.encode(), options)
        assert quick.plain is not None
        assert sorted(quick.scores()) == sorted(careful.symptoms), cells
        assert quick.problems == careful.problems, cells


def test_a_score_that_was_corrected_does_not_come_back_quickly():
    record = Record()
    for step, score in (("join", 3), ("correct", 5), ("join", 3)):
        text = f"time,symptom,score\n2026-03-01T08:00,pain,{score}\n2026-03-02T08:00,pain,1\n"
        rows = both_ways(text.encode(), OPTIONS[0])[0]
        assert rows.plain is not None
        told = getattr(record, step)(rows)
    assert (told[0].outdated, told[0].known, told[1]) == (1, 1, [])
    assert [row[2] for row in sorted(record.rows().scores())] == ["5", "1"]


def test_a_score_that_was_removed_does_not_come_back_quickly():
    record = Record()
    head = "time,symptom,score\n"
    both = head + "2026-03-01T08:00,pain,3\n2026-03-02T08:00,pain,1\n"
    one = head + "2026-03-02T08:00,pain,1\n"
    record.join(both_ways(both.encode(), OPTIONS[0])[0])
    record.replace(both_ways(one.encode(), OPTIONS[0])[0], ("symptoms",))
    told, _ = record.join(both_ways(both.encode(), OPTIONS[0])[0])
    assert (told.outdated, told.known) == (1, 1)
    assert len(record.rows().scores()) == 1


@settings(max_examples=60, deadline=None)
@given(st.lists(files(odd=3), min_size=2, max_size=2))
def test_files_read_into_one_are_the_same_both_ways(data):
    read = (both_ways(one, OPTIONS[0], f"{n}.csv") for n, one in enumerate(data))
    quick, careful = zip(*read, strict=True)
    for side in (quick, careful):
        side[0].extend(side[1])
    (ours, found), (theirs, expected) = check_rows(quick[0]), check_rows(careful[0])
    assert found == expected
    assert rows_bytes(sorted_rows(ours)) == rows_bytes(sorted_rows(theirs))


STEPS = st.sampled_from(["join", "join", "correct", "replace"])


@settings(max_examples=120, deadline=None)
@given(st.lists(st.tuples(STEPS, files(odd=3)), min_size=1, max_size=5))
def test_a_record_put_together_is_the_same_both_ways(steps):
    """Whatever is joined, corrected and replaced, and in whatever order."""
    records = Record(), Record()
    for step, data in steps:
        told = []
        for record, rows in zip(records, both_ways(data, OPTIONS[0]), strict=True):
            checked, found = check_rows(rows)
            if found:
                told.append(found)
            elif step == "join":
                told.append(record.join(checked))
            elif step == "correct":
                told.append(record.correct(checked))
            else:
                told.append(record.replace(checked, ("symptoms",)))
        assert told[0] == told[1]
        assert rows_bytes(records[0].rows()) == rows_bytes(records[1].rows())
        assert records[0].gone() == records[1].gone()


def test_most_rows_of_an_ordinary_file_take_the_quick_way():
    """Without this the tests above would hold for a quick way that is never taken."""
    lines = [
        f"2026-03-{d:02d}T08:00,pain,{d % 11},note {d},2026-03-{d:02d} 08:05:00"
        for d in range(1, 29)
    ]
    text = "\n".join(["time,symptom,score,note,entered_at", *lines, "1/4/2026 8:00,Pain,3,,"])
    rows = read_bytes(text.encode(), "f.csv", ReadOptions(date_order="day-first"), large=0)
    assert rows.plain is not None and len(rows.plain) == 28
    assert rows.symptoms == [("2026-04-01T08:00", "pain", "3", "", "")]
    assert rows.plain.rows()[0] == ("2026-03-01T08:00", "pain", "1", "note 1", "2026-03-01T08:05")
    heads = ("2026-04-01T08:00", "pain"), ("2026-03-02T08:00", "pain")
    assert rows.places("symptoms", heads) == {heads[0]: ("f.csv", 30), heads[1]: ("f.csv", 3)}


def test_a_file_of_portions_is_read_whole(monkeypatch):
    import challenge.diary.bulk as bulk

    monkeypatch.setattr(bulk, "_PORTION", 100)
    days = [f"2026-{m:02d}-{d:02d}" for m in range(1, 13) for d in range(1, 29)]
    text = "time,symptom,score\n" + "".join(f"{day}T08:00,wind,4\n" for day in days)
    taken = take_plain(
        text, "f.csv", ReadOptions(), lambda cells: len(set(cells) & {"time", "score", "symptom"})
    )
    assert taken is not None
    assert taken[0].lines == [f"{day}T08:00,wind,4,,".encode() for day in days]
    assert len(taken[1]) == 0
