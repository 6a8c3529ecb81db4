"""When symptoms count as settled: back within what the client's own baseline days vary.

A fixed limit of one point called three washouts in ten unsettled where nothing lingered
(``tests/benchmarks/washout_rule.py``): the mean of a few days strays that far by chance, and the
more symptoms are followed the more often one of them does. So a symptom is above only when its
mean stands further above the baseline than a client with unchanged days would reach by chance: the
one-sided prediction limit for the mean of m further days,

    t(1 - chance / symptoms, n - 1) * s * sqrt(1 / m + 1 / n),

with the n baseline days' standard deviation s (Hahn and Meeker, Statistical Intervals, 1991,
section 4.7; from memory), shared among the symptoms after Bonferroni. Days lean on one another, so
the chance is larger than stated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    from challenge.protocol.record import Record
    from challenge.protocol.settings import ProtocolSettings


@dataclass(frozen=True, kw_only=True, slots=True)
class Above:
    """A symptom's mean over the last days of a washout.

    Attributes
    ----------
    rise
        Points above the baseline mean.
    limit
        So many are no more than this client's days vary.
    """

    rise: float
    limit: float

    @property
    def settled(self) -> bool:
        """Whether the symptom is back at baseline."""
        return self.rise <= self.limit


def symptoms_above(
    record: Record,
    dates: Sequence[dt.date],
    baseline: Mapping[str, Sequence[float]],
    rules: ProtocolSettings,
) -> dict[str, Above]:
    """Return how far each symptom stands above its baseline, in the mean of some days.

    Parameters
    ----------
    record
        The diary.
    dates
        The days that decide; those without scores do not count.
    baseline
        Symptom -> day means of the scored baseline days [points].
    rules
        ``settled_within``, ``settled_chance`` and the rise that would end a challenge, which is the
        most that any limit can be.
    """
    found = {}
    for symptom, usual in baseline.items():
        means = [m for m in (record.day_mean(date, symptom) for date in dates) if m is not None]
        if means:
            rise = fmean(means) - fmean(usual)
            limit = rules.settled_within
            if rise > limit:  # else nobody needs the client's own
                limit = max(limit, _chance_limit(usual, len(means), len(baseline), rules))
            found[symptom] = Above(rise=rise, limit=limit)
    return found


def _chance_limit(
    usual: Sequence[float], n_days: int, n_symptoms: int, rules: ProtocolSettings
) -> float:
    n = len(usual)
    if n < 2:
        return 0.0
    from scipy.special import stdtrit

    t = float(stdtrit(n - 1, 1 - rules.settled_chance / n_symptoms))
    return min(t * stdev(usual) * sqrt(1 / n_days + 1 / n), rules.stop.rise)
