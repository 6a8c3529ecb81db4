"""Checks across the rows of a diary by itself: entries made twice or against each other."""

from __future__ import annotations

from challenge.diary.parse import FoodRow, Rows, SymptomRow
from challenge.problems import Problem
from challenge.terms import STOOL_FORM


def check_rows(rows: Rows) -> tuple[Rows, list[Problem]]:
    """Return the rows with scores given twice merged, and what was found.

    The same score twice for one time and symptom counts once. Two different scores are an error:
    nobody can tell which holds. Stools, and foods, may really come twice at a time.
    """
    kept: dict[tuple[str, str], SymptomRow] = {}
    scores: list[SymptomRow] = []
    problems: list[Problem] = []
    for row in rows.symptoms:
        if row[1] == STOOL_FORM:
            scores.append(row)
            continue
        before = kept.setdefault(row[:2], row)
        if before is row:
            scores.append(row)
        elif before[2] != row[2]:
            problems.append(_contradiction(before, row))
        elif before != row:
            better = same_entry(before, row)
            kept[row[:2]] = better
            scores[scores.index(before)] = better
    return (
        Rows(
            foods=rows.foods,
            symptoms=scores,
            events=list(dict.fromkeys(rows.events)),
            problems=rows.problems,
        ),
        problems,
    )


def same_entry(one: SymptomRow, other: SymptomRow) -> SymptomRow:
    """Join two records of one score: the fuller note, the earlier time of writing."""
    note = max(one[3], other[3], key=lambda text: (len(text), text))
    entered = min(filter(None, (one[4], other[4])), default="")
    return (*one[:3], note, entered)


def same_food(one: FoodRow, other: FoodRow) -> FoodRow:
    """Join two records of one food: the fuller note, the earlier time of writing."""
    note = max(one[5], other[5], key=lambda text: (len(text), text))
    entered = min(filter(None, (one[6], other[6])), default="")
    return (*one[:5], note, entered)


def _contradiction(one: SymptomRow, other: SymptomRow) -> Problem:
    first, second = sorted((one[2], other[2]), key=float)
    return Problem(
        code="score-contradicts",
        severity="error",
        column="score",
        date=one[0][:10],
        value=f"{first} and {second}",
        message=f"Two different scores are given for {one[1]} at {one[0]}.",
        remedy="Keep the right one.",
    )
