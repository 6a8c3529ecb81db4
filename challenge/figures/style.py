"""How every figure looks: dark ink on white, shape and pattern before colour, one quiet blue.

Nothing is told by colour alone: each distinction is also a marker, a line style, a hatch or a
word, so that a greyscale print and a colour-blind reader lose nothing.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from challenge.wording import Words

INK: Final = "#1a1a1a"
GREY: Final = "#6e6e6e"
PALE: Final = "#e4e4e4"
BLUE: Final = "#1f4e79"
STEP_MARKERS: Final = ("o", "s", "D", "^", "v", "P", "X", "h")
"""Marker of steps 1, 2, 3 ...; the same in every figure."""

MM: Final = 1 / 25.4
"""One millimetre in inches."""

PAGE_WIDTH_MM: Final = 165.0
"""Width between the margins of a letter on A4 and on US letter paper."""

_SETTINGS: Final[Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "axes.titlesize": 8.5,
    "axes.labelsize": 8.0,
    "xtick.labelsize": 7.5,
    "ytick.labelsize": 7.5,
    "legend.fontsize": 7.5,
    "axes.edgecolor": GREY,
    "axes.linewidth": 0.7,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "hatch.linewidth": 0.5,
    "svg.hashsalt": "challenge",
    "svg.fonttype": "path",
    "axes.unicode_minus": True,
}


@contextmanager
def figure_style() -> Iterator[None]:
    """Draw and save within this: the settings of every figure, restored afterwards."""
    with matplotlib.rc_context(_SETTINGS):
        yield


def new_figure(width_mm: float, height_mm: float) -> Figure:
    """Return an empty figure that no window or global state knows of."""
    figure = Figure(figsize=(width_mm * MM, height_mm * MM), layout=None)
    FigureCanvasAgg(figure)
    return figure


def bare(axes: Axes) -> None:
    """Take away the frame lines that say nothing."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=2.5, width=0.7)


def say_empty(axes: Axes, words: Words) -> None:
    """Write in the middle of the axes that there is nothing to show."""
    axes.text(
        0.5, 0.5, words("figures.no_data"), transform=axes.transAxes,
        ha="center", va="center", color=GREY, style="italic",
    )  # fmt: skip
    axes.set_xticks([])


def score_ticks(axes: Axes, words: Words, low: float, high: float) -> None:
    """Put ticks at whole points, thinned to at most seven, written as the language does."""
    first, last = int(-(-low // 1)), int(high // 1)
    every = max(1, -(-(last - first + 1) // 7))
    ticks = [value for value in range(first, last + 1) if value % every == 0]
    axes.set_yticks(ticks, [words.number(value, 0) for value in ticks])


def to_svg(figure: Figure) -> bytes:
    """Return the figure as SVG with its letters as outlines; the same bytes every time."""
    return _save(figure, "svg", {"Date": None, "Creator": None})


def to_png(figure: Figure, dpi: int = 200) -> bytes:
    """Return the figure as PNG; the same bytes every time."""
    return _save(figure, "png", {"Software": None}, dpi)


def _save(figure: Figure, form: str, metadata: dict[str, None], dpi: int = 100) -> bytes:
    held = io.BytesIO()
    with figure_style():
        figure.savefig(held, format=form, metadata=metadata, dpi=dpi, facecolor="white")
    return held.getvalue()
