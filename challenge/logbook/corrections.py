"""Corrections of what is written down already; what it was before is kept by the store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from challenge.logbook.answers import (
    UnclearError,
    read_amount,
    read_score,
    read_stool,
    read_time,
)
from challenge.logbook.entries import (
    Entries,
    food_entry,
    rounded_grams,
    score_entries,
    stool_entry,
)
from challenge.logbook.questions import STOOL_TYPES, Known, Question, Script
from challenge.logbook.written import Line


def correct(known: Known, entries: Entries, corrected: dict[int, Line]) -> Script:
    """Ask which line is wrong and what is right; each line is corrected once."""
    lines = known.written.lines

    def which(text: str) -> int | None:
        answer = text.strip()
        if not answer:
            return None
        if answer.isascii() and answer.isdigit() and 1 <= int(answer) <= len(lines):
            if int(answer) in corrected:
                raise UnclearError("That one is corrected already; b goes back to it.")
            return int(answer)
        raise UnclearError(f"A number from 1 to {len(lines)}, or Enter for none.")

    number = yield Question(
        text="Which one",
        enter="none",
        read=which,
        before=tuple(f"  {i}  {line.listed}" for i, line in enumerate(lines, 1)),
        help="What it was before is kept.",
    )
    if number is None:
        return
    line = lines[number - 1]
    corrected[number] = line
    way = yield Question(
        text=f"{line.listed}: other values, other time (t) or take it out (x)",
        enter="other values",
        read=_read_way,
        help="t: it was at another time. x: it should not be there at all.",
        begun=f"the correction of {line.listed}",
    )
    table = "foods" if line.kind == "food" else "symptoms"
    if way == "take out":
        entries.changed += [(table, row, None) for row in line.rows]
        return
    if way == "move":
        names = [row[1] for row in line.rows]
        time = yield _right_time(known, line, names, entries)
        entries.changed += [(table, row, time) for row in line.rows]
        return
    ask = {"rating": _correct_rating, "stool": _correct_stool, "food": _correct_food}[line.kind]
    before = len(entries.symptoms) + len(entries.foods)
    yield from ask(known, entries, line)
    if len(entries.symptoms) + len(entries.foods) > before:
        entries.correct = True


def _read_way(text: str) -> str:
    ways = {"": "values", "v": "values", "t": "move", "x": "take out"}
    way = ways.get(text.strip().lower())
    if way is None:
        raise UnclearError("Enter for other values, t for another time, x to take it out.")
    return way


def _right_time(known: Known, line: Line, names: Sequence[str], entries: Entries) -> Question:
    """Ask when it really was; the time it had is no answer, nor is one that is taken."""
    taken = {(t, n) for t, n in known.written.taken if t != line.time or n not in names}
    taken |= {(t, row[1]) for _, row, t in entries.changed if t is not None}

    def read(text: str) -> dt.datetime:
        time = read_time(text, known.date, known.now, known.zone)
        if any((time, name) in taken for name in names):
            raise UnclearError(f"There is such an entry at {time:%H:%M} already.")
        return time

    return Question(
        text="When was it really",
        read=read,
        help="A time such as 08:10.",
        begun=f"the correction of {line.listed}",
    )


def _correct_rating(known: Known, entries: Entries, line: Line) -> Script:
    was = {row[1]: int(float(row[2])) for row in line.rows}
    now: dict[str, int | None] = {}
    for symptom in dict.fromkeys((*known.symptoms, *was)):
        old = was.get(symptom)
        given = yield Question(
            text=symptom.replace("_", " "),
            enter="not given" if old is None else f"stays {old}",
            read=read_score,
            help="A score from 0 to 10 (x is 10).",
            one_key=True,
            begun=f"the correction of {line.listed}",
        )
        if given is not None and given != old:
            now[symptom] = given
    notes = {row[1]: row[3] for row in line.rows}
    for entry in score_entries(line.time, now):
        entries.symptoms.append(entry | {"note": notes.get(entry["symptom"], "")})


def _correct_stool(known: Known, entries: Entries, line: Line) -> Script:
    old = int(float(line.rows[0][2]))
    form = yield Question(
        text="Type 1 to 7",
        enter=f"stays {old}",
        read=read_stool,
        help=STOOL_TYPES,
        one_key=True,
        begun=f"the correction of {line.listed}",
    )
    if form is None or form == old:
        return
    entries.symptoms.append(stool_entry(line.time, form) | {"note": line.rows[0][3]})
    # a correction replaces all stools of its minute, so the others go with it
    for other in _others(known, line):
        again = stool_entry(line.time, int(float(other.rows[0][2])))
        entries.symptoms.append(again | {"note": other.rows[0][3]})


def _correct_food(known: Known, entries: Entries, line: Line) -> Script:
    row = line.rows[0]
    old = float(row[2]) if row[2] else None
    amount = yield Question(
        text=f"How much {row[1]}, in g (mL of a drink)",
        enter="stays unknown" if old is None else f"stays {old:g}",
        read=read_amount,
        help="As much as you really ate.",
        begun=f"the correction of {line.listed}",
    )
    if amount is None or amount == old:
        return
    entries.foods.append(_food_again(line, amount))
    for other in _others(known, line):
        entries.foods.append(_food_again(other, None))


def _food_again(line: Line, amount: float | None) -> dict[str, Any]:
    """The food of a row, with another amount: its grams go along in proportion."""
    row = line.rows[0]
    old = float(row[2]) if row[2] else None
    grams = float(row[4]) if row[4] else None
    entry = food_entry(line.time, row[1], old if amount is None else amount)
    entry |= {"fodmap_group": row[3] or None, "fodmap_g": grams, "note": row[5]}
    if amount is not None and grams is not None:
        entry["fodmap_g"] = rounded_grams(grams / old * amount) if old else None
    return entry


def _others(known: Known, line: Line) -> list[Line]:
    name = line.rows[0][1]
    return [
        other
        for other in known.written.lines
        if other is not line and other.time == line.time and other.rows[0][1] == name
    ]
