"""Promises that hold for any diary, by generated examples, whichever way it is read."""

from __future__ import annotations

import csv
import io
import itertools
import re
import tempfile
from collections import Counter
from pathlib import Path
from unittest import mock

from hypothesis import example, given, settings
from hypothesis import strategies as st

from challenge.diary.intake import read_bytes
from challenge.diary.merge import in_order
from challenge.diary.numbers import number_text
from challenge.diary.options import ReadOptions
from challenge.diary.rows import Rows
from challenge.diary.twice import check_rows
from challenge.files.import_store import TABLE_OF
from challenge.files.imports import add_files
from challenge.files.writing import rows_bytes

CORPUS = Path(__file__).parents[1] / "diary" / "corpus" / "files"
WRITTEN = sorted(path for path in CORPUS.rglob("*") if path.is_file())
LARGE = st.sampled_from([0, 10**9])
RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")


def anything_in(rows: Rows) -> bool:
    return bool(rows.problems) or any(map(rows.count, TABLE_OF))


# -- any bytes give a diary or problems ------------------------------------------------------------


@st.composite
def spoilt(draw: st.DrawFn) -> bytes:
    """A file that a spreadsheet wrote: cut, overwritten, spliced, in a wrong encoding."""
    data = draw(st.sampled_from(WRITTEN)).read_bytes()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        to = min(len(data), at + draw(st.integers(0, 40)))
        change = draw(st.sampled_from(["cut", "end", "put", "splice", "encode", "repeat"]))
        if change == "cut":
            data = data[:at] + data[to:]
        elif change == "end":
            data = data[:at]
        elif change == "put":
            signs = st.sampled_from([b'"', b",", b";", b"\r", b"\n", b"\0", b"\xff", b"=", b"\xc3"])
            data = data[:at] + draw(st.binary(max_size=6) | signs) + data[to:]
        elif change == "splice":
            data = data[:at] + draw(st.sampled_from(WRITTEN)).read_bytes()[to:]
        elif change == "repeat":
            data = data[:at] + data[max(0, at - 200) : to] * 3 + data[to:]
        else:
            name = draw(st.sampled_from(["utf-16", "utf-8-sig", "cp1250", "utf-32", "mac_roman"]))
            data = data.decode("latin-1").encode(name, "replace")
    return data


@settings(max_examples=1000, deadline=None)
@given(spoilt() | st.binary(max_size=300) | st.text(max_size=300).map(str.encode), LARGE)
@example(b"time,symptom,score\n2026-03-01T08:00,pain," + b"9" * 400 + b"\n", 0)
@example(b"time,symptom,score\n2026-03-01T08:00,pain,3\n" + b"x" * 200_000 + b"\n", 0)
@example(b"PK\x03\x04" + b"\0" * 40, 0)
@example(b"\xff\xfe\0", 0)
@example("time,symptom,score\n2026-03-01T08:00,pain,3\n".encode("utf-32"), 0)
@example(b"start,end,event", 0)
@example(b"\xed\xa0\x80,time,food\n", 0)
def test_any_bytes_give_rows_or_problems(data, large):
    rows = read_bytes(data, "f.csv", ReadOptions(), large=large)
    # a header of events with nothing below it says nothing amiss
    assert anything_in(rows) or not re.search(rb"[\r\n]", data.strip(b"\0\r\n\t ,;"))
    checked, _ = check_rows(rows)
    for kind, table in rows_bytes(in_order(checked)).items():
        # what was taken can be written and read again, so nothing of it is lost later
        again = check_rows(read_bytes(table, "t.csv", ReadOptions(), large=large))[0]
        if not unkeepable_texts(checked):
            assert rows_bytes(in_order(again))[kind] == table


def unkeepable_texts(rows: Rows) -> bool:
    from challenge.files.gathering import unkeepable

    return bool(unkeepable(rows, "f.csv"))


CELL = st.sampled_from(
    ["2026-03-01T08:00", "1/2/26", "8:00 pm", "46082.5", "pain", "3", "1,5", '"', "=1", "", "a\nb"]
) | st.text(max_size=8)
NAME = st.sampled_from(
    ["time", "date", "symptom", "score", "pain", "food", "portion_g", "note", "start", "event"]
)


@settings(max_examples=400, deadline=None)
@given(
    st.lists(NAME, min_size=2, max_size=6),
    st.lists(st.lists(CELL, max_size=7), max_size=5),
    st.sampled_from(",;\t|"),
    LARGE,
)
def test_any_cells_under_known_names_give_rows_or_problems(header, cells, mark, large):
    text = "\n".join(mark.join(row) for row in [header, *cells])
    rows = read_bytes(text.encode("utf-8", "replace"), "f.csv", ReadOptions(), large=large)
    assert anything_in(rows) or not any(map(any, cells)) or "event" in header


# -- write then read is the identity ---------------------------------------------------------------

TEXT = st.text(
    st.sampled_from("=+-@'\"\n\r\t,;| aé0＝\xa0") | st.characters(exclude_categories=["Cs", "Cc"]),
    max_size=8,
).map(str.strip)
NAMED = TEXT.filter(bool)
SECOND = st.integers(0, 86_399).map(
    lambda s: (
        f"2026-03-01T{s // 3600:02d}:{s // 60 % 60:02d}" + (f":{s % 60:02d}" if s % 60 else "")
    )
)
GRAMS = st.floats(0, 2000).map(lambda grams: number_text(round(grams, 7))) | st.just("")


@settings(max_examples=400, deadline=None)
@given(
    st.lists(st.tuples(SECOND, NAMED, GRAMS, TEXT, SECOND | st.just("")), min_size=1, max_size=5),
    st.lists(st.integers(0, 10), min_size=1, max_size=12),
    LARGE,
)
@example([("2026-03-01T08:00", "=1+1", "1", "@SUM(A1)", "")], [1], 0)
@example(
    [("2026-03-01T08:00", "'=x", "", "+1", ""), ("2026-03-01T08:00", "-", "1", "'", "")], [1], 0
)
@example([("2026-03-01T08:00", "milk", "0.00001", "a\r\nb", "")], [1], 0)
def test_write_then_read_is_the_identity(texts, scores, large):
    foods = [(time, food, grams, "", "", note, at) for time, food, grams, note, at in texts]
    notes = itertools.cycle([(note, at) for _, _, _, note, at in texts])
    symptoms = [
        (f"2026-03-02T{n:02d}:00", "pain", str(score), *next(notes))
        for n, score in enumerate(scores)
    ]
    events = list({("2026-03-01", "2026-03-02", food, note) for _, food, _, note, _ in texts})
    rows = in_order(Rows(foods=foods, symptoms=symptoms, events=events))
    written = rows_bytes(rows)
    for kind in TABLE_OF:
        read = read_bytes(written[kind], "f.csv", ReadOptions(), large=large)
        assert not read.problems
        assert rows_bytes(in_order(read))[kind] == written[kind]
        found = read.scores() if kind == "symptoms" else getattr(read, kind)
        assert sorted(found) == getattr(rows, kind)
        text = io.StringIO(written[kind].decode(), newline="")
        assert not [c for row in csv.reader(text) for c in row if c.startswith(RUNS)]


# -- neither the order of rows nor that of files matters -------------------------------------------


@settings(max_examples=300, deadline=None)
@given(st.sampled_from([p for p in WRITTEN if p.suffix in (".csv", ".txt")]), st.randoms(), LARGE)
def test_the_order_of_rows_never_matters(path, draw, large):
    text = path.read_bytes()
    end = next((end for end in (b"\r\n", b"\n", b"\r") if end in text), b"\n")
    if b"\0" in text:  # UTF-16: its line ends take four bytes
        end = "\r\n".encode("utf-16-le")
    head, *lines = text.removesuffix(end).split(end)
    if b'"' in text or b"sep=" in head.lower():
        return  # a row may take several lines
    shuffled = draw.sample(lines, len(lines))
    one, other = (
        check_rows(read_bytes(end.join([head, *some]) + end, "f.csv", ReadOptions(), large=large))
        for some in (lines, shuffled)
    )
    assert rows_bytes(in_order(one[0])) == rows_bytes(in_order(other[0]))
    told, again = (
        Counter((p.code, p.severity, p.column, p.value) for p in rows.problems)
        + Counter((p.code, p.severity, p.date, "") for p in found)
        for rows, found in (one, other)
    )
    assert told == again


@st.composite
def exports(draw: st.DrawFn) -> list[str]:
    """Files that overlap and never contradict: values follow from time and name."""
    days = st.integers(1, 5)
    notes = st.sampled_from(["", "a", "bb", "=c", 'd "e", f', "no blood", "blood", "a | bb"])
    entered = st.sampled_from(["", "2026-03-09T09:00", "2026-03-08T09:00"])
    files = []
    for _ in range(draw(st.integers(1, 3))):
        out = io.StringIO()
        writer = csv.writer(out)
        if draw(st.booleans()):
            writer.writerow(["time", "symptom", "score", "note", "entered_at"])
            pairs = st.tuples(days, st.sampled_from(["pain", "wind", "stool_form"]), notes, entered)
            rows = draw(st.lists(pairs, min_size=1, max_size=8))
            own = {(d, n) for d, n, _, _ in rows if n != "stool_form"}
            rows = [(d, n, *r) for d, n, *r in rows if n == "stool_form" or (d, n) in own]
            for day, name, note, at in rows:
                writer.writerow([f"2026-03-0{day}T08:00", name, day, note, at])
        else:
            writer.writerow(["time", "food", "portion_g", "note", "entered_at"])
            meals = st.tuples(days, st.sampled_from(["milk", "+rice"]), notes, entered)
            for day, name, note, at in draw(st.lists(meals, min_size=1, max_size=8)):
                writer.writerow([f"2026-03-0{day}T08:00", name, 10 * day, note, at])
        files.append(out.getvalue())
    return files


@settings(max_examples=80, deadline=None)
@given(exports(), st.data())
def test_any_order_and_any_number_of_imports_give_the_same_diary(files, data):
    """Through the folder: imports of one file or several, each once or more often."""
    order = data.draw(st.permutations(list(range(len(files))) * 2))
    cuts = data.draw(st.lists(st.booleans(), min_size=len(order), max_size=len(order)))
    batches: list[list[int]] = [[]]
    for number, cut in zip(order, cuts, strict=True):
        batches[-1].append(number)
        if cut:
            batches.append([])
    results = []
    # nothing here is about a disk, and waiting for one takes most of the time
    with tempfile.TemporaryDirectory() as base, mock.patch("os.fsync"):
        paths = []
        for number, text in enumerate(files):
            path = Path(base) / f"{number}.csv"
            path.write_bytes(text.encode())
            paths.append(path)
        for name, sequence in (("a", [[n] for n in range(len(files))]), ("b", batches)):
            folder = Path(base) / name
            folder.mkdir()
            for batch in filter(None, sequence):
                add_files(folder, [paths[number] for number in batch])
            tables = (folder / table for table in TABLE_OF.values())
            results.append([table.read_bytes() if table.exists() else b"" for table in tables])
    assert results[0] == results[1]
