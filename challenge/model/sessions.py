"""The diary's scores as arrays: one row per rating session, one column per symptom."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from challenge.diary.day import NIGHT_ENDS_H, PARTS_OF_DAY, PARTS_START_H
from challenge.terms import STOOL_FORM

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SLOTS = PARTS_OF_DAY
_SAME_SESSION_H = 0.75


@dataclass(frozen=True, kw_only=True)
class Sessions:
    """Scores grouped into rating sessions.

    Attributes
    ----------
    origin
        Midnight of day 0; all hours count from here.
    n_days
        Days from ``origin`` to the last score or plan day.
    hours
        (n,) time of each session [h].
    day, slot
        (n,) day number and slot index (0 morning, 1 midday, 2 evening). A score given before
        04:00 belongs to the evening of the day before.
    symptoms
        Names, in column order.
    scores
        (n, k) scores [points], NaN where a symptom was not scored.
    """

    origin: dt.datetime
    n_days: int
    hours: Floats
    day: Ints
    slot: Ints
    symptoms: tuple[str, ...]
    scores: Floats

    def day_number(self, date: dt.date) -> int:
        """Return the day number of a date."""
        return (date - self.origin.date()).days

    def without_days(self, excluded: Collection[int]) -> Sessions:
        """Return the sessions of all other days."""
        if not excluded:
            return self
        keep = ~np.isin(self.day, np.array(sorted(excluded)))
        return replace(
            self,
            hours=self.hours[keep],
            day=self.day[keep],
            slot=self.slot[keep],
            scores=self.scores[keep],
        )


def build_sessions(
    table: pd.DataFrame, first: dt.date, last: dt.date, symptoms: Sequence[str] | None = None
) -> Sessions:
    """Group a table of scores into sessions.

    Parameters
    ----------
    table
        ``Diary.symptoms``.
    first, last
        First and last day to cover; scores outside are left out.
    symptoms
        Symptoms to use; by default all that occur, stool form apart.
    """
    origin = dt.datetime.combine(first, dt.time())
    n_days = (last - first).days + 1
    names, codes = _symptom_codes(table, symptoms)
    stamps = table["time"].to_numpy().astype("datetime64[m]")
    hours = (stamps - np.datetime64(origin, "m")).astype(np.float64) / 60.0
    values = table["score"].to_numpy(dtype=np.float64)
    day = np.floor((hours - NIGHT_ENDS_H) / 24.0)
    keep = (codes >= 0) & np.isfinite(values) & (day >= 0) & (day < n_days)
    order = np.argsort(hours[keep], kind="stable")
    hours, values, codes = hours[keep][order], values[keep][order], codes[keep][order]
    session = _session_numbers(hours)
    n = int(session[-1]) + 1 if len(session) else 0
    scores = np.full((n, len(names)), np.nan)
    scores[session, codes] = values
    first_row = np.searchsorted(session, np.arange(n))
    start = hours[first_row] if n else np.empty(0)
    days = np.floor((start - NIGHT_ENDS_H) / 24.0).astype(np.int64)
    clock = start - 24.0 * days
    return Sessions(
        origin=origin,
        n_days=n_days,
        hours=start,
        day=days,
        slot=np.searchsorted(PARTS_START_H, clock, side="right").astype(np.int64),
        symptoms=names,
        scores=scores,
    )


def _symptom_codes(
    table: pd.DataFrame, symptoms: Sequence[str] | None
) -> tuple[tuple[str, ...], Ints]:
    written = table["symptom"].to_numpy(dtype=object)
    if symptoms is None:
        symptoms = sorted(set(written) - {STOOL_FORM})
    number = {name: i for i, name in enumerate(symptoms)}
    codes = np.fromiter((number.get(name, -1) for name in written), np.int64, len(written))
    used = np.bincount(codes[codes >= 0], minlength=len(symptoms)) > 0
    renumber = np.cumsum(used) - 1
    kept = tuple(name for name, is_used in zip(symptoms, used, strict=True) if is_used)
    good = codes >= 0
    codes[good] = renumber[codes[good]]
    return kept, codes


def _session_numbers(hours: Floats) -> Ints:
    """Number the sessions; a new one starts when the last began more than 45 minutes ago."""
    if not len(hours):
        return np.empty(0, np.int64)
    gaps = np.diff(hours)
    if not np.any((gaps > 0) & (gaps <= _SAME_SESSION_H)):
        return np.concatenate([[0], np.cumsum(gaps > 0)]).astype(np.int64)
    numbers = np.empty(len(hours), np.int64)
    start, number = hours[0], 0
    for i, hour in enumerate(hours):
        if hour - start > _SAME_SESSION_H:
            start, number = hour, number + 1
        numbers[i] = number
    return numbers
