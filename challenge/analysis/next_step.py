"""What would settle it: the most informative next step, with what it would bring per diary day.

For every option the worth of deciding after the new days is averaged over what they might show,
given what is known now (the posterior); the gain over what is said today is divided by the days.
The options: eat one step or all steps again after washout, or a control challenge, which shows how
much of a rise is expectation. A control challenge is valued as a look at the group's own rise that
takes away as much of its uncertainty as comes from not knowing the expectation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.suggestion import GAIN_UNCLEAR, expected_gain

Floats = NDArray[np.float64]

_SHOWN = np.linspace(-2.0, 2.0, 9)
_WORTH_A_DAY = 0.005  # half a point in a hundred for a day of somebody's life on a diet
_MOST_BY_EXPECTATION = 0.9  # share of the uncertainty of a rise that expectation can make up


@dataclass(frozen=True, kw_only=True)
class Option:
    """One thing that could be done next.

    Attributes
    ----------
    kind
        ``repeat`` of steps of this group, or a ``control`` challenge.
    steps
        Steps to eat again, one day each; of a control challenge, its days.
    days
        Diary days it costs, washout included.
    gain
        Expected increase in the worth of the suggestion.
    beyond
        The last step has not been eaten so far.
    """

    kind: Literal["repeat", "control"]
    steps: tuple[int, ...]
    days: int
    gain: float
    beyond: bool = False

    @property
    def per_day(self) -> float:
        """Gain per diary day."""
        return self.gain / self.days


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of one group now.

    Attributes
    ----------
    mass
        (h,) posterior probability of each possible truth.
    rises
        (h, J) rise at each step under each of them [points].
    margin
        Smallest rise that matters [points].
    day_sd
        Standard deviation of the rise measured on one challenge day [points].
    eaten
        Steps eaten so far.
    stopped_at
        Step at which symptoms ended the challenge; nothing above it is eaten before it went well.
    worth
        Worth of what is suggested now, "unclear" included.
    expectation_sd
        How uncertain the shift by expectation is [points]; None when a control has shown it.
    """

    mass: Floats
    rises: Floats
    margin: float
    day_sd: float
    eaten: tuple[int, ...]
    stopped_at: int | None = None
    worth: float
    expectation_sd: float | None

    @property
    def highest(self) -> NDArray[np.int64]:
        """(h,) highest step tolerated under each possible truth."""
        return np.asarray((self.rises < self.margin).cumprod(axis=1).sum(axis=1), dtype=np.int64)


def best_option(known: Known, washout_days: int) -> Option | None:
    """Return the option with the largest gain per day, or None when nothing is worth its days.

    Parameters
    ----------
    washout_days
        Washout before a repeat [days].
    """
    n_steps = known.rises.shape[1]
    top = max(known.eaten, default=0)
    reach = min(top + 1, n_steps, known.stopped_at or n_steps)
    whole = tuple(range(1, reach + 1))
    evaluated = [
        _repeat(known, steps, washout_days)
        for steps in dict.fromkeys([*((step,) for step in whole), whole])
    ]
    if known.expectation_sd is not None and top:
        evaluated.append(_control(known, known.expectation_sd, washout_days))
    best = max(evaluated, key=lambda option: option.per_day)
    return best if best.per_day >= _WORTH_A_DAY else None


def _repeat(known: Known, steps: tuple[int, ...], washout_days: int) -> Option:
    level = known.rises[:, [step - 1 for step in steps]].mean(axis=1)
    sd = known.day_sd / np.sqrt(len(steps))
    top = max(*steps, *known.eaten)
    later = _worth_after(known, level, float(sd), top)
    return Option(
        kind="repeat",
        steps=steps,
        days=len(steps) + washout_days,
        gain=max(later - known.worth, 0.0),
        beyond=steps[-1] not in known.eaten,
    )


def _control(known: Known, expectation_sd: float, washout_days: int) -> Option:
    """Value a control challenge of as many days as this group had steps."""
    steps = tuple(range(1, max(known.eaten) + 1))
    level = known.rises[:, [step - 1 for step in known.eaten]].mean(axis=1)
    variance = float(
        np.average((level - np.average(level, weights=known.mass)) ** 2, weights=known.mass)
    )
    learned = expectation_sd**4 / (expectation_sd**2 + known.day_sd**2 / len(steps))
    left = max(variance - min(learned, _MOST_BY_EXPECTATION * variance), 1e-6)
    days = len(steps) + washout_days
    if variance <= left:
        return Option(kind="control", steps=steps, days=days, gain=0.0)
    sd = (1.0 / left - 1.0 / variance) ** -0.5
    later = _worth_after(known, level, float(sd), max(known.eaten))
    return Option(kind="control", steps=steps, days=days, gain=max(later - known.worth, 0.0))


def _worth_after(known: Known, level: Floats, sd: float, top: int) -> float:
    """Worth of deciding after one more look at a rise, steps above ``top`` not to be suggested.

    The outcome is drawn over a grid of errors around every possible truth, thinned to the truths
    that carry the probability.

    Parameters
    ----------
    level
        (h,) rise looked at under each possible truth [points].
    sd
        Standard deviation of that look [points].
    """
    n_steps = known.rises.shape[1]
    spread = np.asarray(np.quantile(level, np.linspace(0.0, 1.0, 15)), dtype=np.float64)
    edges = [spread[:1] + sd * _SHOWN, spread[-1:] + sd * _SHOWN]
    shown = np.unique(np.concatenate([spread, *edges]))
    likelihood = np.exp(-0.5 * ((shown[:, None] - level[None, :]) / sd) ** 2)
    width = np.gradient(shown)
    joint = likelihood * known.mass * (width[:, None] / (sd * np.sqrt(2 * np.pi)))
    steps = joint @ (known.highest[:, None] == np.arange(n_steps + 1))
    best = np.maximum(
        expected_gain(steps)[:, : top + 1].max(axis=1), GAIN_UNCLEAR * steps.sum(axis=1)
    )
    return float(best.sum() / joint.sum())
