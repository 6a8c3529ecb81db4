"""The letter to the client: plain words, household measures, what to do next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from challenge.analysis.decision import Decision, all_decided
from challenge.analysis.result import Analysis
from challenge.letter.blinded import client_paragraphs
from challenge.letter.certainty import (
    certainty,
    how_sure,
    largest_suits,
    more_may_suit,
    odds,
    stop_is_unexplained,
)
from challenge.letter.content import Block, Bullets, Heading, Letter, Paragraph, Picture, Table
from challenge.letter.frame import frame
from challenge.letter.people import Recipient, Sender
from challenge.letter.story import Story, months_later, portion, tell
from challenge.terms import CONTROL
from challenge.wording import Statement, Words

_LOST_DAYS = {"few-reference-days", "few-scores", "decisive-day-left-out"}
_KINDS = {"unsettled": "unsettled", "only-up-to": "more"}


def build_client_letter(
    analysis: Analysis,
    *,
    decisions: Iterable[Decision] = (),
    date: dt.date,
    words: Words,
    sender: Sender,
    recipient: Recipient,
    picture_alt: str | None = None,
    held: Mapping[str, Statement] | None = None,
) -> Letter:
    """Say what the letter to the client says.

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
        Practice and client.
    picture_alt
        Alternative text of the picture named ``small_multiples``; None leaves the picture out.
    held
        Groups that screening holds up, with the reason.

    Returns
    -------
    Letter
        Everything it says, ready for a renderer.
    """
    decisions = tuple(decisions)
    stories = tell(analysis, decisions, held or {})
    groups = [story for story in stories if not story.is_control]
    draft = not all_decided(analysis, decisions)
    alarm = _alarm(analysis, words)
    blocks: list[Block] = [*alarm]
    blocks += _opening(groups, draft, words)
    if groups:
        blocks.append(_table(groups, words, waiting=bool(alarm)))
        if any(certainty(story) is not None for story in groups):
            blocks.append(Paragraph(text=words("client.sure_text"), lead=words("client.sure_lead")))
    blocks += _held(groups, words)
    # whoever is to wait for a doctor reads no amounts to bring back, and nothing to test again
    blocks += _bring_back(groups, words) if not alarm else []
    blocks += _leave(groups, words)
    blocks += _test_again(groups, date, words) if not alarm else []
    blocks += _still_to_come(analysis, words)
    if picture_alt is not None and groups:
        blocks.append(
            Picture(
                name="small_multiples",
                alt=picture_alt,
                caption=words("client.picture_caption"),
            )
        )
    blocks += _limits(stories, draft, words)
    blocks += client_paragraphs(analysis, words)
    blocks += _doctor(words)
    if sender.contact:
        blocks.append(Paragraph(text=words("client.contact", contact=sender.contact)))
    return frame(
        kind="client",
        client=analysis.client,
        title=words("client.title"),
        reference=(),
        salutation=(
            words("client.salutation", name=recipient.name)
            if recipient.name
            else words("client.salutation_no_name")
        ),
        blocks=blocks,
        draft=draft,
        date=date,
        sender=sender,
        recipient=recipient,
        words=words,
    )


def group_in_words(story: Story, words: Words) -> str:
    """Name a group with the foods that hold it, for someone who has never heard of it."""
    return _with_foods(story.result.fodmap_group, words)


def _with_foods(group: str, words: Words) -> str:
    return words(
        "client.group", group=words(f"groups.{group}"), foods=words(f"client.found_in.{group}")
    )


def _values_of(analysis: Analysis, code: str, name: str) -> tuple[Any, ...]:
    """Return the values of a caution; none if it was not said."""
    found = next((caution for caution in analysis.cautions if caution.code == code), None)
    values: Any = () if found is None else found.values[name]
    return tuple(values)


def _alarm(analysis: Analysis, words: Words) -> list[Block]:
    dates = [words.date(date) for date in _values_of(analysis, "diary-alarm", "dates")]
    if not dates:
        return []
    text = words("client.alarm_text", dates=words.join(dates))
    return [Paragraph(text=text, lead=words("client.alarm_lead"))]


def _still_to_come(analysis: Analysis, words: Words) -> list[Block]:
    groups = [
        _with_foods(group, words)
        for group in _values_of(analysis, "still-to-come", "groups")
        if group != CONTROL
    ]
    if not groups:
        return []
    return [Paragraph(text=words("client.still_to_come", groups=words.join(groups)))]


def _opening(groups: Sequence[Story], draft: bool, words: Words) -> list[Block]:
    if not groups:
        return [Paragraph(text=words("client.nothing"))]
    tested = sum(story.top_step() > 0 for story in groups) or len(groups)
    key = "client.opening_one" if tested == 1 else "client.opening"
    said: list[Block] = []
    if draft:
        said.append(Paragraph(text=words("client.draft_text"), lead=words("client.draft_lead")))
    said.append(Paragraph(text=words(key, n=tested)))
    said.append(Paragraph(text=words("client.who_decides")))
    return said


def _table(groups: Sequence[Story], words: Words, *, waiting: bool) -> Table:
    rows = tuple(
        (
            words(f"groups.{story.result.fodmap_group}"),
            _tested(story, words),
            _shown(story, words),
            _next(story, words, waiting=waiting),
        )
        for story in groups
    )
    return Table(
        caption=words("client.table_caption"),
        header=words.many("client.table_header"),
        rows=rows,
        widths=(0.105, 0.28, 0.38, 0.235),
    )


def _next(story: Story, words: Words, *, waiting: bool) -> str:
    if waiting and story.verdict not in ("none", "held"):
        return words("client.next.waiting")
    return words(
        f"client.next.{story.verdict}", portion=portion(story.dose(story.step or 0), words)
    )


def _tested(story: Story, words: Words) -> str:
    top = story.top_step()
    if not top:
        return words("client.not_eaten")
    return words(
        "client.tested",
        portion=portion(story.dose(top), words),
        days=story.when(words),
    )


def _shown(story: Story, words: Words) -> str:
    """Say what came out, how sure that is, and why a step lower than the likeliest is suggested."""
    chance, more, open_odds = certainty(story), more_may_suit(story), largest_suits(story)
    amount = portion(story.dose(story.step or 0), words)
    said = [words(f"client.shown.{_what_is_shown(story, chance, more)}", portion=amount)]
    # "all" with a stop has a sentence of its own, as the two would seem to contradict each other
    if story.result.stops and (story.verdict != "all" or story.overridden):
        said.append(words("client.stopped"))
    if story.verdict == "unclear" and open_odds is not None:
        said.append(words("client.largest_suits", odds=odds(open_odds, words)))
    if chance is not None and story.overridden:
        said.append(words("client.amount_suits", odds=odds(chance, words)))
    elif chance is not None:
        said.append(how_sure(chance, words))
    if more is not None:
        said.append(words("client.more_may_suit", odds=odds(more, words)))
    return " ".join(said)


def _what_is_shown(story: Story, chance: float | None, more: float | None) -> str:
    if story.verdict == "held":
        return "held"
    if story.overridden:
        return f"decided_{story.verdict}"
    if story.verdict == "all" and story.result.stops:
        return "all_stopped"
    if story.verdict == "some" and more is not None:
        return "some_largest"
    if story.verdict == "none" and chance is not None and chance < 0.5:
        return "none_maybe"
    return story.verdict


def _bring_back(groups: Sequence[Story], words: Words) -> list[Block]:
    back = [story for story in groups if story.verdict in ("all", "some")]
    if not back:
        return []
    items = [
        words(
            "client.back",
            group=group_in_words(story, words),
            portion=portion(story.dose(story.step or 0), words),
        )
        for story in back
    ]
    return [
        Heading(text=words("client.back_heading")),
        Bullets(items=tuple(items)),
        Paragraph(text=words("client.back_not_more")),
        Paragraph(text=words("client.back_how"), lead=words("client.back_how_lead")),
        Paragraph(text=words("client.back_more"), lead=words("client.back_more_lead")),
        Paragraph(text=words("client.back_other"), lead=words("client.back_other_lead")),
    ]


def _held(groups: Sequence[Story], words: Words) -> list[Block]:
    held = [story for story in groups if story.verdict == "held"]
    if not held:
        return []
    return [
        Heading(text=words("client.held_heading")),
        Bullets(items=tuple(group_in_words(story, words) for story in held)),
        Paragraph(text=words("client.held_text")),
    ]


def _leave(groups: Sequence[Story], words: Words) -> list[Block]:
    left = [story for story in groups if story.verdict == "none"]
    if not left:
        return []
    return [
        Heading(text=words("client.leave_heading")),
        Bullets(items=tuple(group_in_words(story, words) for story in left)),
        Paragraph(text=words("client.leave_text")),
    ]


def _test_again(groups: Sequence[Story], date: dt.date, words: Words) -> list[Block]:
    unclear = [story for story in groups if story.verdict == "unclear"]
    later = [story for story in groups if story.verdict in ("some", "none")]
    if not (unclear or later):
        return []
    said: list[Block] = [Heading(text=words("client.again_heading"))]
    if unclear:
        said.append(Paragraph(text=words("client.again_unclear")))
        said.append(Bullets(items=_why_unclear(unclear, words)))
    if later:
        names = [words(f"groups.{story.result.fodmap_group}") for story in later]
        first, last = months_later(date, 3), months_later(date, 6)
        months = words.many("format.months")
        said.append(
            Paragraph(
                text=words(
                    "client.again_later",
                    groups=words.join(names),
                    first=f"{months[first.month - 1]} {first.year}",
                    last=f"{months[last.month - 1]} {last.year}",
                )
            )
        )
    said.append(Paragraph(text=words("client.again_how")))
    return said


def _why_unclear(unclear: Sequence[Story], words: Words) -> tuple[str, ...]:
    """Say why, once for the groups that have it in common."""
    alike: dict[str, list[str]] = {}
    for story in unclear:
        alike.setdefault(_kind_of_unclear(story), []).append(group_in_words(story, words))
    return tuple(
        words(f"client.unclear_{kind}", group=words.join(groups)) for kind, groups in alike.items()
    )


def _kind_of_unclear(story: Story) -> str:
    if story.overridden:
        return "decided"
    # first, as a stop is also why later amounts were not eaten
    if story.result.stops:
        return "not_seen" if stop_is_unexplained(story) else "stopped"
    if any(dose.eaten_g is None for dose in story.result.doses):
        return "missed"
    codes = {why.code for why in story.result.why_unclear}
    if story.result.days_left_out or codes & _LOST_DAYS:
        return "days"
    return next((kind for code, kind in _KINDS.items() if code in codes), "scores")


def _limits(stories: Sequence[Story], draft: bool, words: Words) -> list[Block]:
    said: list[Block] = [
        Heading(text=words("client.limits_heading")),
        Paragraph(text=words("client.limits_text")),
    ]
    for story in stories:
        if story.is_control:
            said.append(Paragraph(text=words(f"client.control.{story.verdict}")))
    return said


def _doctor(words: Words) -> list[Block]:
    return [
        Heading(text=words("client.doctor_heading")),
        Paragraph(text=words("client.doctor_text")),
        Bullets(items=words.many("client.doctor_items")),
        Paragraph(text=words("client.emergency")),
        Paragraph(text=words("client.care")),
    ]
