from __future__ import annotations

import pytest

from challenge.figures.alt import describe_group, describe_small_multiples, describe_timeline
from challenge.figures.compose import draw_group, draw_small_multiples, draw_timeline
from challenge.figures.dose_response import plot_dose_response
from challenge.figures.style import new_figure, to_png, to_svg
from challenge.figures.timeline import plot_timeline, timeline_rows
from challenge.wording import languages, load_words
from tests.letter.builders import TYPICAL, empty_analysis, make_analysis

EN = load_words()
CASES = [make_analysis(), empty_analysis(), make_analysis(TYPICAL[:6], cycles=8, rest=5)]


@pytest.mark.parametrize("analysis", CASES, ids=["typical", "empty", "300 days"])
def test_figures_are_the_same_bytes_twice(analysis):
    for draw in (draw_timeline, draw_small_multiples):
        assert to_svg(draw(analysis, EN)) == to_svg(draw(analysis, EN))
        assert to_png(draw(analysis, EN), 60) == to_png(draw(analysis, EN), 60)


def test_plots_take_axes_and_give_them_back():
    axes = new_figure(100, 50).add_axes((0.1, 0.1, 0.8, 0.8))
    assert plot_timeline(axes, CASES[0], EN) is axes
    assert plot_dose_response(axes, CASES[0].groups[0], EN, margin=1.0) is axes


def test_rows_cover_every_day_once():
    analysis = CASES[2]
    rows = timeline_rows(analysis)
    days = [d for first, last in rows for d in range(first.toordinal(), last.toordinal() + 1)]
    assert days == [day.date.toordinal() for day in analysis.days]


@pytest.mark.parametrize("language", languages())
def test_alternative_text_holds_the_numbers(language):
    words = load_words(language)
    analysis = CASES[0]
    group = analysis.group("fructans")
    text = describe_group(analysis, group, words)
    for step in group.steps:
        assert words.number(step.rise, sign=True) in text
    assert describe_timeline(empty_analysis(), words) == words("figures.alt_empty")
    assert "{" not in describe_timeline(analysis, words) + describe_small_multiples(analysis, words)


def test_a_group_without_pairs_is_drawn():
    from dataclasses import replace

    group = replace(CASES[0].groups[0], pairs=(), probability={}, steps=())
    assert to_svg(draw_group(CASES[0], group, EN))


def test_a_dose_not_eaten_is_hollow_and_a_cross_never_stands_on_nought():
    analysis = CASES[0]
    axes = new_figure(160, 45).add_axes((0.1, 0.1, 0.8, 0.8))
    plot_timeline(axes, analysis, EN)
    bars = [bar for bar in axes.patches if bar.get_zorder() == 2]
    hollow = [bar for bar in bars if bar.get_facecolor()[:3] == (1, 1, 1)]
    doses = [dose for group in analysis.groups for dose in group.doses]
    assert len(bars) == len(doses)
    assert len(hollow) == sum(dose.eaten_g is None for dose in doses) > 0
    values = {day.date.toordinal(): day.values.get("pain") for day in analysis.days}
    (crosses,) = [line for line in axes.lines if line.get_marker() == "x"][1:]
    for day, height in zip(*crosses.get_data(), strict=True):
        assert height == values[day] if values[day] is not None else height < 0
