"""Grams eaten against the rise in symptoms, with margin and interval; alone and side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from challenge.figures.style import BLUE, GREY, INK, PALE, bare, say_empty, score_ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from challenge.analysis.result import GroupResult
    from challenge.wording import Words


def rise_limits(groups: Sequence[GroupResult], margin: float) -> tuple[float, float]:
    """Return the lower and upper end of a shared axis of rise [points] for these groups."""
    ends = [
        value for g in groups for s in g.steps for value in (s.low, s.high) if value is not None
    ]
    return min([-1.0, *ends]) - 0.3, max([margin + 1.0, *ends]) + 0.5


def plot_dose_response(
    axes: Axes,
    group: GroupResult,
    words: Words,
    *,
    margin: float,
    limits: tuple[float, float] | None = None,
    small: bool = False,
) -> Axes:
    """Draw the rise at each step of one group with its interval.

    The band between nothing and the margin is shaded: a rise within it is too small to matter.
    A step that was not eaten is named below the axis and has no point.

    Parameters
    ----------
    axes
        Where to draw.
    group
        The result of the group.
    words
        The language.
    margin
        Smallest rise that matters [points].
    limits
        Ends of the axis of rise [points]; from this group's intervals by default.
    small
        Leave out axis labels and counts, for panels side by side.

    Returns
    -------
    Axes
        The same axes.
    """
    low, high = limits or rise_limits([group], margin)
    bare(axes)
    axes.axhspan(min(low, 0), margin, color=PALE, lw=0, zorder=0)
    axes.axhline(0, color=GREY, lw=0.7, zorder=1)
    axes.axhline(margin, color=INK, lw=0.9, ls=(0, (5, 2)), zorder=1)
    axes.set_ylim(low, high)
    score_ticks(axes, words, low, high)
    if not small:
        name = words.get(f"groups.{group.fodmap_group}", group.fodmap_group)
        axes.set_ylabel(words("figures.rise_axis"))
        axes.set_xlabel(words("figures.grams_axis", group=name))
    if not group.steps:
        say_empty(axes, words)
        return axes
    for place, step in enumerate(group.steps):
        if step.rise is None:
            axes.text(
                place, max(low, 0.0) + 0.04 * (high - low), words("figures.not_eaten"),
                rotation=90, ha="center", va="bottom", color=GREY, fontsize=6.5, style="italic",
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
            )  # fmt: skip
            continue
        if step.low is not None and step.high is not None:
            axes.plot([place, place], [step.low, step.high], color=BLUE, lw=1.6, zorder=2,
                      solid_capstyle="butt")  # fmt: skip
            for end in (step.low, step.high):
                axes.plot([place - 0.09, place + 0.09], [end, end], color=BLUE, lw=1.2, zorder=2)
        axes.plot(place, step.rise, marker="o", ms=5.5, mfc=INK, mec="white", mew=0.8, zorder=3)
        if not small:
            axes.text(
                place, high, words("figures.days_eaten", n=step.n_days),
                ha="center", va="top", fontsize=6.5, color=GREY,
            )  # fmt: skip
    labels = [words.grams(step.fodmap_g) for step in group.steps]
    axes.set_xticks(range(len(labels)), labels)
    axes.set_xlim(-0.5, len(labels) - 0.5)
    if not small:
        axes.text(
            1.02, margin, words("figures.margin", margin=words.number(margin)),
            ha="left", va="center", fontsize=6.5, transform=axes.get_yaxis_transform(),
        )  # fmt: skip
    return axes
