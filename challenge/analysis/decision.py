"""What the dietitian decided on a suggestion, and whether that still rests on the same evidence."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from challenge.analysis.result import Analysis, GroupResult
from challenge.terms import CONTROL, FodmapGroup, Outcome


@dataclass(frozen=True, kw_only=True, slots=True)
class Decision:
    """One group signed off: a suggestion accepted or overridden.

    Attributes
    ----------
    fodmap_group
        The group.
    outcome, suggested_step, suggested_g
        What was suggested at the time; step None is "unclear".
    decided_step, decided_g
        What the dietitian decided: highest step to use [grams at that step]; 0 is "leave out for
        now", None is "still unclear, test again".
    reason, by
        Why, and the initials of who decided.
    when
        Local time of the decision.
    evidence
        Digest of the evidence that was on the table (`evidence_digest`).
    """

    fodmap_group: FodmapGroup
    outcome: Outcome
    suggested_step: int | None
    suggested_g: float | None
    decided_step: int | None
    decided_g: float | None
    reason: str
    by: str
    when: dt.datetime
    evidence: str

    @property
    def is_override(self) -> bool:
        """Whether the dietitian decided otherwise than suggested."""
        return self.decided_step != self.suggested_step


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """The latest decision on a group and whether it still holds."""

    decision: Decision | None
    current: bool


def evidence_digest(group: GroupResult, settings: Mapping[str, Any]) -> str:
    """Return a short digest of what a decision on this group rests on.

    It covers the suggestion, the doses, the pairs of days, the days left out, the early stops, and
    margin and confidence. It leaves out the probabilities: they move a little with every new day of
    the diary, and a decision is not out of date because of the third decimal place. When they move
    the suggestion, the digest changes.
    """
    rules = settings
    evidence = [
        [group.outcome, group.suggested_step, _text(group.suggested_g)],
        [[d.date.isoformat(), d.step, d.cycle, _text(d.eaten_g)] for d in group.doses],
        [
            [
                p.challenge_date.isoformat(), _text(p.challenge_value),
                p.reference_date.isoformat(), _text(p.reference_value),
            ]
            for p in group.pairs
        ],
        [[left.date.isoformat(), left.reason.as_data()] for left in group.days_left_out],
        [[stop.date.isoformat(), stop.step] for stop in group.stops],
        [_text(rules.get("margin")), _text(rules.get("confidence"))],
    ]  # fmt: skip
    plain = json.dumps(evidence, ensure_ascii=False)
    return hashlib.sha256(plain.encode()).hexdigest()[:16]


def standings(analysis: Analysis, decisions: Iterable[Decision]) -> dict[FodmapGroup, Standing]:
    """Return, for every group analysed, the latest decision and whether its evidence is unchanged.

    The last row on a group counts, as decisions are only ever added to the file.
    """
    latest = {decision.fodmap_group: decision for decision in decisions}
    found: dict[FodmapGroup, Standing] = {}
    for group in analysis.groups:
        decision = latest.get(group.fodmap_group)
        current = decision is not None and decision.evidence == evidence_digest(
            group, analysis.settings
        )
        found[group.fodmap_group] = Standing(decision=decision, current=current)
    return found


def all_decided(analysis: Analysis, decisions: Iterable[Decision]) -> bool:
    """Return whether every group has a decision that still holds; the control needs none."""
    return bool(analysis.groups) and all(
        standing.current
        for group, standing in standings(analysis, decisions).items()
        if group != CONTROL
    )


def _text(value: float | None) -> str | None:
    # nine digits: the same on every machine, whatever the last bit
    return None if value is None else f"{value:.9g}"
