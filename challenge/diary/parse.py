"""A sheet to rows in the form of the contract, with every problem of every cell.

Equal texts are read once: a column's distinct texts are converted, then looked up.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from challenge.diary import dates
from challenge.diary.clock_changes import SKIPPED, TWICE, clock_changes
from challenge.diary.guard import unguard
from challenge.diary.headers import Header, group_named, symptom_named, understand_header
from challenge.diary.numbers import MISSING_WORDS, decimal_style, number_text, read_number
from challenge.diary.options import ReadOptions
from challenge.diary.rows import Origin, Refused, Row, Rows, SymptomRow
from challenge.diary.sheet import Sheet
from challenge.diary.stamps import StampReader
from challenge.diary.wording import LISTED, remedy_of, sentence_of
from challenge.problems import Problem, Severity
from challenge.terms import SCORE_MAX, SCORE_MIN, STOOL_FORM, SYMPTOMS

_WARNINGS: Final = frozenset({"score-not-given", "date-serial", "number-not-given", TWICE})


_CLOCK_ALONE: Final = frozenset(
    {
        "time-unreadable",
        "time-impossible",
        "time-half-day-missing",
        "time-noon-or-midnight",
        "time-point-unclear",
        "time-with-zone",
    }
)
"""Problems that the time of day has by itself, whatever the date."""


def parse_sheet(sheet: Sheet, options: ReadOptions) -> Rows:
    """Read a sheet.

    Rows with an error in any cell are left out and their lines listed in ``bad_lines``; whether the
    others may be used is for the caller to say.
    """
    rows = _Parser(sheet, options).run()
    if rows.bad_lines:
        rows.refused += _refused(sheet, rows.bad_lines)
    return rows


def _seems_rounded(portion_g: str, fodmap_g: str) -> bool:
    """Say whether the portion may stand for the grams, rounded to the digits that are written.

    Portions of a pure sugar are often written so: 1 g for 1.25 g, or 1.2 g. None is not rounded.
    """
    portion = Decimal(portion_g)
    digits = max(-int(portion.normalize().as_tuple().exponent), 0)
    return portion > 0 and Decimal(fodmap_g) <= portion + Decimal(5).scaleb(-digits - 1)


def _refused(sheet: Sheet, lines: set[int]) -> list[Refused]:
    cells = dict(sheet.refused)
    for place, line in enumerate(sheet.lines):
        if line in lines:
            cells[line] = tuple(column[place] for column in sheet.columns)
    header = tuple(sheet.header)
    return [
        Refused(file=sheet.file, line=line, header=header, cells=cells[line])
        for line in sorted(cells)
    ]


class _Parser:
    def __init__(self, sheet: Sheet, options: ReadOptions) -> None:
        self.sheet = sheet
        self.options = options
        self.known = (*SYMPTOMS, *options.symptoms)
        self.header: Header = understand_header(
            sheet.header,
            sheet.file,
            sheet.header_line,
            mapping=options.columns,
            declared=options.symptoms,
        )
        self.rows = Rows(problems=[*sheet.problems, *self.header.problems])
        self.rows.bad_lines |= set(sheet.bad_lines)
        self.decisions: set[str] = set()

    def run(self) -> Rows:
        header, rows = self.header, self.rows
        if not header.kinds:
            self._whole("columns-missing", column=", ".join(self.sheet.header)[:80])
            return rows
        self._unknown_columns()
        self._doubtful_cells()
        if not len(self.sheet):
            # a folder's events.csv is often empty, and that says nothing amiss
            if "events" not in header.kinds and not self.sheet.bad_lines:
                self._whole("no-rows", "warning")
            return rows
        if "events" in header.kinds:
            self._events()
            return rows
        used = self._used_lines()
        time = self._stamps("time", "date", "clock", used)
        entered = self._entered()
        note = self._texts("note")
        if "foods" in header.kinds:
            self._foods(time, note, entered)
        if "symptoms" in header.kinds:
            if header.symptoms:
                self._wide(time, note, entered)
            if {"symptom", "score"} <= set(header.columns):
                self._long(time, note, entered)
        self._lone_notes(used, note)
        if not (rows.foods or rows.symptoms or rows.events or rows.problems):
            # days that were prefilled and never scored
            self._whole("no-rows", "warning")
        return rows

    def _stand(self, kind: str, rows: Sequence[Row], lines: Sequence[int]) -> None:
        """Note where rows stand."""
        self.rows.origins.append(
            Origin(kind=kind, file=self.sheet.file, rows=tuple(rows), lines=lines)
        )

    # -- columns ---------------------------------------------------------------------------------

    def _cells(self, name: str) -> tuple[list[str], dict[str, str], str] | None:
        index = self.header.columns.get(name)
        if index is None:
            return None
        return self.sheet.columns[index], self.sheet.kept[index], self.sheet.header[index]

    def _texts(self, name: str) -> list[str]:
        cells = self._cells(name)
        if cells is None:
            return [""] * len(self.sheet)
        column, kept, _ = cells
        clean = {text: unguard(text.strip()) for text in kept}
        return list(map(clean.__getitem__, column))

    def _convert(
        self,
        column: Sequence[str],
        kept: Iterable[str],
        title: str,
        read: Callable[[str], str | tuple[str, str]],
    ) -> list[str]:
        """Look every cell up among its column's distinct texts; a pair is a code and nothing."""
        good: dict[str, str] = {}
        bad: dict[str, str] = {}
        for text in kept:
            value = read(text)
            if isinstance(value, tuple):
                bad[text] = value[0]
                good[text] = value[1]
            else:
                good[text] = value
        if bad:
            self._report(column, title, bad)
        return list(map(good.__getitem__, column))

    def _report(
        self,
        column: Sequence[str],
        title: str,
        bad: Mapping[str, str],
        shown: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        listed = 0
        for line, text in zip(self.sheet.lines, column, strict=True):
            code = bad.get(text)
            if code is None:
                continue
            warning = code in _WARNINGS or (code == SKIPPED and self.options.on_record)
            if not warning:
                self.rows.bad_lines.add(line)
            listed += 1
            if listed <= LISTED:
                self._cell(
                    code, line, title, shown.get(text, text), "warning" if warning else "error"
                )
        if listed > LISTED:
            self._whole("more-of-the-same", column=title, value=str(listed - LISTED))

    def _cell(
        self, code: str, line: int, column: str, value: str, severity: Severity = "error"
    ) -> None:
        self.rows.problems.append(
            Problem(
                code=code,
                severity=severity,
                file=self.sheet.file,
                line=line,
                column=column,
                value=value[:80],
                message=sentence_of(code),
                remedy=remedy_of(code),
            )
        )
        if severity == "error":
            self.rows.bad_lines.add(line)

    def _whole(
        self,
        code: str,
        severity: Severity = "error",
        column: str = "",
        value: str = "",
        more: str = "",
    ) -> None:
        self.rows.problems.append(
            Problem(
                code=code,
                severity=severity,
                file=self.sheet.file,
                line=self.sheet.header_line,
                column=column or None,
                value=value or None,
                message=sentence_of(code) + more,
                remedy=remedy_of(code),
            )
        )

    def days_beside(self, name: str) -> set[str]:
        """Return the dates of the other columns: the order is decided once for the whole sheet."""
        found = set()
        for other in {"time", "date", "entered_at", "start", "end"} & set(self.header.columns):
            if other != name:
                texts = map(str.strip, self.sheet.kept[self.header.columns[other]])
                found |= {dates.split_stamp(t)[0] for t in texts if dates.canonical(t) is None}
        return found

    def _reader(self, title: str, parts: Sequence[tuple[str, str]], name: str) -> StampReader:
        """Decide on the order of day and month once for all columns, and say what is in doubt."""
        days = {day for day, _ in parts}
        decision = dates.decide_order(self.days_beside(name) | days, self.options.date_order)
        if decision.code and decision.code not in self.decisions:
            self.decisions.add(decision.code)
            self._whole(
                decision.code,
                "warning" if decision.code == "date-dotted" else "error",
                column=title,
                value=decision.first + (f" and {decision.second}" if decision.second else ""),
            )
        dated = self.sheet.dated.get(self.header.columns[name], set())
        exchanged = dates.exchanged(dated, days, decision.order)
        if exchanged:
            self._whole("dates-and-texts-mixed", column=title, value=exchanged)
            self.rows.bad_lines |= set(self.sheet.lines)
        return StampReader(parts, decision)

    def _unknown_columns(self) -> None:
        names = [*self.known, "time", "food", "portion_g", "symptom", "score", "note"]
        for index in self.header.unknown:
            if any(text.strip() for text in self.sheet.kept[index]):
                title = self.sheet.header[index]
                near = difflib.get_close_matches(title.casefold(), names, n=1, cutoff=0.75)
                code = "column-not-read"
                self.rows.problems.append(
                    Problem(
                        code=code,
                        severity="warning",
                        file=self.sheet.file,
                        line=self.sheet.header_line,
                        column=title,
                        message=sentence_of(code) + (f" Is it {near[0]}?" if near else ""),
                        remedy=remedy_of(code),
                    )
                )

    def _doubtful_cells(self) -> None:
        """Cells of a workbook that look empty but are not."""
        for index in (*self.header.columns.values(), *self.header.symptoms.values()):
            for line, (code, text) in self.sheet.doubtful.get(index, {}).items():
                self._cell(code, line, self.sheet.header[index], text)

    # -- times -----------------------------------------------------------------------------------

    def _used_lines(self) -> list[bool]:
        """Rows that say anything; prefilled days that nobody scored need no time."""
        wanted = [self.header.columns.get(name) for name in ("food", "score")]
        indices = [i for i in (*wanted, *self.header.symptoms.values()) if i is not None]
        columns = [self.sheet.columns[i] for i in indices]
        if all("" not in self.sheet.kept[i] for i in indices[:1]):
            return [True] * len(self.sheet)
        return [any(cell.strip() for cell in row) for row in zip(*columns, strict=True)]

    def _entered(self) -> list[str]:
        if "entered_at" not in self.header.columns:
            return [""] * len(self.sheet)
        cells = self.sheet.columns[self.header.columns["entered_at"]]
        return self._stamps("entered_at", "", "", [bool(cell.strip()) for cell in cells])

    def _stamps(self, both: str, day: str, clock: str, used: Sequence[bool]) -> list[str]:
        """Return times in the contract's form; the empty text where there is none or a problem."""
        stamped = self._cells(both)
        if stamped is not None:
            column, kept, title = stamped
            quick = {text: dates.canonical(text) for text in kept}
            missing = [text for text, value in quick.items() if value is None and text.strip()]
            parts = [dates.split_stamp(t.strip()) for t in missing]
            reader = self._reader(title, parts, both)
            read = {text: value for text, value in quick.items() if value is not None}
            bad: dict[str, str] = {}
            for text, part in zip(missing, parts, strict=True):
                value, code = reader.read(text.strip(), part)
                read[text] = value
                if code:
                    bad[text] = code
            clocks = {text: clock for text, (_, clock) in zip(missing, parts, strict=True)}
            self._tell_points(reader, title, column, clocks, used)
            return self._looked_up(column, title, read, bad, used)
        dated, clocked = self._cells(day), self._cells(clock)
        if dated is None or clocked is None:
            self._whole("time-column-missing")
            self.rows.bad_lines |= set(self.sheet.lines)
            return [""] * len(self.sheet)
        pairs = list(zip(map(str.strip, dated[0]), map(str.strip, clocked[0]), strict=True))
        distinct = dict.fromkeys(pairs)
        reader = self._reader(dated[2], list(distinct), day)
        read2: dict[str, str] = {}
        bad2: dict[str, str] = {}
        clocks2: dict[str, str] = {}
        joined = [f"{a} {b}".strip() for a, b in pairs]
        for a, b in distinct:
            text = f"{a} {b}".strip()
            clocks2[text] = b
            value, code = reader.read_parts(a, b)
            read2[text] = value
            if code:
                bad2[text] = code
        self._tell_points(reader, clocked[2], joined, clocks2, used)
        return self._looked_up(joined, dated[2], read2, bad2, used, (clocked[2], clocks2))

    def _tell_points(
        self,
        reader: StampReader,
        title: str,
        column: Sequence[str],
        clocks: Mapping[str, str],
        used: Sequence[bool],
    ) -> None:
        """Say once, with an example, in how many rows a point was read as a colon."""
        if not reader.pointed:
            return
        read = [
            clocks[text]
            for text, wanted in zip(column, used, strict=True)
            if wanted and clocks.get(text) in reader.pointed
        ]
        if read:
            shown = f" In {len(read)} row{'s' * (len(read) > 1)}; {read[0]} is"
            self._whole(
                "time-with-point",
                "warning",
                column=title,
                more=f"{shown} {reader.pointed[read[0]]}.",
            )

    def _looked_up(
        self,
        column: Sequence[str],
        title: str,
        read: Mapping[str, str],
        bad: dict[str, str],
        used: Sequence[bool],
        clock: tuple[str, Mapping[str, str]] | None = None,
    ) -> list[str]:
        """Look times up; ``clock`` is the column of the time of day alone, and its cells."""
        changes = clock_changes(read.values(), self.options.timezone)
        if changes:
            told = ((text, changes.get(value, "")) for text, value in read.items())
            bad |= {text: code for text, code in told if code}
        if "" not in read and not bad and all(used):
            try:
                return list(map(read.__getitem__, column))
            except KeyError:
                pass
        found: list[str] = []
        cells: list[str] = []
        for text, wanted in zip(column, used, strict=True):
            value = read.get(text, "") if wanted else ""
            found.append(value)
            cells.append(text if wanted else "\0")
        for text in set(cells) - {"\0"}:
            if not text.strip():
                bad[text] = "time-missing"
        if bad and clock is not None:
            # what is wrong with the time of day stands in its own column
            alone = {text: code for text, code in bad.items() if code in _CLOCK_ALONE}
            self._report(cells, clock[0], alone, clock[1])
            bad = {text: code for text, code in bad.items() if text not in alone}
        if bad:
            self._report(cells, title, bad)
        return found

    # -- kinds of rows ---------------------------------------------------------------------------

    def _good(self, line: int) -> bool:
        return line not in self.rows.bad_lines

    def _number(self, name: str, style_of: Iterable[str]) -> list[str]:
        cells = self._cells(name)
        if cells is None:
            return [""] * len(self.sheet)
        column, kept, title = cells
        style = decimal_style(style_of, point=self._points())

        def read(text: str) -> str | tuple[str, str]:
            cell = text.strip()
            if not cell:
                return ""
            if cell.casefold() in MISSING_WORDS:
                return "number-not-given", ""
            value = read_number(cell, style)
            if isinstance(value, str):
                return value, ""
            if value < 0:
                return "number-negative", ""
            if value > 20_000:
                return "number-too-large", ""
            return number_text(value)

        return self._convert(column, kept, title, read)

    def _points(self) -> bool:
        """Files in the contract's own form, and a workbook's numbers, have a decimal point."""
        if self.sheet.plain_decimals:
            return True
        index = self.header.columns.get("time")
        if index is None or self.sheet.delimiter != ",":
            return False
        return all(dates.canonical(t) is not None and t[10] == "T" for t in self.sheet.kept[index])

    def _foods(self, time: list[str], note: list[str], entered: list[str]) -> None:
        names = [self._cells(name) for name in ("portion_g", "fodmap_g")]
        evidence = [text for cells in names if cells for text in cells[1]]
        food = self._texts("food")
        portion = self._number("portion_g", evidence)
        grams = self._number("fodmap_g", evidence)
        cells = self._cells("fodmap_group")
        group = [""] * len(self.sheet)
        if cells is not None:

            def read(text: str) -> str | tuple[str, str]:
                name = group_named(text)
                return ("group-unknown", "") if name is None else name

            group = self._convert(cells[0], cells[1], cells[2], read)
        both = "symptoms" in self.header.kinds
        lines: list[int] = []
        for line, row in zip(
            self.sheet.lines,
            zip(time, food, portion, group, grams, note, entered, strict=True),
            strict=True,
        ):
            if not row[1]:
                if not both and (row[2] or row[3] or row[4]):
                    self._cell("food-missing", line, "food", "")
                continue
            if row[4] and not row[3] and float(row[4]) > 0:
                self._cell("group-missing", line, "fodmap_group", "")
            elif row[4] and row[2] and float(row[4]) > float(row[2]) + 1e-9:
                if _seems_rounded(row[2], row[4]):
                    self._cell("portion-rounded", line, "portion_g", row[2], "warning")
                else:
                    self._cell("grams-over-portion", line, "fodmap_g", row[4])
            if self._good(line):
                self.rows.foods.append(row)
                lines.append(line)
        self._stand("foods", self.rows.foods, lines)

    def _score(self, stool: bool) -> Callable[[str], str | tuple[str, str]]:
        style = decimal_style((), point=True)
        low, high = (1, 7) if stool else (SCORE_MIN, SCORE_MAX)

        def read(text: str) -> str | tuple[str, str]:
            cell = text.strip()
            if not cell:
                return ""
            if cell.casefold() in MISSING_WORDS:
                return "score-not-given", ""
            value = read_number(cell.replace(",", "."), style)
            if isinstance(value, str):
                return "score-unreadable", ""
            if not low <= value <= high:
                return ("stool-form-out-of-range" if stool else "score-out-of-range"), ""
            if value != int(value):
                return "score-not-whole", ""
            return number_text(value)

        return read

    def _wide(self, time: list[str], note: list[str], entered: list[str]) -> None:
        noted: set[int] = set()
        foods = "foods" in self.header.kinds
        found: list[tuple[int, SymptomRow]] = []
        for symptom, index in self.header.symptoms.items():
            if symptom not in self.known and symptom != STOOL_FORM:
                self._whole("symptom-unknown", column=self.sheet.header[index], value=symptom)
                continue
            scores = self._convert(
                self.sheet.columns[index],
                self.sheet.kept[index],
                self.sheet.header[index],
                self._score(symptom == STOOL_FORM),
            )
            for place, score in enumerate(scores):
                if score:
                    # a row's note is kept once, with its first score
                    text = "" if foods or place in noted else note[place]
                    noted.add(place)
                    found.append((place, (time[place], symptom, score, text, entered[place])))
        lines = self.sheet.lines
        good = [(lines[place], row) for place, row in found if self._good(lines[place])]
        self.rows.symptoms += [row for _, row in good]
        self._stand("symptoms", [row for _, row in good], [line for line, _ in good])

    def _long(self, time: list[str], note: list[str], entered: list[str]) -> None:
        names = self._cells("symptom")
        cells = self._cells("score")
        assert names is not None and cells is not None

        def read(text: str) -> str | tuple[str, str]:
            if not text.strip():
                return ""
            found = symptom_named(text, self.options.symptoms)
            return ("symptom-unknown", "") if found is None else found

        symptom = self._convert(*names, read)
        plain_read, stool_read = self._score(False), self._score(True)
        column, kept, title = cells
        scores = {text: plain_read(text) for text in kept}
        if STOOL_FORM in symptom:
            stools = {text: stool_read(text) for text in kept}
            values = [
                stools[text] if name == STOOL_FORM else scores[text]
                for name, text in zip(symptom, column, strict=True)
            ]
        else:
            values = list(map(scores.__getitem__, column))
        doubtful = any(isinstance(value, tuple) for value in values)
        if doubtful or "" in scores or self.rows.bad_lines or "" in names[1]:
            self._long_with_care(time, symptom, values, note, entered, title)
            return
        # the usual case, a file without a single problem, at the speed of zip
        rows = list(zip(time, symptom, values, note, entered, strict=True))
        self.rows.symptoms += rows  # type: ignore[arg-type]
        self._stand("symptoms", rows, self.sheet.lines)  # type: ignore[arg-type]

    def _long_with_care(
        self,
        time: list[str],
        symptom: list[str],
        values: list[str | tuple[str, str]],
        note: list[str],
        entered: list[str],
        title: str,
    ) -> None:
        raw = self.sheet.columns[self.header.columns["score"]]
        rows: list[SymptomRow] = []
        lines: list[int] = []
        for place, line in enumerate(self.sheet.lines):
            value = values[place]
            if isinstance(value, tuple):
                mild = value[0] == "score-not-given"
                self._cell(value[0], line, title, raw[place], "warning" if mild else "error")
                continue
            if not value:
                if symptom[place]:
                    self._cell("score-missing", line, title, "", "warning")
                continue
            if not symptom[place] and self._good(line):
                self._cell("symptom-missing", line, "symptom", "")
            if self._good(line):
                rows.append((time[place], symptom[place], value, note[place], entered[place]))
                lines.append(line)
        self.rows.symptoms += rows
        self._stand("symptoms", rows, lines)

    def _events(self) -> None:
        names = self._texts("event")
        start = self._days("start" if "start" in self.header.columns else "time")
        end = self._days("end") if "end" in self.header.columns else [""] * len(names)
        note = self._texts("note")
        lines: list[int] = []
        for line, row in zip(
            self.sheet.lines, zip(start, end, names, note, strict=True), strict=True
        ):
            if not any(row):
                continue
            if not row[2]:
                self._cell("event-missing", line, "event", "")
            elif not row[0]:
                if self._good(line):
                    self._cell("date-missing", line, "start", "")
            elif row[1] and row[1] < row[0]:
                self._cell("event-ends-before-start", line, "end", row[1])
            if self._good(line):
                self.rows.events.append((row[0], row[1] or row[0], row[2], row[3]))
                lines.append(line)
        self._stand("events", self.rows.events, lines)

    def _lone_notes(self, used: Sequence[bool], note: Sequence[str]) -> None:
        """Keep a note beside no entry as an event of its day: a doctor may have to hear of it."""
        lone = [place for place, text in enumerate(note) if text and not used[place]]
        if not lone:
            return
        rows, lines = self.rows, [self.sheet.lines[place] for place in lone]
        problems, bad = rows.problems, set(rows.bad_lines)
        rows.problems = []
        days = self._days("date" if "date" in self.header.columns else "time")
        # the other rows' days were read, and what is wrong with them told, with their times
        rows.problems = problems + [p for p in rows.problems if p.line in lines]
        rows.bad_lines = bad | (rows.bad_lines & set(lines))
        kept = []
        for place, line in zip(lone, lines, strict=True):
            if not days[place] and self._good(line):
                self._cell("note-without-day", line, "note", note[place])
            if self._good(line):
                self._cell("note-alone", line, "note", note[place], "note")
                rows.events.append((days[place], days[place], "note", note[place]))
                kept.append(line)
        self._stand("events", rows.events, kept)

    def _days(self, name: str) -> list[str]:
        cells = self._cells(name)
        if cells is None:
            return [""] * len(self.sheet)
        column, kept, title = cells
        parts = {text: dates.split_stamp(text.strip())[0] for text in kept}
        reader = self._reader(title, [(day, "") for day in parts.values() if day], name)

        def read(text: str) -> str | tuple[str, str]:
            if not text.strip():
                return ""
            value, code = reader.read_day(parts[text])
            return (code, value) if code else value

        return self._convert(column, kept, title, read)
