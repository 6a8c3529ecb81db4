"""Checks of a diary by itself: entries in the future, written early or late, too alike."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from challenge.diary.places import NOWHERE, Place, Places
from challenge.problems import Problem
from challenge.terms import STOOL_FORM

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from challenge.diary.model import Diary

ALIKE_DAYS: Final = 7
"""Days in a row with one and the same score that are not plausible (common practice, no source)."""

_LATE_HOUR: Final = 12  # entries after noon of the next day are late (own inference, no source)
_EARLY_HOURS: Final = 1  # a clock may be a little off


def check_entries(diary: Diary, today: dt.date) -> list[Problem]:
    """Return what is wrong or doubtful in the entries by themselves.

    Entries in the future are errors: they cannot have happened. Written late means after noon of
    the next day: paper diaries filled in afterwards look complete without being so (Stone 2002).
    Each problem is about a day, and names its first such entry.

    Parameters
    ----------
    diary
        As read.
    today
        The day of the check.
    """
    places = diary.places or NOWHERE
    problems = []
    for table, file in ((diary.foods, "foods.csv"), (diary.symptoms, "symptoms.csv")):
        problems += _in_the_future(table, file, today, places)
        problems += _written_early(table, file, places)
        problems += _written_late(table, file, places)
    return problems + _alike(diary.symptoms, places)


def _in_the_future(table: pd.DataFrame, file: str, today: dt.date, places: Places) -> list[Problem]:
    found = _by_day(table, _days(table["time"]) > np.datetime64(today))
    return [
        _at(
            _place(table, first, places),
            code="entry-in-the-future",
            severity="error",
            file=file,
            column="time",
            date=str(date),
            message=f"{_entries(count)} of this day: it has not come yet (today is {today}).",
            remedy="Correct the date; day and month may be exchanged.",
        )
        for date, count, first in found
    ]


def _written_early(table: pd.DataFrame, file: str, places: Places) -> list[Problem]:
    time, entered = table["time"].to_numpy(), table["entered_at"].to_numpy()
    early = entered < time - np.timedelta64(_EARLY_HOURS, "h")
    return [
        _at(
            _place(table, first, places),
            code="written-before-it-happened",
            severity="warning",
            file=file,
            column="entered_at",
            date=str(date),
            message=f"{_entries(count)} of this day: written more than an hour before it happened.",
            remedy="Correct the time or the time of writing; scores are given when they are felt.",
        )
        for date, count, first in _by_day(table, early)
    ]


def _written_late(table: pd.DataFrame, file: str, places: Places) -> list[Problem]:
    days = _days(table["time"])
    limit = (days + 1).astype("datetime64[h]") + np.timedelta64(_LATE_HOUR, "h")
    entered = table["entered_at"].to_numpy()
    late = entered > limit
    problems = []
    for date, count, first in _by_day(table, late):
        longest = (_days(table["entered_at"])[late & (days == date)] - date).max().astype(int)
        problems.append(
            _at(
                _place(table, first, places),
                code="written-late",
                severity="warning",
                file=file,
                column="entered_at",
                date=str(date),
                message=f"{_entries(count)} of this day: written after noon of the next day, "
                f"{longest} day{'' if longest == 1 else 's'} later at the latest.",
                remedy="Ask whether it was remembered or copied; memory makes a poor score.",
            )
        )
    return problems


def _place(table: pd.DataFrame, row: int, places: Places) -> Place | None:
    if places is NOWHERE:
        return None
    time = table["time"].iloc[row].to_pydatetime()
    if "food" in table:
        return places.food(time, table["food"].iloc[row])
    return places.score(time, table["symptom"].iloc[row])


def _at(place: Place | None, *, file: str, column: str, **told: Any) -> Problem:
    if place is None:
        return Problem(file=file, column=column, **told)
    told.setdefault("value", place.value(column))
    return Problem(file=place.file, line=place.line, column=column, **told)


def _alike(symptoms: pd.DataFrame, places: Places) -> list[Problem]:
    """Runs of one score above zero; zero for weeks is what a settled client feels."""
    table = symptoms[(symptoms["symptom"] != STOOL_FORM) & symptoms["score"].notna()]
    problems = []
    for symptom, own in table.groupby("symptom", sort=True):
        score, days = own["score"].to_numpy(), _days(own["time"])
        edges = np.flatnonzero(np.diff(score)) + 1
        starts, ends = np.r_[0, edges], np.r_[edges, len(score)] - 1
        for first, last in zip(starts, ends, strict=True):
            n_days = len(np.unique(days[first : last + 1]))
            if score[first] == 0 or n_days < ALIKE_DAYS:
                continue
            problems.append(
                _at(
                    _place(own, first, places),
                    code="same-score-for-days",
                    severity="warning",
                    file="symptoms.csv",
                    column="score",
                    date=str(days[first]),
                    value=f"{score[first]:g}",
                    message=f"Every score of {symptom} is the same on {n_days} days, "
                    f"{last - first + 1} scores up to {days[last]}.",
                    remedy="Ask how the scores were given.",
                )
            )
    return problems


def _days(times: pd.Series) -> NDArray[Any]:
    return times.to_numpy().astype("datetime64[D]")


def _by_day(table: pd.DataFrame, wanted: NDArray[np.bool_]) -> list[tuple[Any, int, int]]:
    """Return the days of the wanted rows with their number of rows and the first of them."""
    rows = np.flatnonzero(wanted)
    dates, first, counts = np.unique(
        _days(table["time"])[rows], return_index=True, return_counts=True
    )
    return list(zip(dates, counts.tolist(), rows[first].tolist(), strict=True))


def _entries(count: int) -> str:
    return "One entry" if count == 1 else f"{count} entries"
