"""What disturbs a day: which logged events leave days out of the analysis, which only mark them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from challenge.diary.headers import plain

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """How one kind of disturbance is handled.

    Attributes
    ----------
    name
        What it is called in results; with hyphens for spaces, its name in ``client.toml``.
    words
        Words by which an entry is recognised, English, German, French, Spanish and Polish; of
        several words all must be there.
    leaves_out
        Whether its days are left out; otherwise they are only marked. A dose eaten on a day left
        out tells nothing, so none is laid on it.
    days_before, days_after
        Days before its start and after its end that are handled alike.
    hold_days
        Days after its end on which no challenge starts; None when it holds none up beyond the
        days that it leaves out. A dose eaten on them all the same counts.
    source
        Where the rule comes from: V read in the published text, CP common practice.
    """

    name: str
    words: tuple[str, ...] = ()
    leaves_out: bool = False
    days_before: int = 0
    days_after: int = 0
    hold_days: int | None = None
    source: str = "CP"

    @property
    def key(self) -> str:
        """Name in ``client.toml``."""
        return self.name.replace(" ", "-")


KINDS: Final = (
    Kind(name="heavy drinking", leaves_out=True, days_after=1,
         words=("heavy drinking", "heavy alcohol", "drunk", "hangover", "betrunken", "kater",
                "gueule de bois", "resaca", "kac", "viel alkohol", "beaucoup alcool",
                "mucho alcohol", "duzo alkoholu"),
         source="4 drinks or more: next-day diarrhoea, nausea, pain, odds ratios 2.0-2.4 (V)"),
    Kind(name="alcohol", days_after=1,
         words=("alcohol", "alkohol", "alkoholu", "alcool", "drinking", "wine", "beer"),
         source="light drinking changed bowel symptoms little or not at all (V)"),
    Kind(name="antibiotics", leaves_out=True, hold_days=28,
         words=("antibiotic", "antibiotik", "antibiotique", "antibiotico", "antybiotyk"),
         source="trials exclude four weeks around antibiotics (V); the logged days: CP"),
    Kind(name="illness", leaves_out=True, hold_days=7,
         words=("illness", "ill", "sick", "fever", "sickness", "gastroenteritis", "stomach bug",
                "infection", "flu", "influenza", "norovirus", "covid", "krank", "krankheit",
                "fieber", "grippe", "infekt", "maladie", "malade", "fievre", "gastro",
                "enfermedad", "enfermo", "enferma", "fiebre", "gripe", "infeccion", "choroba",
                "chory", "chora", "goraczka", "grypa", "infekcja"),
         source="after acute gastroenteritis or fever, free of symptoms for a week first (CP)"),
    Kind(name="menstruation",
         words=("menstruation", "menses", "period", "periods", "regel", "periode", "regles",
                "menstruacion", "regla", "miesiaczka", "menstruacja", "okres"),
         source="pain, bloating, looser stools (V: PMC4527267, PMC7883586)"),
    Kind(name="stress", words=("stress", "estres", "stres"),
         source="one point of stress, 0.10 points of pain in the same moment (V: PMC7386351)"),
    Kind(name="travel",
         words=("travel", "travelling", "reise", "voyage", "viaje", "podroz"), source="CP"),
    Kind(name="poor sleep", words=("sleep", "schlaf", "sommeil", "sueno", "sen"),
         source="V: PMC6162819"),
    Kind(name="new medicine",
         words=("medicine", "medication", "medikament", "drug", "medicament", "medicamento",
                "lek", "leki"),
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


def kind_of(event: str, kinds: Sequence[Kind] = KINDS) -> Kind:
    """Return how an entry is handled: the first kind that it names, else one of its own."""
    written = plain(event).split()
    for kind in kinds:
        if kind.words and speaks_of(event, kind):
            return kind
    other = next((kind for kind in kinds if kind.name == "other"), Kind(name="other"))
    name = " ".join(event.casefold().replace(",", " ").split()) if written else ""
    return Kind(
        name=name or "other",
        leaves_out=other.leaves_out,
        days_before=other.days_before,
        days_after=other.days_after,
        hold_days=other.hold_days,
        source=other.source,
    )


def speaks_of(text: str, kind: Kind) -> bool:
    """Tell whether a text names a kind of disturbance."""
    written = plain(text).split()
    return any(all(_stands_in(w, written) for w in plain(words).split()) for words in kind.words)


def _stands_in(word: str, written: list[str]) -> bool:
    # long words may have endings; short ones must stand alone: "ill" is not in "chilli"
    return any(w == word or (len(word) >= 7 and w.startswith(word)) for w in written)


def days_touched(start: dt.date, end: dt.date, kind: Kind) -> tuple[dt.date, dt.date]:
    """Return the first and the last day that an entry leaves out or marks."""
    return start - dt.timedelta(days=kind.days_before), end + dt.timedelta(days=kind.days_after)


def disturbances(
    events: pd.DataFrame, first: dt.date, last: dt.date, kinds: Sequence[Kind] = KINDS
) -> Disturbances:
    """Sort the days of a period by the events logged.

    Parameters
    ----------
    events
        ``Diary.events``.
    first, last
        First and last day of the period; days outside are not looked at.
    kinds
        How the kinds of events are handled.
    """
    found = Disturbances()
    starts = events["start"].to_numpy().astype("datetime64[D]")
    ends = events["end"].to_numpy().astype("datetime64[D]")
    for start, end, event in sorted(zip(starts, ends, events["event"].tolist(), strict=True)):
        if start != start:  # no date, no day
            continue
        kind = kind_of(str(event), kinds)
        opening, closing = days_touched(start.item(), (start if end != end else end).item(), kind)
        day = max(opening, first)
        while day <= min(closing, last):
            if kind.leaves_out:
                found.left_out.setdefault(day, kind.name)
            else:
                marks = found.marked.get(day, ())
                if kind.name not in marks:
                    found.marked[day] = (*marks, kind.name)
            day += dt.timedelta(days=1)
    return found
