"""The probability that each step is the highest tolerated."""

from __future__ import annotations

from typing import TYPE_CHECKING

from challenge.figures.style import BLUE, INK, bare, say_empty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from challenge.analysis.result import GroupResult
    from challenge.wording import Words


def step_label(group: GroupResult, step: int, words: Words) -> str:
    """Name a step by its grams; step 0 is "none"."""
    if step == 0:
        return words("figures.no_step")
    grams = {s.step: s.fodmap_g for s in group.steps}
    return words.grams(grams[step]) if step in grams else words("figures.step", step=step)


def plot_probability(axes: Axes, group: GroupResult, words: Words, *, small: bool = False) -> Axes:
    """Draw one bar a step with its percentage; the suggested step is filled, the others hatched.

    Parameters
    ----------
    axes
        Where to draw.
    group
        The result of the group.
    words
        The language.
    small
        Leave out the labels of the axes, for panels side by side.

    Returns
    -------
    Axes
        The same axes.
    """
    bare(axes)
    axes.set_ylim(0, 1.15)
    axes.set_yticks([0, 0.5, 1], [words.percent(share) for share in (0.0, 0.5, 1.0)])
    if not small:
        axes.set_ylabel(words("figures.probability_axis"))
        axes.set_xlabel(words("figures.highest_axis"), loc="right")
    if not group.probability:
        say_empty(axes, words)
        return axes
    steps = sorted(group.probability)
    for place, step in enumerate(steps):
        share = group.probability[step]
        chosen = step == group.suggested_step
        axes.bar(
            place, share, 0.66, facecolor=BLUE if chosen else "white", edgecolor=INK, lw=0.8,
            hatch=None if chosen else "////",
        )  # fmt: skip
        label = words("figures.tiny") if 0 < share < 0.005 else words.percent(share)
        axes.text(place, share + 0.02, label, ha="center", va="bottom", fontsize=7)
    axes.set_xticks(range(len(steps)), [step_label(group, step, words) for step in steps])
    axes.set_xlim(-0.6, len(steps) - 0.4)
    return axes
