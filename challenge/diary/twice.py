"""Scores that are given twice: once is enough, and two different ones cannot both hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from challenge.diary.notes import one_note
from challenge.diary.rows import Row, Rows, SymptomRow
from challenge.diary.wording import LISTED, and_more
from challenge.problems import Problem
from challenge.terms import STOOL_FORM


def check_rows(rows: Rows) -> tuple[Rows, list[Problem]]:
    """Return the rows with scores given twice merged, and what was found.

    The same score twice for one time and symptom counts once. Two different scores are an error:
    nobody can tell which holds. Stools, and foods, may really come twice at a time.
    """
    if rows.plain and rows.symptoms:
        rows = rows.spelt_out(rows.plain.holds(rows.symptoms)).by_line(rows.plain.file)
    places: dict[tuple[str, str], int] = {}
    scores: list[SymptomRow] = []
    contradicting: dict[tuple[Row, Row], tuple[SymptomRow, SymptomRow]] = {}
    for row in rows.symptoms:
        place = -1 if row[1] == STOOL_FORM else places.setdefault(row[:2], len(scores))
        if place in (-1, len(scores)):
            scores.append(row)
        elif scores[place][2] != row[2]:
            pair = scores[place], row
            contradicting.setdefault((pair[0][:3], pair[1][:3]), pair)
        else:
            scores[place] = _same_entry(scores[place], row)
    checked = replace(rows, symptoms=scores, events=list(dict.fromkeys(rows.events)))
    return checked, _contradictions(rows, list(contradicting.values()))


def _same_entry(one: SymptomRow, other: SymptomRow) -> SymptomRow:
    """Join two records of one score: every note, the earlier time of writing."""
    entered = min(filter(None, (one[4], other[4])), default="")
    return (*one[:3], one_note((one[3], other[3])), entered)


def _contradictions(rows: Rows, pairs: Sequence[tuple[SymptomRow, SymptomRow]]) -> list[Problem]:
    problems = []
    places = rows.places("symptoms", {row[:3] for pair in pairs[:LISTED] for row in pair})
    for one, other in pairs[:LISTED]:
        first, second = sorted((one[2], other[2]), key=float)
        before, (file, line) = places[one[:3]], places[other[:3]]
        problems.append(
            Problem(
                code="score-contradicts",
                severity="error",
                file=file,
                line=line,
                column="score",
                date=one[0][:10],
                value=f"{first} and {second}",
                message=f"Two different scores are given for {one[1]} at {one[0]}; "
                f"the other is in line {before[1]}"
                f"{f' of {before[0]}' if before[0] != file else ''}.",
                remedy="Keep the right one.",
            )
        )
    if len(pairs) > LISTED:
        problems.append(and_more(problems[0].file or "", "score", len(pairs) - LISTED))
    return problems
