"""The columns of the model: level, drift and expectation, doses in time, candidate flares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from challenge.model.dose_response import dose_shapes
from challenge.model.doses import GroupDoses
from challenge.model.priors import Priors
from challenge.model.sessions import SLOTS, Sessions
from challenge.terms import CONTROL, FodmapGroup

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

N_THRESHOLDS = 5
_QUIET_AFTER_H = 40.0
_FLARE_BEFORE, _FLARE_AFTER = 1, 2
_FLAT = 1e-6


@dataclass(frozen=True, kw_only=True)
class GroupDesign:
    """One group's columns.

    Attributes
    ----------
    courses
        (n, c * m) response at each session per time course and dose level, for unit rise.
    shapes, shape_weights
        (s, m) relative rise of each level under each dose-response shape; (s,) prior weights.
    n_steps
        The first ``n_steps`` levels are the planned steps.
    flares
        Range of flare candidates that fall into this group's window.
    start
        Where this group's columns start among all groups' columns.
    """

    courses: Floats
    shapes: Floats
    shape_weights: Floats
    n_steps: int
    flares: slice
    start: int

    def coarse(self, course_weights: Floats) -> Floats:
        """(n, m) columns at the expected time course."""
        n = len(self.courses)
        cube = self.courses.reshape(n, len(course_weights), -1)
        columns: Floats = np.einsum("ncm,c->nm", cube, course_weights)
        return columns

    def effect(self, mean_effect: Floats) -> Floats:
        """(n,) expected effect at each session, from (c, m) expected rises [points]."""
        effect: Floats = self.courses @ mean_effect.ravel()
        return effect


@dataclass(frozen=True, kw_only=True)
class Design:
    """All columns over the sessions.

    Attributes
    ----------
    nuisance
        (n, p) usual level per slot, drift, expectation shift.
    expectation
        (n,) 1 on days of an open challenge.
    flares
        (n, f) candidate flares.
    quiet
        (n,) sessions without a dose in the 40 hours before.
    """

    day: Ints
    n_days: int
    nuisance: Floats
    expectation: Floats
    groups: Mapping[FodmapGroup, GroupDesign]
    flares: Floats
    quiet: Bools
    nuisance_sd: Floats

    @property
    def n_nuisance(self) -> int:
        """Number of nuisance columns."""
        return int(self.nuisance.shape[1])

    @property
    def levels(self) -> Floats:
        """Columns of the usual levels and drift alone, without expectation."""
        return self.nuisance[:, :-1]

    def nuisance_precision(self, rating_variance: float) -> Floats:
        """Prior precisions of the nuisance, in units of the rating variance."""
        precision: Floats = np.maximum(rating_variance / self.nuisance_sd**2, _FLAT)
        return precision

    def at(self, used: Bools) -> Design:
        """Return the design over some of the sessions."""
        if used.all():
            return self
        return replace(
            self,
            day=self.day[used],
            nuisance=self.nuisance[used],
            expectation=self.expectation[used],
            groups={g: replace(d, courses=d.courses[used]) for g, d in self.groups.items()},
            flares=self.flares[used],
            quiet=self.quiet[used],
        )


def build_design(
    sessions: Sessions, doses: Mapping[FodmapGroup, GroupDoses], priors: Priors
) -> Design:
    """Lay out the columns for a diary and the doses in it."""
    day, hours = sessions.day, sessions.hours
    dosed = [mine.days() for mine in doses.values()]
    challenge_days = np.unique(np.concatenate([np.empty(0, np.int64), *dosed]))
    expectation = np.isin(day, challenge_days).astype(np.float64)
    present = [slot for slot in range(len(SLOTS)) if (sessions.slot == slot).any()]
    level = np.stack([(sessions.slot == slot).astype(float) for slot in present], axis=1)
    drift = (day - day.mean()) / max(sessions.n_days, 2)
    nuisance = np.hstack([level, drift[:, None], expectation[:, None]])
    sd = np.concatenate([np.full(len(present), np.inf), [priors.drift_sd, priors.expectation_sd]])
    flares, windows = _flare_candidates(sessions, doses, priors)
    groups: dict[FodmapGroup, GroupDesign] = {}
    start = 0
    for group, mine in doses.items():
        if not len(mine.grams):
            continue
        courses = _dose_columns(hours, mine, priors)
        groups[group] = _group_design(group, mine, courses, windows[group], start)
        start += courses.shape[1]
    return Design(
        day=day,
        n_days=sessions.n_days,
        nuisance=nuisance,
        expectation=expectation,
        groups=groups,
        flares=flares,
        quiet=_quiet(hours, doses),
        nuisance_sd=sd,
    )


def _dose_columns(hours: Floats, doses: GroupDoses, priors: Priors) -> Floats:
    since = hours[:, None] - doses.hours[None, :]
    levels = np.zeros((len(doses.hours), len(doses.level_g)))
    levels[np.arange(len(doses.hours)), doses.level] = 1.0
    return np.hstack([course.at(since) @ levels for course in priors.courses])


def _group_design(
    group: FodmapGroup, doses: GroupDoses, courses: Floats, window: slice, start: int
) -> GroupDesign:
    steps = doses.level_g[: doses.n_steps] if doses.n_steps else np.sort(doses.level_g)
    shapes, weights = dose_shapes(doses.level_g, steps, N_THRESHOLDS)
    return GroupDesign(
        courses=courses,
        shapes=shapes,
        shape_weights=weights,
        n_steps=doses.n_steps,
        flares=window,
        start=start,
    )


def _quiet(hours: Floats, doses: Mapping[FodmapGroup, GroupDoses]) -> Bools:
    quiet = np.ones(len(hours), dtype=bool)
    for group, mine in doses.items():
        if group == CONTROL:
            continue
        since = hours[:, None] - mine.hours[None, :]
        quiet &= ~((since >= 0) & (since < _QUIET_AFTER_H)).any(axis=1)
    return quiet


def _flare_candidates(
    sessions: Sessions, doses: Mapping[FodmapGroup, GroupDoses], priors: Priors
) -> tuple[Floats, dict[FodmapGroup, slice]]:
    """Spells of worse days that could be mistaken for a reaction, per group's window."""
    columns: list[Floats] = []
    windows: dict[FodmapGroup, slice] = {}
    for group, mine in doses.items():
        first = len(columns)
        if len(mine.hours):
            around = np.arange(-_FLARE_BEFORE, _FLARE_AFTER + 1)
            days = np.unique(mine.days()[:, None] + around)
            for day in days[(days >= 0) & (days < sessions.n_days)]:
                for length in priors.flare_lengths:
                    spell = (sessions.day >= day) & (sessions.day < day + length)
                    if spell.any():
                        columns.append(spell.astype(float))
        windows[group] = slice(first, len(columns))
    shape = (len(sessions.hours), 0)
    return (np.stack(columns, axis=1) if columns else np.zeros(shape)), windows
