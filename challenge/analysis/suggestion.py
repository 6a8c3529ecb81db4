"""The only decision rule: from probabilities to a suggestion, by a stated gain.

A suggestion is worth 1 when it is right, a half when it is one step too low (foods left out that
could be eaten) and nothing when it is lower still; when it is too high it costs 0.2 for every step,
because it makes somebody ill. "Unclear" is worth 0.4 for certain: repeating a challenge costs days
but harms nobody. The suggestion is what is worth most on average, provided that it is worth more
than "unclear" under the vague priors too. The gain alone would at times call a reaction although
the highest step eaten is about as likely tolerated; nobody is told of a reaction on such odds: the
highest step eaten is suggested then, if that is worth more than "unclear".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.terms import Outcome
from challenge.wording import Statement, statement

Floats = NDArray[np.float64]

GAIN_RIGHT = 1.0
GAIN_ONE_TOO_LOW = 0.5
GAIN_PER_STEP_TOO_HIGH = -0.2
GAIN_UNCLEAR = 0.4
LEAST_P_REACTION = 0.55
"""Keeps false reactions of invented clients who tolerate everything at about one in twenty for the
groups that most people react to. An assumption."""


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """What the rule proposes for the dietitian to confirm.

    Attributes
    ----------
    outcome
        ``tolerated`` up to the highest step eaten, ``reacted`` below it, or ``unclear``.
    step
        Highest step tolerated; None when unclear.
    gain
        Expected worth of what is proposed.
    why_unclear
        Why, most important first; empty unless unclear.
    """

    outcome: Outcome
    step: int | None
    gain: float
    why_unclear: tuple[Statement, ...] = ()


def expected_gain(p_highest: Floats) -> Floats:
    """(..., J + 1) expected worth of suggesting each step, given the probability of each."""
    gain: Floats = p_highest * GAIN_RIGHT
    gain[..., :-1] += p_highest[..., 1:] * GAIN_ONE_TOO_LOW
    # expected number of steps by which each suggestion is too high
    gain[..., 1:] += GAIN_PER_STEP_TOO_HIGH * p_highest.cumsum(axis=-1).cumsum(axis=-1)[..., :-1]
    return gain


def suggest(
    p_highest: Floats,
    p_highest_vague: Floats,
    eaten_steps: Sequence[int],
    obstacles: Sequence[Statement] = (),
    stopped_at: int | None = None,
    unsettled: Sequence[Statement] = (),
) -> Suggestion:
    """Choose a step, or say that it is unclear.

    Parameters
    ----------
    p_highest, p_highest_vague
        (J + 1,) probability of each step, from 0, being the highest tolerated, under the published
        and under the vague priors.
    eaten_steps
        Steps that were eaten; no other is ever suggested, but none at all may be.
    obstacles
        Data conditions that forbid a suggestion.
    stopped_at
        Step at which the challenge was stopped because of symptoms. A stop is strong evidence but
        no proof: that step is not suggested on the model's word alone.
    unsettled
        Signs that symptoms were not back at their usual level before the challenge. They
        forbid calling a reaction, which they might explain; a dose tolerated all the same stands.
    """
    if not eaten_steps:
        return _unclear((statement("not-eaten"),))
    if obstacles:
        return _unclear(tuple(obstacles))
    top = max(eaten_steps)
    gain = expected_gain(p_highest)
    best = max((0, *sorted(eaten_steps)), key=lambda step: float(gain[step]))
    if p_highest[:top].sum() < LEAST_P_REACTION:
        best = top
    if gain[best] <= GAIN_UNCLEAR:
        return _unclear((_spread(p_highest, top),))
    if expected_gain(p_highest_vague)[best] <= GAIN_UNCLEAR:
        return _unclear((statement("prior-sensitive"),))
    if stopped_at is not None and best >= stopped_at:
        return _unclear((statement("stopped", step=stopped_at),))
    outcome: Outcome = "tolerated" if best == top else "reacted"
    if outcome == "reacted" and unsettled:
        return _unclear(tuple(unsettled))
    return Suggestion(outcome=outcome, step=best, gain=float(gain[best]))


def _unclear(why: tuple[Statement, ...]) -> Suggestion:
    return Suggestion(outcome="unclear", step=None, gain=GAIN_UNCLEAR, why_unclear=why)


def _spread(p_highest: Floats, top: int) -> Statement:
    likeliest = int(np.argmax(p_highest))
    if likeliest > top:
        return statement("only-up-to", step=likeliest, top=top)
    order = np.argsort(p_highest)[::-1][:2]
    first, second = (
        statement("chance-step" if i else "chance-none", step=int(i), p=float(p_highest[i]))
        for i in order
    )
    return statement("spread", first=first, second=second)


def probabilities(p_highest: Floats) -> Mapping[int, float]:
    """Return the probabilities by step, summing to 1 exactly as far as floats allow."""
    total = float(p_highest.sum())
    return {step: float(p) / total for step, p in enumerate(p_highest)}
