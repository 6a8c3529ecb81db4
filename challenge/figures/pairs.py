"""Challenge days beside the reference days they are compared with, pair by pair."""

from __future__ import annotations

from statistics import fmean
from typing import TYPE_CHECKING

from challenge.figures.style import BLUE, GREY, INK, bare, say_empty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from challenge.analysis.result import GroupResult
    from challenge.wording import Words


def plot_pairs(axes: Axes, group: GroupResult, words: Words, *, symptom: str) -> Axes:
    """Draw every pair of days of one group, step by step.

    Hollow points are reference days, filled points challenge days; a short thick bar is the mean.

    Parameters
    ----------
    axes
        Where to draw.
    group
        The result of the group; its ``pairs`` are drawn.
    words
        The language.
    symptom
        The symptom that the pairs hold.

    Returns
    -------
    Axes
        The same axes.
    """
    bare(axes)
    axes.set_ylim(-0.4, 10.4)
    axes.set_yticks([0, 2, 4, 6, 8, 10])
    name = words.get(f"symptoms.{symptom}", symptom)
    axes.set_ylabel(words("figures.score_axis", symptom=name))
    steps = sorted({pair.step for pair in group.pairs})
    if not steps:
        say_empty(axes, words)
        return axes
    for place, step in enumerate(steps):
        pairs = [pair for pair in group.pairs if pair.step == step]
        # several pairs may hold the same scores: a small fan keeps each of them visible
        shifts = [0.05 * (i - (len(pairs) - 1) / 2) for i in range(len(pairs))]
        reach = max(abs(shift) for shift in shifts)
        scale = min(1.0, 0.16 / reach) if reach else 1.0
        left, right = 2.8 * place, 2.8 * place + 1
        for pair, shift in zip(pairs, shifts, strict=True):
            x = (left + scale * shift, right + scale * shift)
            axes.plot(x, (pair.reference_value, pair.challenge_value), color=GREY, lw=0.7, zorder=1)
            axes.plot(x[0], pair.reference_value, "o", ms=4, mfc="white", mec=INK, mew=0.8)
            axes.plot(x[1], pair.challenge_value, "o", ms=4, mfc=INK, mec=INK, mew=0.8)
        for x0, values in (
            (left, [pair.reference_value for pair in pairs]),
            (right, [pair.challenge_value for pair in pairs]),
        ):
            mean = fmean(values)
            side = -0.44 if x0 == left else 0.44
            axes.plot([x0 + side - 0.14, x0 + side + 0.14], [mean, mean], color=BLUE, lw=2.6)
        axes.text(left + 0.5, 10.4, words("figures.step", step=step), ha="center", va="bottom",
                  fontsize=7.5)  # fmt: skip
    ticks = [2.8 * place + side for place in range(len(steps)) for side in (0, 1)]
    labels = [words("figures.reference"), words("figures.challenge")] * len(steps)
    axes.set_xticks(ticks, labels)
    axes.set_xlim(-0.9, 2.8 * (len(steps) - 1) + 1.9)
    return axes
