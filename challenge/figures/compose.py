"""Whole figures for letters and the report, put together from the plots."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from challenge.figures.dose_response import plot_dose_response, rise_limits
from challenge.figures.pairs import plot_pairs
from challenge.figures.probability import plot_probability
from challenge.figures.style import GREY, PAGE_WIDTH_MM, bare, figure_style, new_figure, say_empty
from challenge.figures.timeline import plot_timeline, timeline_key, timeline_rows

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from challenge.analysis.result import Analysis, GroupResult
    from challenge.wording import Words


_PANEL_MM = 34


def margin_of(analysis: Analysis) -> float:
    """Return the margin [points] that the analysis was made with."""
    return float(analysis.settings["margin"])


def draw_timeline(analysis: Analysis, words: Words) -> Figure:
    """Draw the whole diary, in as many rows as its length needs."""
    rows: list[tuple[dt.date | None, dt.date | None]] = [*timeline_rows(analysis)]
    rows = rows or [(None, None)]
    with figure_style():
        height = 45 * len(rows) + 7
        figure = new_figure(PAGE_WIDTH_MM, height)
        for place, (first, last) in enumerate(rows):
            bottom = (7 + 45 * (len(rows) - 1 - place) + 6) / height
            axes = figure.add_axes((0.065, bottom, 0.925, 37 / height))
            plot_timeline(axes, analysis, words, first=first, last=last)
        timeline_key(axes, analysis, words)
    return figure


def draw_small_multiples(analysis: Analysis, words: Words) -> Figure:
    """Draw the dose-response of every group side by side on one scale, for a letter."""
    groups = analysis.groups
    margin = margin_of(analysis)
    columns = min(4, max(len(groups), 1))
    rows = max(1, -(-len(groups) // columns))
    with figure_style():
        height = _PANEL_MM * rows + 7
        figure = new_figure(PAGE_WIDTH_MM, height)
        limits = rise_limits(groups, margin)
        width = 0.93 / max(columns, 3)
        for place, group in enumerate(groups):
            row, column = divmod(place, columns)
            axes = figure.add_axes(
                (0.07 + column * width, (_PANEL_MM * (rows - 1 - row) + 12) / height,
                 0.82 * width, 24 / height)
            )  # fmt: skip
            plot_dose_response(axes, group, words, margin=margin, limits=limits, small=True)
            name = words.get(f"groups.{group.fodmap_group}", group.fodmap_group)
            # no outcome: the dietitian may have decided otherwise, and the letter says what holds
            axes.set_title(name, loc="left", pad=3)
            if column == 0:
                axes.set_ylabel(words("figures.rise_axis"))
        confidence = words.percent(analysis.settings["confidence"])
        figure.text(
            0.07, 1.5 / height, words("figures.small_key", margin=words.number(margin),
                                      confidence=confidence),
            fontsize=7, color=GREY, va="bottom",
        )  # fmt: skip
        if not groups:
            axes = figure.add_axes((0.07, 0.1, 0.9, 0.8))
            bare(axes)
            say_empty(axes, words)
            axes.set_yticks([])
    return figure


def draw_group(analysis: Analysis, group: GroupResult, words: Words) -> Figure:
    """Draw one group in three panels: dose-response, pairs of days, probability of each step."""
    with figure_style():
        figure = new_figure(PAGE_WIDTH_MM, 58)
        bottom, height = 0.2, 0.67
        left = figure.add_axes((0.07, bottom, 0.2, height))
        middle = figure.add_axes((0.415, bottom, 0.285, height))
        right = figure.add_axes((0.8, bottom, 0.19, height))
        plot_dose_response(left, group, words, margin=margin_of(analysis))
        plot_pairs(middle, group, words, symptom=analysis.primary_symptom)
        plot_probability(right, group, words)
        middle.tick_params(axis="x", labelrotation=30)
        for label in middle.get_xticklabels():
            label.set_horizontalalignment("right")
            label.set_rotation_mode("anchor")
    return figure
