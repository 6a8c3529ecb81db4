"""The letter to the doctor: the numbers on one page, everything behind them in an annex."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from challenge.analysis.decision import Decision, all_decided
from challenge.analysis.result import Analysis, StepResult
from challenge.letter.annex import build_annex
from challenge.letter.blinded import doctor_paragraphs
from challenge.letter.content import Block, Letter, Paragraph, Table
from challenge.letter.frame import frame
from challenge.letter.people import Background, Recipient, Sender
from challenge.letter.story import Story, tell
from challenge.wording import Statement, Words


def build_doctor_letter(
    analysis: Analysis,
    *,
    decisions: Iterable[Decision] = (),
    date: dt.date,
    words: Words,
    sender: Sender,
    recipient: Recipient,
    background: Background,
    picture_alts: dict[str, str] | None = None,
    held: Mapping[str, Statement] | None = None,
) -> Letter:
    """Say what the letter to the doctor says.

    Parameters
    ----------
    analysis
        The result.
    decisions
        The dietitian's decisions, oldest first; a group without a current one makes it a draft.
    date
        Date of the letter.
    words
        The language.
    sender, recipient
        Practice and doctor; ``recipient.about`` names the client.
    background
        What is on record from before the challenges.
    picture_alts
        Alternative texts of the pictures ``timeline`` and ``small_multiples``; one that is absent
        is left out.
    held
        Groups that screening holds up, with the reason.

    Returns
    -------
    Letter
        One page and an annex, ready for a renderer.
    """
    decisions = tuple(decisions)
    stories = tell(analysis, decisions, held or {})
    blocks: list[Block] = [
        _reason(background, words),
        _result(stories, words),
        _requests(background, words),
    ]
    if held:
        blocks.append(
            Paragraph(
                lead=words("doctor.held_lead"),
                text=" ".join(
                    words("doctor.held", group=words(f"groups.{group}"), why=words.tell(why))
                    for group, why in held.items()
                ),
            )
        )
    if stories:
        blocks.append(_table(stories, analysis, words))
    blocks += _quality(stories, analysis, background, words)
    reference = [words("doctor.about", name=recipient.about)] if recipient.about else []
    return frame(
        kind="doctor",
        client=analysis.client,
        title=words("doctor.title"),
        reference=reference,
        salutation=(
            words("doctor.salutation", name=recipient.name)
            if recipient.name
            else words("doctor.salutation_no_name")
        ),
        blocks=blocks,
        annex=build_annex(
            analysis, stories, decisions, background, words, picture_alts or {}
        ),
        draft=not all_decided(analysis, decisions),
        date=date,
        sender=sender,
        recipient=recipient,
        words=words,
    )  # fmt: skip


def step_name(story: Story, step: int, words: Words) -> str:
    """Name a step by its grams, step 0 as "none"."""
    if step == 0:
        return words("doctor.step_none")
    found: StepResult | None = next((s for s in story.result.steps if s.step == step), None)
    return words.grams(found.fodmap_g) if found else words("doctor.step", step=step)


def _reason(background: Background, words: Words) -> Paragraph:
    parts = [background.reason, background.diagnosis, background.restriction]
    text = " ".join(part for part in parts if part) or words("doctor.not_recorded")
    return Paragraph(lead=words("doctor.reason_lead"), text=text)


def _result(stories: Sequence[Story], words: Words) -> Paragraph:
    groups = [story for story in stories if not story.is_control]
    said = []
    for verdict in ("all", "some", "none", "unclear", "held"):
        names = [
            words("doctor.group_at", group=_name(story, words), grams=words.grams(story.grams))
            if verdict in ("all", "some")
            else _name(story, words)
            for story in groups
            if story.verdict == verdict
        ]
        if names:
            said.append(words(f"doctor.result.{verdict}", groups=words.join(names)))
    if not said:
        said.append(words("doctor.nothing"))
    else:
        said.append(_who_decided(groups, words))
    return Paragraph(lead=words("doctor.result_lead"), text=" ".join(said))


def _who_decided(groups: Sequence[Story], words: Words) -> str:
    open_groups = [_name(story, words) for story in groups if story.decision is None]
    if len(open_groups) == len(groups):
        return words("doctor.undecided_all")
    if open_groups:
        return words("doctor.undecided", groups=words.join(open_groups))
    overridden = [
        _name(story, words) for story in groups if story.decision and story.decision.is_override
    ]
    if overridden:
        return words("doctor.decided_otherwise", groups=words.join(overridden))
    return words("doctor.decided")


def _requests(background: Background, words: Words) -> Paragraph:
    requests = list(background.requests)
    if not background.coeliac:
        requests.append(words("doctor.request_coeliac"))
    if not background.alarm:
        requests.append(words("doctor.request_alarm"))
    if not requests:
        requests.append(words("doctor.request_none"))
    return Paragraph(lead=words("doctor.requests_lead"), text=" ".join(requests))


def _name(story: Story, words: Words) -> str:
    return words(f"groups.{story.result.fodmap_group}")


def _table(stories: Sequence[Story], analysis: Analysis, words: Words) -> Table:
    confidence = words.percent(analysis.settings["confidence"])
    symptom = analysis.primary_symptom
    return Table(
        caption=words(
            "doctor.table_caption",
            symptom=words.get(f"symptoms.{symptom}", symptom),
            confidence=confidence,
        ),
        header=words.many("doctor.table_header"),
        rows=tuple(_row(story, symptom, words) for story in stories),
        widths=(0.1, 0.135, 0.085, 0.105, 0.15, 0.115, 0.165, 0.145),
        small=True,
    )


def _row(story: Story, symptom: str, words: Words) -> tuple[str, ...]:
    test = story.overall(symptom)
    grams = ", ".join(
        words.grams(step.fodmap_g).split("\u00a0")[0] for step in story.result.steps if step.n_days
    )
    tested = words(
        "doctor.tested",
        grams=f"{grams}\u00a0g" if grams else words("format.none"),
        dates=story.when(words),
    )
    probability = "; ".join(
        f"{step_name(story, step, words)}:\u00a0{words.percent(share)}"
        for step, share in sorted(story.result.probability.items())
    )
    return (
        _name(story, words),
        tested,
        words(
            "doctor.days",
            used=len({pair.challenge_date for pair in story.result.pairs}),
            left_out=len({left.date for left in story.result.days_left_out}),
        ),
        words(
            "doctor.means",
            baseline=words.number(test.baseline_mean if test else None),
            challenge=words.number(test.challenge_mean if test else None),
        ),
        words(
            "doctor.difference",
            difference=words.number(test.difference if test else None, sign=True),
            interval=words.interval(test.low, test.high) if test else words("format.none"),
        ),
        words(
            "doctor.pvalues",
            pvalue=words.pvalue(test.pvalue if test else None),
            least=words.pvalue(test.min_pvalue if test else None),
        ),
        probability or words("format.none"),
        verdict_in_words(story, words),
    )


def verdict_in_words(story: Story, words: Words) -> str:
    """Say what holds of a group, and whether it is decided or only suggested."""
    text = words(f"doctor.verdict.{story.verdict}", grams=words.grams(story.grams))
    if story.decision is not None:
        mark = "doctor.by_override" if story.decision.is_override else "doctor.by"
        return f"{text} {words(mark, by=story.decision.by)}"
    if story.is_control:
        return text
    return f"{text} {words('doctor.outdated' if story.outdated else 'doctor.suggested')}"


def _quality(
    stories: Sequence[Story], analysis: Analysis, background: Background, words: Words
) -> list[Block]:
    control = next((story for story in stories if story.is_control), None)
    control_text = words(
        f"doctor.control.{control.verdict if control else 'absent'}",
        grams=words.grams(control.grams if control else None),
    )
    complete = words(
        "doctor.completeness",
        all=words.percent(analysis.completeness.get("all")),
        challenge=words.percent(analysis.completeness.get("challenge")),
    )
    not_recorded = words("doctor.not_recorded")
    said: list[Block] = [
        *doctor_paragraphs(analysis, words),
        Paragraph(lead=words("doctor.control_lead"), text=f"{control_text} {complete}"),
        Paragraph(
            lead=words("doctor.screening_lead"),
            text=words(
                "doctor.screening",
                alarm=background.alarm or not_recorded,
                coeliac=background.coeliac or not_recorded,
            ),
        ),
        Paragraph(lead=words("doctor.limits_lead"), text=words("doctor.limits")),
    ]
    if analysis.cautions:
        said.insert(
            0,
            Paragraph(
                lead=words("doctor.cautions_lead"),
                text=" ".join(words.tell(caution) for caution in analysis.cautions),
            ),
        )
    return said
