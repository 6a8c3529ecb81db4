"""Where the entries of a diary stand, so that what is said of an entry can name file and line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from challenge.diary.model import FOOD_COLUMNS, SYMPTOM_COLUMNS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from challenge.diary.rows import Row, Rows
    from challenge.diary.scores import Scores


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """File and line of an entry, and its cells where they are at hand."""

    file: str
    line: int
    columns: Sequence[str] = ()
    row: Row = ()

    def value(self, column: str | None) -> str | None:
        """Return what stands in a column, None if nothing does."""
        cells = dict(zip(self.columns, self.row, strict=True))
        return cells.get(column or "") or None


@dataclass(frozen=True, kw_only=True, slots=True)
class Bulk:
    """Lines of the scores of a large file: time [s], symptom as a place in ``names``, line."""

    seconds: NDArray[np.int64]
    codes: NDArray[np.int64]
    lines: NDArray[np.int64]
    names: tuple[str, ...]
    file: str

    def line(self, time: str, symptom: str) -> int | None:
        """Return the line of a score, or None."""
        import numpy as np

        if symptom not in self.names:
            return None
        second = np.datetime64(time, "s").astype(np.int64)
        here = (self.seconds == second) & (self.codes == self.names.index(symptom))
        found = self.lines[here & (self.lines > 0)]
        return int(found[0]) if len(found) else None


@dataclass(frozen=True, kw_only=True, slots=True)
class Places:
    """Where entries stand.

    Attributes
    ----------
    foods, scores
        Time and food, or time and symptom -> place of the first such entry.
    meals, days
        Day -> place of its first food, of its first score.
    bulk
        Scores of a large file, beside those in ``scores``.
    """

    foods: Mapping[tuple[str, str], Place] = field(default_factory=dict)
    scores: Mapping[tuple[str, str], Place] = field(default_factory=dict)
    meals: Mapping[str, Place] = field(default_factory=dict)
    days: Mapping[str, Place] = field(default_factory=dict)
    bulk: Bulk | None = None

    def food(self, time: dt.datetime, name: str) -> Place | None:
        """Return where a food stands."""
        return self.foods.get((_written(time), name))

    def score(self, time: dt.datetime, symptom: str) -> Place | None:
        """Return where a score stands."""
        found = self.scores.get((_written(time), symptom))
        if found is None and self.bulk is not None:
            line = self.bulk.line(_written(time), symptom)
            return None if line is None else Place(file=self.bulk.file, line=line)
        return found

    def meal(self, date: dt.date) -> Place | None:
        """Return where the first food of a day stands."""
        return self.meals.get(date.isoformat())

    def day(self, date: dt.date) -> Place | None:
        """Return where the first score of a day stands."""
        return self.days.get(date.isoformat())


NOWHERE = Places()


def places_of(rows: Rows) -> Places:
    """Return where rows stand, as they were read."""
    entries: dict[str, dict[tuple[str, str], Place]] = {"foods": {}, "symptoms": {}}
    days: dict[str, dict[str, Place]] = {"foods": {}, "symptoms": {}}
    if rows.plain:
        days["symptoms"] = _first_of_days(rows.plain)
    for one in rows.origins:
        if one.kind not in entries:
            continue
        columns = FOOD_COLUMNS if one.kind == "foods" else SYMPTOM_COLUMNS
        own, of_day = entries[one.kind], days[one.kind]
        for line, row in zip(one.lines, one.rows, strict=True):
            place = Place(file=one.file, line=line, columns=columns, row=row)
            own.setdefault((row[0], row[1]), place)
            first = of_day.setdefault(row[0][:10], place)
            if first.file == place.file and first.line > place.line:
                of_day[row[0][:10]] = place
    return Places(
        foods=entries["foods"],
        scores=entries["symptoms"],
        meals=days["foods"],
        days=days["symptoms"],
        bulk=_bulk(rows.plain) if rows.plain else None,
    )


def _bulk(plain: Scores) -> Bulk:
    return Bulk(
        seconds=plain.seconds,
        codes=plain.codes,
        lines=plain.places,
        names=plain.names,
        file=plain.file,
    )


def _first_of_days(plain: Scores) -> dict[str, Place]:
    import numpy as np

    days, inverse = np.unique(plain.seconds // 86_400, return_inverse=True)
    first = np.full(len(days), np.iinfo(np.int64).max)
    np.minimum.at(first, inverse, plain.places)
    texts = np.datetime_as_string(days.astype("datetime64[D]")).tolist()
    return {
        text: Place(file=plain.file, line=line)
        for text, line in zip(texts, first.tolist(), strict=True)
        if line > 0
    }


def _written(time: dt.datetime) -> str:
    return time.isoformat(timespec="seconds").removesuffix(":00")
