"""A language as data: sentences with named gaps, looked up by a dotted key."""

from __future__ import annotations

import datetime as dt
import string
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any

from challenge.errors import ChallengeError
from challenge.wording.statements import Statement

NO_BREAK = "\u00a0"
MINUS = "\u2212"


@dataclass(frozen=True)
class Words:
    """One language.

    Attributes
    ----------
    language
        Its code, such as ``en``.
    table
        The parsed language file.
    """

    language: str
    table: Mapping[str, Any] = field(repr=False)

    def _look_up(self, key: str) -> Any:
        found: Any = self.table
        for part in key.split("."):
            found = found[part]
        return found

    def __call__(self, key: str, **values: object) -> str:
        """Return the sentence at a dotted key with its gaps filled.

        Raises
        ------
        KeyError
            If the language file has no such sentence, or a gap is not given.
        """
        return str(self._look_up(key)).format(**values)

    def get(self, key: str, default: str) -> str:
        """Return the word at a dotted key, or the default where the file has none."""
        try:
            return str(self._look_up(key))
        except KeyError:
            return default

    def many(self, key: str, **values: object) -> tuple[str, ...]:
        """Return a list of sentences."""
        return tuple(str(item).format(**values) for item in self._look_up(key))

    def tell(self, statement: Statement) -> str:
        """Word a statement; every gap of its sentence names the form of its value (`_Filling`).

        Raises
        ------
        KeyError
            If the language file has no such sentence, or a gap is not given.
        """
        template = str(self.table["said"][statement.code])
        return _Filling(self).vformat(template, (), statement.values)

    # Numbers: this is the one place where a figure, a letter or a table rounds.

    def number(self, value: float | None, digits: int = 1, *, sign: bool = False) -> str:
        """Write a number with the language's decimal mark and a true minus; None as a dash."""
        if value is None:
            return self("format.none")
        text = f"{value:+.{digits}f}" if sign else f"{value:.{digits}f}"
        if not text.strip("+-0."):  # neither "-0.0" nor "+0.0"
            text = text.lstrip("+-")
        return text.replace("-", MINUS).replace(".", self("format.decimal"))

    def short(self, value: float) -> str:
        """Write a setting, such as the margin, with the digits that it was given with."""
        return f"{value:g}".replace("-", MINUS).replace(".", self("format.decimal"))

    def grams(self, value: float | None, unit: str = "g") -> str:
        """Write grams (or millilitres) with at most two digits after the mark, none for nothing."""
        if value is None:
            return self("format.none")
        digits = 0 if value >= 20 else 1 if value >= 1 else 2
        text = f"{value:.{digits}f}"
        if "." in text:
            text = text.rstrip("0").rstrip(".")
        return f"{text.replace('.', self('format.decimal'))}{NO_BREAK}{unit}"

    def percent(self, share: float | None) -> str:
        """Write a share as a whole percentage; never a plain 0 or 100 for what is only near it."""
        if share is None:
            return self("format.none")
        if 0 < share < 0.005:
            return self("format.under_percent", value=1)
        if 0.995 <= share < 1:
            return self("format.over_percent", value=99)
        return self("format.percent", value=f"{100 * share:.0f}")

    def pvalue(self, value: float | None) -> str:
        """Write a p-value with three digits, never as nought."""
        if value is None:
            return self("format.none")
        if value < 0.001:
            return "<" + NO_BREAK + self.number(0.001, 3)
        return self.number(value, 3)

    def interval(self, low: float | None, high: float | None, digits: int = 1) -> str:
        """Write an interval; a dash where there is none."""
        if low is None or high is None:
            return self("format.none")
        return self(
            "format.interval",
            low=self.number(low, digits, sign=True),
            high=self.number(high, digits, sign=True),
        )

    def date(self, day: dt.date) -> str:
        """Write a date in full."""
        month = self.many("format.months")[day.month - 1]
        return self("format.date", day=day.day, month=month, year=day.year)

    def short_date(self, day: dt.date) -> str:
        """Write day and month, for tables and axes that name the year elsewhere."""
        month = self.many("format.months_short")[day.month - 1]
        return self("format.short_date", day=day.day, month=month)

    def dated(self, day: dt.date) -> str:
        """Write day, month in short and year, for records that may reach over years."""
        return self("format.dated", day=self.short_date(day), year=day.year)

    def span(self, first: dt.date, last: dt.date) -> str:
        """Write a stretch of days, as short as it can be without doubt."""
        if first == last:
            return self.short_date(first)
        if (first.year, first.month) == (last.year, last.month):
            month = self.many("format.months_short")[first.month - 1]
            return self("format.span_in_month", first=first.day, last=last.day, month=month)
        write = self.short_date if first.year == last.year else self.dated
        return self("format.span", first=write(first), last=write(last))

    def condition(self, code: str) -> str:
        """Name an answer of the screening; what stands behind a colon was typed and stays."""
        name, colon, typed = code.partition(": ")
        return self.get(f"conditions.{name}", name) + colon + typed

    def join(self, items: list[str] | tuple[str, ...]) -> str:
        """Join words as a sentence does: a, b and c."""
        if len(items) < 2:
            return "".join(items)
        return self("format.and", first=", ".join(items[:-1]), last=items[-1])


class _Filling(string.Formatter):
    """Fills ``{gap:form}``: the form says how the language writes the value.

    Forms: ``points`` (score points), ``signed`` (the same with its sign), ``fine`` (two digits),
    ``short`` (a setting, as many digits as it has), ``percent``, ``pvalue``, ``grams``, ``date``,
    ``list`` (of statements), ``days`` and ``pairs`` (counts with their noun), and the names of
    ``symptom``, ``event``, ``outcome`` and ``condition``; ``groups`` and ``dates`` are several.
    Whole numbers and text need none.
    """

    def __init__(self, words: Words) -> None:
        self.words = words

    def format_field(self, value: Any, format_spec: str) -> str:
        words, form = self.words, format_spec
        if isinstance(value, Statement):
            return words.tell(value)
        if form == "list":
            return "; ".join(words.tell(item) for item in value)
        if form in ("days", "pairs"):
            return words(f"counts.{form}.{'one' if value == 1 else 'many'}", n=value)
        if form in ("symptom", "event", "outcome", "group"):
            # what clients or practices name themselves has no word in the file
            return words.get(f"{form}s.{value}", str(value))
        if form == "groups":
            return words.join([words.get(f"groups.{name}", str(name)) for name in value])
        if form == "dates":
            return words.join([words.dated(date) for date in value])
        writers: dict[str, Callable[[Any], str]] = {
            "points": words.number,
            "signed": lambda number: words.number(number, sign=True),
            "fine": lambda number: words.number(number, 2),
            "short": words.short,
            "percent": words.percent,
            "pvalue": words.pvalue,
            "grams": words.grams,
            "date": words.dated,
            "condition": words.condition,
        }
        return writers[form](value) if form else str(value)


def languages() -> tuple[str, ...]:
    """Return the codes of the languages there are, English first."""
    folder = resources.files("challenge.wording")
    codes = sorted(item.name[:-5] for item in folder.iterdir() if item.name.endswith(".toml"))
    return tuple(sorted(codes, key=lambda code: code != "en"))


@cache
def load_words(language: str = "en") -> Words:
    """Load one language.

    Raises
    ------
    ChallengeError
        If there is no such language.
    """
    if language not in languages():
        raise ChallengeError(
            f"There is no wording for language {language!r}. Choose one of: "
            f"{', '.join(languages())}."
        )
    text = (resources.files("challenge.wording") / f"{language}.toml").read_text("utf-8")
    return Words(language, tomllib.loads(text))
