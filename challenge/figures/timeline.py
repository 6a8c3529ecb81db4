"""The whole diary on one line of time: day values, phases, doses, flagged days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Final

from challenge.figures.style import BLUE, GREY, INK, PALE, bare, say_empty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from challenge.analysis.result import Analysis, DayValue
    from challenge.wording import Words

DAYS_IN_ROW: Final = 60
"""More days than this in one row and the names of the phases no longer fit."""

_TOP: Final = 13.6
_BOTTOM: Final = -2.3


def timeline_rows(analysis: Analysis) -> list[tuple[dt.date, dt.date]]:
    """Split the diary into stretches of equal length that each fit one row of a figure."""
    if not analysis.days:
        return []
    first, last = analysis.days[0].date, analysis.days[-1].date
    total = (last - first).days + 1
    rows = -(-total // DAYS_IN_ROW)
    length = -(-total // rows)
    return [
        (
            first + dt.timedelta(days=row * length),
            min(first + dt.timedelta(days=(row + 1) * length - 1), last),
        )
        for row in range(rows)
    ]


def plot_timeline(
    axes: Axes,
    analysis: Analysis,
    words: Words,
    *,
    first: dt.date | None = None,
    last: dt.date | None = None,
) -> Axes:
    """Draw the day values of the primary symptom with what happened on each day.

    Challenge days stand on a grey ground with filled points and, below, a bar as high as the
    dose step, hollow where that dose was not eaten; days left out are crossed (below the zero line
    where there is no value), flagged days carry a hollow triangle.

    Parameters
    ----------
    axes
        Where to draw.
    analysis
        The result to draw; its ``days`` and the groups' ``doses`` and ``days_left_out`` are used.
    words
        The language.
    first, last
        Stretch to draw; the whole diary by default.

    Returns
    -------
    Axes
        The same axes.
    """
    symptom = analysis.primary_symptom
    name = words.get(f"symptoms.{symptom}", symptom)
    axes.set_ylabel(words("figures.score_axis", symptom=name))
    bare(axes)
    axes.set_ylim(_BOTTOM, _TOP)
    axes.set_yticks([0, 2, 4, 6, 8, 10])
    axes.yaxis.set_label_coords(-0.045, 0.45)
    days = [
        day
        for day in analysis.days
        if (first is None or day.date >= first) and (last is None or day.date <= last)
    ]
    if not days:
        say_empty(axes, words)
        return axes
    _shade_phases(axes, days, words)
    _draw_scores(axes, days, symptom)
    _draw_doses(axes, days, _not_eaten(analysis))
    _draw_marks(axes, analysis, days, symptom)
    _date_ticks(axes, first or days[0].date, last or days[-1].date, words)
    return axes


def timeline_key(axes: Axes, analysis: Analysis, words: Words) -> None:
    """Draw the key of the timeline below the axes: what is always there, and what this one has."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Line2D | Patch] = [
        Line2D([], [], color=INK, marker="o", ms=4, lw=0.8, label=words("figures.challenge_day")),
        Line2D([], [], color=INK, marker="o", mfc="white", ms=4, lw=0.8,
               label=words("figures.other_day")),
        Line2D([], [], color=INK, marker="x", ms=5, lw=0, label=words("figures.left_out")),
        Line2D([], [], color=INK, marker="v", mfc="white", ms=5, lw=0,
               label=words("figures.flagged")),
        Patch(facecolor=BLUE, label=words("figures.dose_row")),
    ]  # fmt: skip
    if _not_eaten(analysis):
        handles.append(Patch(facecolor="white", edgecolor=BLUE, label=words("figures.not_eaten")))
    if any(day.phase == "rest" for day in analysis.days):
        handles.append(
            Patch(facecolor="white", edgecolor=GREY, hatch="////", label=words("figures.rest"))
        )
    axes.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.47, -0.22), ncols=len(handles),
        frameon=False, handletextpad=0.4, columnspacing=1.0, fontsize=7 if len(handles) < 7 else 6,
        handlelength=1.6,
    )  # fmt: skip


def _shade_phases(axes: Axes, days: Sequence[DayValue], words: Words) -> None:
    for (phase, group, cycle), run in groupby(
        days, key=lambda d: (d.phase, d.fodmap_group, d.cycle)
    ):
        stretch = list(run)
        left = stretch[0].date.toordinal() - 0.5
        right = stretch[-1].date.toordinal() + 0.5
        if phase == "challenge":
            axes.axvspan(left, right, color=PALE, lw=0)
            label = words.get(f"groups.{group}", str(group)).split(" (")[0]
            if cycle is not None and cycle > 1:
                label = f"{label} {cycle}"
            axes.text(
                (left + right) / 2, _TOP - 0.1, label,
                rotation=90, ha="center", va="top", fontsize=6.5,
            )  # fmt: skip
        elif phase == "rest":
            axes.axvspan(left, right, facecolor="white", edgecolor=GREY, hatch="////", lw=0)
        elif phase == "baseline":
            axes.text(
                (left + right) / 2, _TOP - 0.1, words("phases.baseline"),
                ha="center", va="top", fontsize=6.5, color=GREY,
            )  # fmt: skip
            axes.axvline(right, color=GREY, lw=0.7, ls=(0, (2, 2)))


def _draw_scores(axes: Axes, days: Sequence[DayValue], symptom: str) -> None:
    # a day without a value breaks the line: a gap must look like a gap
    for scored, run in groupby(days, key=lambda d: symptom in d.values):
        stretch = list(run)
        if scored:
            axes.plot(
                [d.date.toordinal() for d in stretch], [d.values[symptom] for d in stretch],
                color=INK, lw=0.8, zorder=2,
            )  # fmt: skip
    for challenge, face in ((True, INK), (False, "white")):
        some = [d for d in days if symptom in d.values and (d.phase == "challenge") is challenge]
        axes.plot(
            [d.date.toordinal() for d in some], [d.values[symptom] for d in some],
            ls="", marker="o", ms=3.6, mfc=face, mec=INK, mew=0.7, zorder=3,
        )  # fmt: skip


def _not_eaten(analysis: Analysis) -> set[dt.date]:
    return {
        dose.date for group in analysis.groups for dose in group.doses if dose.eaten_g is None
    }  # fmt: skip


def _draw_doses(axes: Axes, days: Sequence[DayValue], not_eaten: set[dt.date]) -> None:
    top = max((d.step or 0 for d in days), default=0)
    for day in days:
        if day.step:
            axes.bar(
                day.date.toordinal(), 1.7 * day.step / max(top, 3), 0.62,
                bottom=_BOTTOM, facecolor="white" if day.date in not_eaten else BLUE,
                edgecolor=BLUE, lw=0.7, zorder=2,
            )  # fmt: skip
    axes.axhline(0, color=GREY, lw=0.5)


def _draw_marks(axes: Axes, analysis: Analysis, days: Sequence[DayValue], symptom: str) -> None:
    left_out = {left.date for group in analysis.groups for left in group.days_left_out}
    crossed = [d for d in days if d.date in left_out]
    # a cross on the zero line would look like a score of 0
    heights = [d.values.get(symptom, _BOTTOM / 2) for d in crossed]
    for colour, width, size in (("white", 2.8, 8.0), (INK, 1.1, 6.5)):
        axes.plot(
            [d.date.toordinal() for d in crossed], heights,
            ls="", marker="x", ms=size, mew=width, color=colour, zorder=4,
        )  # fmt: skip
    flagged = [d for d in days if d.marks]
    axes.plot(
        [d.date.toordinal() for d in flagged],
        [min(d.values.get(symptom, 0.0) + 0.9, 10.6) for d in flagged],
        ls="", marker="v", ms=4.2, mfc="white", mec=INK, mew=0.8, zorder=4,
    )  # fmt: skip


def _date_ticks(axes: Axes, first: dt.date, last: dt.date, words: Words) -> None:
    every = 7 if (last - first).days >= 14 else 2
    ticks = range(first.toordinal(), last.toordinal() + 1, every)
    axes.set_xticks(list(ticks), [words.short_date(dt.date.fromordinal(day)) for day in ticks])
    axes.set_xlim(first.toordinal() - 0.8, last.toordinal() + 0.8)
