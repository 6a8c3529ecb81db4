"""Words in a diary that belong before a doctor. They lead to no advice of ours."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from challenge.protocol.record import Event, Record

if TYPE_CHECKING:
    from challenge.protocol.settings import DoctorAsked

DIARY_ALARM: Final = "diary-alarm"
"""What a doctor is asked about when the diary itself says something alarming."""

# NICE CG61; Lacy & Patel 2017, PMC5704116; night-time symptoms PMC8473929; vomiting, fever,
# jaundice, severe pain, allergic reactions and every word in another language than English: from
# memory. A word too many costs a telephone call; a word too few may cost more.
_PATTERNS: Final[dict[str, str]] = {
    "blood": r"blood\w*|bleed\w*|bled|tarry|black stools?|blut\w*"
    r"|saign\w*|sang|sangr\w+|krew|krwaw\w*",
    "weight loss": r"(?:lost|losing|loss of|lose) (?:\w+ ){0,3}(?:weight|kilos?|kg|pounds?|stone)"
    r"|weight loss|gewichtsverlust|perte de poids|pérdida de peso|utrata wagi",
    "fever": r"fever\w*|high temperature|fieber|fièvre|fiebre|gorączk\w*",
    "vomiting": r"vomit\w*|threw up|throwing up|erbrech\w*|erbrochen|vomi\w*|wymiot\w*",
    "woken at night": r"(?:woke|woken|wakes|waking)(?: me)?(?: up)?(?: \w+){0,3} "
    r"(?:at night|in the night|by pain|with pain|from pain)",
    "severe pain": r"(?:severe|unbearable|worst|excruciating|agonising) (?:\w+ ){0,2}"
    r"(?:pain|cramps?)"
    r"|(?:pain|cramps?) (?:is|was|are|were) (?:severe|unbearable|excruciating)",
    "jaundice": r"jaundice\w*|yellow (?:eyes|skin)",
    "a lump": r"(?:lump|mass) in (?:my |the )?(?:belly|abdomen|stomach|tummy)",
    "allergic reaction": r"anaphyla\w*|swollen (?:lips?|tongue|throat|face)|hives"
    r"|(?:lips?|tongue|throat|face) (?:is |are |was |were )?(?:swelling|swelled|swollen)"
    r"|(?:trouble|difficulty|hard|short of)(?: to)? breath\w*|can(?:not|'t) breathe|wheez\w*",
    "fainting": r"faint(?:ed|ing)?|passed out|collapsed|ohnmacht|ohnmächtig",
}
_ALARM: Final = re.compile(
    "|".join(f"(?P<p{i}>\\b(?:{pattern})\\b)" for i, pattern in enumerate(_PATTERNS.values())),
    re.IGNORECASE,
)
_NAMES: Final = tuple(_PATTERNS)
_DENIED: Final = re.compile(
    r"\b(?:no|not|never|without|kein|keine|ohne|sans|pas de|sin|bez|nie)(?: any| a| more)?\s*$",
    re.IGNORECASE,
)
# a measured blood value or a blood test is no bleeding
_HARMLESS: Final = re.compile(
    r"^\s*(?:test|sugar|pressure|orange|count|taken|sample)|^(?:druck|zucker)", re.IGNORECASE
)
URGENT: Final = frozenset({"allergic reaction", "fainting"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Alarm:
    """Words that belong before a doctor.

    Attributes
    ----------
    date
        Day on which they were written down.
    sign
        What they may mean, in one or two words.
    text
        The words as written.
    file
        Where they stand.
    """

    date: dt.date
    sign: str
    text: str
    file: str

    @property
    def urgent(self) -> bool:
        """It cannot wait for an appointment."""
        return self.sign in URGENT

    @property
    def key(self) -> str:
        """Short digest of day and words, by which a doctor's answer says what it was about."""
        return hashlib.sha256(f"{self.date} {self.text}".encode()).hexdigest()[:12]


def find_sign(text: str) -> str | None:
    """Return which alarm feature a text mentions, or None.

    A sign that is denied right before it (``no blood``) is none. Anything else counts: the text
    is not understood, only searched.
    """
    for found in _ALARM.finditer(text):
        if _DENIED.search(text[: found.start()]) or _HARMLESS.search(text[found.end() :]):
            continue
        place = next(i for i in range(len(_NAMES)) if found[f"p{i}"] is not None)
        return _NAMES[place]
    return None


def alarms(record: Record, today: dt.date, asked: Sequence[DoctorAsked] = ()) -> tuple[Alarm, ...]:
    """Return the alarms of a diary up to today that no doctor has answered yet.

    An answer settles what stood in the diary when it was written down, and nothing that is
    written later, be it of the same day or of an earlier one.

    Parameters
    ----------
    record
        The diary.
    today
        Last day that counts.
    asked
        What doctors have answered; only answers on alarms in the diary are looked at. One that
        does not say which alarms it is about settles those up to its day.
    """
    answers = [answer for answer in asked if answer.condition == DIARY_ALARM]
    texts = [(words.date, words.text, words.file) for words in record.words]
    texts += [(event.start, _told(event), "events.csv") for event in record.events]
    found = []
    for date, text, file in sorted(texts):
        sign = find_sign(text) if date <= today else None
        if sign is None:
            continue
        alarm = Alarm(date=date, sign=sign, text=text, file=file)
        if not any(_settles(answer, alarm) for answer in answers):
            found.append(alarm)
    return tuple(found)


def _told(event: Event) -> str:
    """Return an event in the client's words; ``other`` is the program's word for a bare note."""
    if event.event == "other" and event.note:
        return event.note
    return f"{event.event}: {event.note}".rstrip(": ")


def _settles(answer: DoctorAsked, alarm: Alarm) -> bool:
    if answer.about is None:
        return alarm.date <= answer.on
    return alarm.key in answer.about
