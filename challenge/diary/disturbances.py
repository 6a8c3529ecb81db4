"""What disturbs a day: which logged events leave days out of the analysis, which only mark them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """How one kind of disturbance is handled.

    Attributes
    ----------
    name
        What it is called in results.
    words
        Parts of words by which an entry is recognised.
    leaves_out
        Whether its days are left out; otherwise they are only marked.
    days_after
        Days after its end that are handled alike.
    source
        Where the rule comes from: V read in the published text, CP common practice.
    """

    name: str
    words: tuple[str, ...] = ()
    leaves_out: bool = False
    days_after: int = 0
    source: str = "CP"


KINDS: Final = (
    Kind(name="heavy drinking", words=("heavy drinking", "heavy alcohol", "drunk", "hangover"),
         leaves_out=True, days_after=1,
         source="4 drinks or more: next-day diarrhoea, nausea, pain, odds ratios 2.0-2.4 (V)"),
    Kind(name="alcohol", words=("alcohol", "alkohol", "drinking"), days_after=1,
         source="light drinking changed bowel symptoms little or not at all (V)"),
    Kind(name="illness", leaves_out=True, source="CP",
         words=("illness", "ill", "sick", "fever", "sickness", "gastroenteritis", "stomach bug",
                "infection", "krank", "krankheit", "fieber")),
    Kind(name="antibiotics", words=("antibiotic", "antibiotik"), leaves_out=True,
         source="trials exclude four weeks around antibiotics (V); the logged days: CP"),
    Kind(name="menstruation", words=("menstruation", "menses", "period", "periods", "regel"),
         source="pain, bloating, looser stools (V: PMC4527267, PMC7883586)"),
    Kind(name="stress", words=("stress",),
         source="one point of stress, 0.10 points of pain in the same moment (V: PMC7386351)"),
    Kind(name="travel", words=("travel", "travelling", "reise"), source="CP"),
    Kind(name="poor sleep", words=("sleep", "schlaf"), source="V: PMC6162819"),
    Kind(name="new medicine", words=("medicine", "medication", "medikament", "drug"),
         source="named as uncontrolled confounders (V: PMC4527267)"),
)  # fmt: skip
"""The first kind that fits an entry counts; anything else only marks the day, in its own words.

Alcohol only marks its day and the next unless the entry says that it was heavy (four drinks or
more): nothing is published against a day with less.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Disturbances:
    """Days by what happened on them.

    Attributes
    ----------
    left_out
        Date -> reason in words.
    marked
        Date -> what is noted about the day.
    """

    left_out: dict[dt.date, str] = field(default_factory=dict)
    marked: dict[dt.date, tuple[str, ...]] = field(default_factory=dict)


def kind_of(event: str) -> Kind:
    """Return how an entry is handled."""
    text = " ".join(event.casefold().replace(",", " ").split())
    written = text.split()
    for kind in KINDS:
        if any(all(_stands_in(part, written) for part in w.split()) for w in kind.words):
            return kind
    return Kind(name=text or "other")


def _stands_in(word: str, written: list[str]) -> bool:
    # long words may have endings; short ones must stand alone: "ill" is not in "chilli"
    return any(w == word or (len(word) >= 7 and w.startswith(word)) for w in written)


def disturbances(events: pd.DataFrame, first: dt.date, last: dt.date) -> Disturbances:
    """Sort the days of a period by the events logged.

    Parameters
    ----------
    events
        ``Diary.events``.
    first, last
        First and last day of the period; days outside are not looked at.
    """
    found = Disturbances()
    starts = events["start"].to_numpy().astype("datetime64[D]")
    ends = events["end"].to_numpy().astype("datetime64[D]")
    for start, end, event in sorted(zip(starts, ends, events["event"].tolist(), strict=True)):
        if start != start:  # no date, no day
            continue
        kind = kind_of(str(event))
        day = max(start.item(), first)
        closing = (start if end != end else end).item() + dt.timedelta(days=kind.days_after)
        while day <= min(closing, last):
            if kind.leaves_out:
                found.left_out.setdefault(day, kind.name)
            else:
                marks = found.marked.get(day, ())
                if kind.name not in marks:
                    found.marked[day] = (*marks, kind.name)
            day += dt.timedelta(days=1)
    return found
