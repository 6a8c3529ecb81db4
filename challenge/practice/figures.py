"""Figures of a practice: each function draws on axes that it is given.

Importing this module imports matplotlib, so it is imported late, by the report alone. Nothing is
told by colour alone: steps have markers, published figures are hollow.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from challenge.figures.style import (
    BLUE,
    GREY,
    INK,
    PALE,
    STEP_MARKERS,
    bare,
    figure_style,
    new_figure,
    to_svg,
)
from challenge.practice.tolerated import group_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from challenge.practice.mixed import RiseByDose
    from challenge.practice.published import Study
    from challenge.practice.tolerated import GroupShares
    from challenge.statistics.agreement import Calibration

WIDTH_MM = 150.0


def draw(height_mm: float, paint: Callable[[Axes], object]) -> str:
    """Return one figure as SVG text: new axes, painted by a function of this module."""
    with figure_style():
        figure = new_figure(WIDTH_MM, height_mm)
        figure.subplots_adjust(left=0.2, right=0.97, bottom=13 / height_mm, top=1 - 9 / height_mm)
        paint(figure.add_subplot())
    text = to_svg(figure).decode("utf-8")
    # metadata names vocabularies by web addresses, which a page that stands alone has no use for
    head, _, rest = text[text.index("<svg") :].partition("<metadata>")
    return head + rest.partition("</metadata>")[2]


def tolerated_by_step(axes: Axes, shares: Sequence[GroupShares]) -> None:
    """Draw, per group and step, the share that tolerates it, with its interval."""
    named: set[int] = set()
    for row, group in enumerate(shares):
        n_steps = len(group.tolerated)
        for step, share in enumerate(group.tolerated, start=1):
            if share.estimate is None or share.low is None or share.high is None:
                continue
            at = row + (step - (n_steps + 1) / 2) * 0.22
            axes.plot([share.low, share.high], [at, at], color=GREY, linewidth=1.0, zorder=1)
            axes.plot(
                share.estimate,
                at,
                STEP_MARKERS[(step - 1) % len(STEP_MARKERS)],
                color=BLUE,
                markersize=4.5,
                clip_on=False,
                label=None if step in named else f"step {step}",
                zorder=2,
            )
            named.add(step)
    _rows(axes, [_label(group) for group in shares])
    _share_axis(axes, "share of clear outcomes that tolerate the step (95 % interval)")
    if axes.get_legend_handles_labels()[0]:
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=6, frameon=False)


def reacted_beside_published(axes: Axes, shares: Sequence[GroupShares], published: Study) -> None:
    """Draw the practice's share of reactions per group beside those of one study."""
    mine: str | None = "this practice"
    for row, group in enumerate(shares):
        share = group.reacted
        if share.estimate is not None and share.low is not None and share.high is not None:
            axes.plot([share.low, share.high], [row, row], color=GREY, linewidth=1.0, zorder=1)
            axes.plot(
                share.estimate, row, "o", color=BLUE, markersize=5, clip_on=False,
                label=mine,
            )  # fmt: skip
            mine = None
        percent = published.percent.get(group.fodmap_group)
        if percent is not None:
            axes.plot(
                percent / 100, row, "D", markersize=6, markerfacecolor="white",
                markeredgecolor=INK, label=published.name if row == 0 else None, zorder=0,
            )  # fmt: skip
    _rows(axes, [_label(group) for group in shares])
    _share_axis(axes, "share with a reaction (95 % interval)")
    if axes.get_legend_handles_labels()[0]:
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2, frameon=False)


def rise_at_top_dose(axes: Axes, fitted: RiseByDose) -> None:
    """Draw the mean difference at the top dose of every group, with its interval."""
    for row, slope in enumerate(fitted.slopes):
        axes.plot([slope.low, slope.high], [row, row], color=GREY, linewidth=1.0)
        axes.plot(slope.estimate, row, "o", color=BLUE, markersize=5)
    axes.axvline(0.0, color=PALE, linewidth=1.0, zorder=0)
    _rows(axes, [group_name(slope.fodmap_group) for slope in fitted.slopes])
    axes.set_xlabel("points at the top dose, challenge minus reference (95 % interval)")


def completeness(axes: Axes, shares: Sequence[float], parts: int = 20) -> None:
    """Draw how complete the diaries are, counted in that many parts from 0 to 1."""
    edges = [k / parts for k in range(parts + 1)]
    axes.hist(shares, bins=edges, color=PALE, edgecolor=GREY, linewidth=0.6)
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    axes.set_xlabel("scores given of scores asked for")
    axes.set_ylabel("clients")
    bare(axes)


def calibration_curve(axes: Axes, found: Calibration) -> None:
    """Draw stated chance against how often it came true, with 95 % intervals."""
    axes.plot([0, 1], [0, 1], color=GREY, linewidth=0.8, linestyle="--")
    for point in found.bins:
        axes.plot([point.stated] * 2, [point.low, point.high], color=GREY, linewidth=1.0)
        axes.plot(point.stated, point.happened, "o", color=BLUE, markersize=4.5)
        axes.annotate(
            f"{point.n}", (point.stated, point.low), xytext=(0, -3), textcoords="offset points",
            ha="center", va="top", color=GREY, fontsize=6.5,
        )  # fmt: skip
    axes.set_xlim(0.2, 1.02)
    axes.set_ylim(-0.05, 1.05)
    axes.set_xlabel("probability given to the most probable step")
    axes.set_ylabel("share in which it is right")
    bare(axes)


def _label(group: GroupShares) -> str:
    if all(share.estimate is None for share in (*group.tolerated, group.reacted)):
        return group_name(group.fodmap_group)  # hidden, and so is how many there are
    return f"{group_name(group.fodmap_group)} ({group.n - group.n_unclear})"


def _rows(axes: Axes, labels: Sequence[str]) -> None:
    axes.set_yticks(range(len(labels)), labels)
    axes.set_ylim(max(len(labels), 1) - 0.5, -0.5)
    bare(axes)
    axes.tick_params(axis="y", length=0)


def _share_axis(axes: Axes, label: str) -> None:
    axes.set_xlim(0.0, 1.002)
    axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    axes.grid(axis="x", color=PALE, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set_xlabel(label)
