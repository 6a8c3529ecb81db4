"""What tests of the conversation start from: a day, its plan, and answers given one by one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from challenge.logbook.conversation import Conversation
from challenge.logbook.entries import Dose
from challenge.logbook.questions import Known, Today
from challenge.logbook.written import Written, written_on

DAY = dt.date(2026, 3, 9)
NOW = dt.datetime(2026, 3, 9, 19, 10)
SYMPTOMS = ("pain", "bloating")
MILK = Dose(
    food="cow's milk",
    portion_g=120.0,
    unit="mL",
    fodmap_group="lactose",
    fodmap_g=6.0,
    words="120 mL cow's milk",
)
SACHET = Dose(
    food="sachet A2", portion_g=None, unit="g", fodmap_group=None, fodmap_g=None, words="sachet A2"
)


def talk(
    now: dt.datetime = NOW,
    date: dt.date = DAY,
    dose: Dose | None = MILK,
    written: Written | None = None,
    wanted: int = 3,
    zone: str = "",
    one_key: bool = False,
) -> Conversation:
    return Conversation(
        Known(
            date=date,
            now=now,
            symptoms=SYMPTOMS,
            wanted=wanted,
            written=written if written is not None else Written(),
            today=lambda: Today(lines=("The plan.",), dose=dose),
            zone=zone,
            one_key=one_key,
        )
    )


def answer(conversation: Conversation, *texts: str) -> Conversation:
    """Give answers; every one of them has to be taken."""
    for text in texts:
        question = conversation.question
        assert question is not None, text
        complaint = conversation.answer(text)
        assert not complaint, (question.text, text, complaint)
    return conversation


def asked(conversation: Conversation) -> str:
    assert conversation.question is not None
    return conversation.question.text


def of(foods: Sequence[tuple[str, ...]] = (), symptoms: Sequence[tuple[str, ...]] = ()) -> Written:
    return written_on(foods, symptoms, DAY, SYMPTOMS)
