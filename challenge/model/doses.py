"""Doses of each group as eaten: when, how many grams, and which planned step they stand for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from challenge.terms import GROUPS_AND_CONTROL, FodmapGroup

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_ONE_MEAL_H = 2.0
_SAME_LEVEL = 0.15


@dataclass(frozen=True, kw_only=True)
class GroupDoses:
    """All doses of one group in the diary.

    Attributes
    ----------
    hours, grams
        (n,) time eaten [h from the origin of the sessions] and grams of the carbohydrate.
    level
        (n,) index into ``level_g``.
    level_g
        (m,) the different amounts [g]; the planned steps come first, in order, eaten or not.
    n_steps
        How many of the levels are planned steps.
    """

    hours: Floats
    grams: Floats
    level: Ints
    level_g: Floats
    n_steps: int

    def days(self) -> Ints:
        """Day number of each dose."""
        return np.floor(self.hours / 24.0).astype(np.int64)


def build_doses(
    foods: pd.DataFrame,
    origin: dt.datetime,
    steps_g: dict[FodmapGroup, dict[int, float]],
) -> dict[FodmapGroup, GroupDoses]:
    """Collect the doses of every group that is planned or was eaten.

    Portions of one group within two hours count as one dose. An amount within 15 % of a planned
    step counts as that step; other amounts keep their own grams.
    """
    written = foods["fodmap_group"].to_numpy(dtype=object)
    grams = foods["fodmap_g"].to_numpy(dtype=np.float64)
    stamps = foods["time"].to_numpy().astype("datetime64[m]")
    hours = (stamps - np.datetime64(origin, "m")).astype(np.float64) / 60.0
    doses = {}
    for group in GROUPS_AND_CONTROL:
        mine = (written == group) & np.isfinite(grams) & (grams > 0)
        if not mine.any() and group not in steps_g:
            continue
        planned = np.array(list(steps_g.get(group, {}).values()), dtype=np.float64)
        doses[group] = _group_doses(hours[mine], grams[mine], planned)
    return doses


def _group_doses(hours: Floats, grams: Floats, planned: Floats) -> GroupDoses:
    order = np.argsort(hours, kind="stable")
    hours, grams = hours[order], grams[order]
    if len(hours):
        meal = np.concatenate([[0], np.cumsum(np.diff(hours) > _ONE_MEAL_H)])
        total = np.bincount(meal, weights=grams)
        hours = np.bincount(meal, weights=grams * hours) / total
        grams = total.astype(np.float64)
    levels = list(planned)
    index = np.empty(len(grams), np.int64)
    for i, dose in enumerate(grams):
        near = [j for j, level in enumerate(levels) if abs(dose - level) <= _SAME_LEVEL * level]
        if near:
            index[i] = min(near, key=lambda j: abs(levels[j] - dose))
        else:
            index[i] = len(levels)
            levels.append(float(dose))
    return GroupDoses(
        hours=hours, grams=grams, level=index, level_g=np.array(levels), n_steps=len(planned)
    )
