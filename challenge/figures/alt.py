"""The same figures in words, for those who cannot see them."""

from __future__ import annotations

from statistics import fmean
from typing import TYPE_CHECKING

from challenge.figures.probability import step_label

if TYPE_CHECKING:
    from challenge.analysis.result import Analysis, GroupResult
    from challenge.wording import Words


def describe_timeline(analysis: Analysis, words: Words) -> str:
    """Say what the timeline shows."""
    symptom = analysis.primary_symptom
    scored = [day for day in analysis.days if symptom in day.values]
    if not scored:
        return words("figures.alt_empty")
    phases = []
    for phase in ("baseline", "challenge", "washout", "rest"):
        values = [day.values[symptom] for day in scored if day.phase == phase]
        if values:
            phases.append(
                words("figures.alt_phase", phase=words(f"phases.{phase}"),
                      mean=words.number(fmean(values)), n=len(values))
            )  # fmt: skip
    worst = max(scored, key=lambda day: day.values[symptom])
    left_out = {left.date for group in analysis.groups for left in group.days_left_out}
    marked = left_out | {day.date for day in analysis.days if day.marks}
    return words(
        "figures.alt_timeline",
        symptom=words.get(f"symptoms.{symptom}", symptom),
        first=words.date(analysis.days[0].date),
        last=words.date(analysis.days[-1].date),
        phases=" ".join(phases),
        highest=words.number(worst.values[symptom]),
        highest_day=words.short_date(worst.date),
        marked=len(marked),
    )


def describe_dose_response(group: GroupResult, words: Words, *, margin: float) -> str:
    """Say what the dose-response of one group shows."""
    said = [
        words("figures.alt_step_empty", grams=words.grams(step.fodmap_g))
        if step.rise is None
        else words(
            "figures.alt_step",
            grams=words.grams(step.fodmap_g),
            rise=words.number(step.rise, sign=True),
            interval=words.interval(step.low, step.high),
        )
        for step in group.steps
    ]
    return words(
        "figures.alt_dose_response",
        group=words.get(f"groups.{group.fodmap_group}", group.fodmap_group),
        steps=" ".join(said),
        margin=words.number(margin),
    )


def describe_pairs(group: GroupResult, words: Words) -> str:
    """Say what the paired dots of one group show."""
    said = []
    for step in sorted({pair.step for pair in group.pairs}):
        pairs = [pair for pair in group.pairs if pair.step == step]
        said.append(
            words(
                "figures.alt_pairs_step",
                step=step,
                reference=words.number(fmean(pair.reference_value for pair in pairs)),
                challenge=words.number(fmean(pair.challenge_value for pair in pairs)),
                n=len(pairs),
            )
        )
    return words(
        "figures.alt_pairs",
        n=len(group.pairs),
        group=words.get(f"groups.{group.fodmap_group}", group.fodmap_group),
        steps=" ".join(said) or words("figures.alt_pairs_none"),
    )


def describe_probability(group: GroupResult, words: Words) -> str:
    """Say what the probabilities of one group are."""
    said = [
        words(
            "figures.alt_probability_step",
            step=step_label(group, step, words),
            probability=words.percent(group.probability[step]),
        )
        for step in sorted(group.probability)
    ]
    return words(
        "figures.alt_probability",
        group=words.get(f"groups.{group.fodmap_group}", group.fodmap_group),
        steps=" ".join(said),
    )


def describe_group(analysis: Analysis, group: GroupResult, words: Words) -> str:
    """Say what the three panels of one group show."""
    margin = float(analysis.settings["margin"])
    return " ".join(
        (
            describe_dose_response(group, words, margin=margin),
            describe_pairs(group, words),
            describe_probability(group, words),
        )
    )


def describe_small_multiples(analysis: Analysis, words: Words) -> str:
    """Say what the panels side by side show."""
    if not analysis.groups:
        return words("figures.alt_empty")
    said = []
    for group in analysis.groups:
        steps = [
            words("figures.alt_small_step", grams=words.grams(step.fodmap_g),
                  rise=words.number(step.rise, sign=True))
            for step in group.steps
            if step.rise is not None
        ]  # fmt: skip
        said.append(
            words(
                "figures.alt_small_group",
                group=words.get(f"groups.{group.fodmap_group}", group.fodmap_group),
                steps=(words.join(steps) or words("figures.alt_small_none")) + ".",
            )
        )
    return words("figures.alt_small_multiples", groups=" ".join(said))
