"""The annex to the doctor's letter: every period's data, in the order of CENT 2015.

CENT 2015 (Vohra et al., BMJ 2015;350:h1738) lists what a report on a trial in one person states.
Items 1 to 5 were read in the published text; 6 to 25 are followed from memory.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from statistics import fmean

from challenge.analysis.decision import Decision
from challenge.analysis.result import Analysis, DayValue
from challenge.letter.blinded import order_drawn, who_was_blind
from challenge.letter.content import Block, Bullets, Heading, NewPage, Paragraph, Picture, Table
from challenge.letter.people import Background
from challenge.letter.story import Story
from challenge.protocol.portion import food_in_words
from challenge.wording import Words


def build_annex(
    analysis: Analysis,
    stories: Sequence[Story],
    decisions: Iterable[Decision],
    background: Background,
    words: Words,
    picture_alts: Mapping[str, str],
) -> tuple[Block, ...]:
    """Return what follows the signature."""
    blocks: list[Block] = [NewPage(), Heading(text=words("annex.heading"))]
    blocks += _design(analysis, stories, background, words)
    for name in ("timeline", "small_multiples"):
        if name in picture_alts:
            blocks.append(
                Picture(name=name, alt=picture_alts[name], caption=words(f"annex.picture_{name}"))
            )
    if stories:
        blocks += [
            Heading(text=words("annex.effects_heading"), level=2),
            steps_table(stories, analysis, words),
            _tests(stories, analysis, words),
            _sensitivity(stories, words),
        ]
    blocks += _periods(analysis, words)
    blocks += _doses(stories, words)
    blocks += _left_out(stories, words)
    blocks += _stops(stories, words)
    blocks += _decisions(decisions, words)
    return tuple(block for block in blocks if not (isinstance(block, Table) and not block.rows))


def _design(
    analysis: Analysis, stories: Sequence[Story], background: Background, words: Words
) -> list[Block]:
    counts = Counter(day.phase for day in analysis.days if day.phase)
    phases = words.join(
        [words("annex.n_days", n=n, phase=words(f"phases.{phase}")) for phase, n in counts.items()]
    )
    rules = analysis.settings
    cycles = max((dose.cycle for story in stories for dose in story.result.doses), default=0)
    symptoms = dict.fromkeys(name for day in analysis.days for name in day.values)
    order = [words(f"groups.{story.result.fodmap_group}") for story in stories]
    values = {
        "first": words.date(analysis.days[0].date) if analysis.days else words("format.none"),
        "last": words.date(analysis.days[-1].date) if analysis.days else words("format.none"),
        "phases": phases or words("format.none"),
        "cycles": cycles,
        "order": words.join(order) or words("format.none"),
        "drawn": order_drawn(analysis, words),
        "masked": who_was_blind(analysis, words),
        "symptoms": words.join([words.get(f"symptoms.{s}", s) for s in symptoms])
        or words("format.none"),
        "primary": words.get(f"symptoms.{analysis.primary_symptom}", analysis.primary_symptom),
        "margin": words.number(rules["margin"]),
        "confidence": words.percent(rules["confidence"]),
        "completeness": words.join(
            [
                words("annex.share", phase=words(f"phases.{phase}"), share=words.percent(share))
                for phase, share in analysis.completeness.items()
            ]
        )
        or words("format.none"),
        "record": " ".join((background.diagnosis, *background.other)).strip()
        or words("doctor.not_recorded"),
    }
    labels = words.many("annex.design_labels")
    texts = [text.strip() for text in words.many("annex.design_texts", **values)]
    return [
        Table(
            caption=words("annex.design_caption"),
            header=words.many("annex.design_header"),
            rows=tuple(zip(labels, texts, strict=True)),
            widths=(0.24, 0.76),
            small=True,
        )
    ]


def _name(story: Story, words: Words) -> str:
    return words(f"groups.{story.result.fodmap_group}")


def steps_table(stories: Sequence[Story], analysis: Analysis, words: Words) -> Table:
    """What the model says of each step of each group."""
    rows = []
    for story in stories:
        steps = {step.step: step for step in story.result.steps}
        for number in sorted({0, *steps, *story.result.probability}):
            step = steps.get(number)
            rows.append(
                (
                    _name(story, words),
                    str(number),
                    words.grams(step.fodmap_g if step else None if number else 0.0),
                    str(step.n_days) if step else words("format.none"),
                    words.number(step.rise if step else None, sign=True),
                    words.interval(step.low, step.high) if step else words("format.none"),
                    words.percent(step.p_over_margin if step else None),
                    words.percent(story.result.probability.get(number)),
                )
            )
    return Table(
        caption=words(
            "annex.steps_caption",
            confidence=words.percent(analysis.settings["confidence"]),
            margin=words.number(analysis.settings["margin"]),
        ),
        header=words.many("annex.steps_header"),
        rows=tuple(rows),
        widths=(0.19, 0.07, 0.1, 0.09, 0.11, 0.16, 0.14, 0.14),
        small=True,
    )


def _tests(stories: Sequence[Story], analysis: Analysis, words: Words) -> Table:
    rows = []
    for story in stories:
        for test in story.result.tests:
            if test.symptom != analysis.primary_symptom and test.step is not None:
                continue
            rows.append(
                (
                    _name(story, words),
                    words.get(f"symptoms.{test.symptom}", test.symptom),
                    words("annex.all_steps") if test.step is None else str(test.step),
                    words("annex.pairs", n=test.n_pairs, missing=test.n_missing),
                    words(
                        "doctor.means",
                        baseline=words.number(test.baseline_mean),
                        challenge=words.number(test.challenge_mean),
                    ),
                    words.number(test.difference, sign=True),
                    words.interval(test.low, test.high),
                    words.pvalue(test.pvalue),
                    words.pvalue(test.min_pvalue),
                    words.pvalue(test.pvalue_adjusted),
                )
            )
    methods = dict.fromkeys(test.method for story in stories for test in story.result.tests)
    return Table(
        caption=words(
            "annex.tests_caption",
            confidence=words.percent(analysis.settings["confidence"]),
            methods="; ".join(words.tell(method) for method in methods) or words("format.none"),
        ),
        header=words.many("annex.tests_header"),
        rows=tuple(rows),
        widths=(0.13, 0.105, 0.06, 0.08, 0.12, 0.105, 0.145, 0.085, 0.085, 0.085),
        small=True,
    )


def _sensitivity(stories: Sequence[Story], words: Words) -> Table:
    rows = []
    for story in stories:
        for other in story.result.sensitivity:
            rows.append(
                (
                    _name(story, words),
                    words.tell(other.name),
                    words(f"outcomes.{other.outcome}"),
                    words("format.none")
                    if other.suggested_step is None
                    else str(other.suggested_step),
                    words.number(other.difference, sign=True),
                    words.interval(other.low, other.high),
                )
            )
    return Table(
        caption=words("annex.sensitivity_caption"),
        header=words.many("annex.sensitivity_header"),
        rows=tuple(rows),
        widths=(0.17, 0.31, 0.13, 0.08, 0.13, 0.18),
        small=True,
    )


def _periods(analysis: Analysis, words: Words) -> list[Block]:
    symptoms = tuple(dict.fromkeys(name for day in analysis.days for name in day.values))
    if not analysis.days:
        return []
    rows = []
    for (phase, group, cycle), run in groupby(
        analysis.days, key=lambda day: (day.phase, day.fodmap_group, day.cycle)
    ):
        stretch = tuple(run)
        name = words(f"phases.{phase}") if phase else words("annex.outside")
        if group:
            name = words("annex.phase_of", phase=name, group=words(f"groups.{group}"))
        rows.append(
            (
                name,
                str(cycle) if cycle else words("format.none"),
                words.span(stretch[0].date, stretch[-1].date),
                words(
                    "annex.scored",
                    scored=sum(bool(day.values) for day in stretch),
                    days=len(stretch),
                ),
                *(_mean(stretch, symptom, words) for symptom in symptoms),
            )
        )
    share = 0.5 / max(len(symptoms), 1)
    return [
        Heading(text=words("annex.periods_heading"), level=2),
        Table(
            caption=words("annex.periods_caption"),
            header=(
                *words.many("annex.periods_header"),
                *(words.get(f"symptoms.{symptom}", symptom) for symptom in symptoms),
            ),
            rows=tuple(rows),
            widths=(0.2, 0.065, 0.155, 0.08, *(share for _ in symptoms)),
            small=True,
        ),
    ]


def _mean(days: Sequence[DayValue], symptom: str, words: Words) -> str:
    values = [day.values[symptom] for day in days if symptom in day.values]
    return words.number(fmean(values) if values else None)


def _doses(stories: Sequence[Story], words: Words) -> list[Block]:
    doses = sorted(
        ((dose, story) for story in stories for dose in story.result.doses),
        key=lambda item: item[0].date,
    )
    rows = tuple(
        (
            words.dated(dose.date),
            words("format.none") if dose.time is None else f"{dose.time:%H:%M}",
            _name(story, words),
            str(dose.cycle),
            str(dose.step),
            food_in_words(dose.food, words),
            words.grams(dose.portion_g, unit="").strip(),
            words.grams(dose.planned_g),
            words("annex.not_eaten") if dose.eaten_g is None else words.grams(dose.eaten_g),
        )
        for dose, story in doses
    )
    if not rows:
        return []
    return [
        Heading(text=words("annex.doses_heading"), level=2),
        Table(
            caption=words("annex.doses_caption"),
            header=words.many("annex.doses_header"),
            rows=rows,
            widths=(0.12, 0.07, 0.15, 0.06, 0.06, 0.24, 0.1, 0.1, 0.1),
            small=True,
        ),
    ]


def _left_out(stories: Sequence[Story], words: Words) -> list[Block]:
    by_day: dict[tuple[dt.date, str], list[str]] = {}
    for story in stories:
        for left in story.result.days_left_out:
            by_day.setdefault((left.date, words.tell(left.reason)), []).append(_name(story, words))
    heading = Heading(text=words("annex.left_out_heading"), level=2)
    if not by_day:
        return [heading, Paragraph(text=words("annex.left_out_none"))]
    rows = tuple(
        (words.dated(date), words.join(names), reason)
        for (date, reason), names in sorted(by_day.items())
    )
    return [
        heading,
        Table(
            caption=words("annex.left_out_caption"),
            header=words.many("annex.left_out_header"),
            rows=rows,
            widths=(0.12, 0.25, 0.63),
            small=True,
        ),
    ]


def _stops(stories: Sequence[Story], words: Words) -> list[Block]:
    items = tuple(
        words(
            "annex.stop",
            group=_name(story, words),
            text=words.tell(stop.words),
        )
        for story in stories
        for stop in story.result.stops
    )
    heading = Heading(text=words("annex.harms_heading"), level=2)
    if not items:
        return [heading, Paragraph(text=words("annex.harms_none"))]
    return [heading, Bullets(items=items)]


def _decisions(decisions: Iterable[Decision], words: Words) -> list[Block]:
    rows = tuple(
        (
            words.dated(decision.when.date()),
            words(f"groups.{decision.fodmap_group}"),
            words(f"outcomes.{decision.outcome}"),
            words.grams(decision.suggested_g),
            words.grams(decision.decided_g),
            decision.reason,
            decision.by,
        )
        for decision in decisions
    )
    if not rows:
        return []
    return [
        Heading(text=words("annex.decisions_heading"), level=2),
        Table(
            caption=words("annex.decisions_caption"),
            header=words.many("annex.decisions_header"),
            rows=rows,
            widths=(0.12, 0.14, 0.12, 0.11, 0.11, 0.32, 0.08),
            small=True,
        ),
    ]
