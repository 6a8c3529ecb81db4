"""What the daily log must know before its first question, read without pandas and pydantic.

`challenge log` is opened many times a day, so it must ask at once. Only the lines of the day are
looked at; a table or settings in any other form than the program's own go to the usual reader.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from challenge.diary.guard import unguard
from challenge.diary.model import FOOD_COLUMNS, SYMPTOM_COLUMNS
from challenge.errors import ChallengeError
from challenge.files import folder as names
from challenge.protocol.plan import PlanDay
from challenge.protocol.ratings import RATINGS_PER_DAY, ratings_wanted
from challenge.terms import SYMPTOMS

Row = tuple[str, ...]

_UNKNOWN_ZONE: Final = "UTC"
_STAMP: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
_NOTHING: Final = "0000-00-00T00:00"


@dataclass(frozen=True, kw_only=True, slots=True)
class LogStart:
    """What is known at once.

    Attributes
    ----------
    client
        Client code.
    symptoms
        0-10 symptoms scored.
    zone
        Time zone; empty when it is not known.
    day, number, length
        The day of the plan, its place in it from 1, and the plan's days; None and 0 without one.
    wanted
        Ratings that the day asks for.
    plan
        All days of the plan.
    foods, symptoms_given
        Rows of the day and of the night after it.
    """

    client: str
    symptoms: tuple[str, ...]
    zone: str
    day: PlanDay | None
    number: int | None
    length: int
    wanted: int
    plan: tuple[PlanDay, ...]
    foods: tuple[Row, ...]
    symptoms_given: tuple[Row, ...]


def read_log_start(folder: Path, date: dt.date) -> LogStart:
    """Read what the log must know of a client and a day.

    A plan that cannot be read is no reason to refuse an entry: the day then counts as unplanned.

    Raises
    ------
    ChallengeError
        If the settings or the tables cannot be used; with every problem.
    """
    symptoms, ratings, challenge_ratings, zone = _diary_settings(folder)
    days = _plan_days(folder)
    day = next((day for day in days if day.date == date), None)
    return LogStart(
        client=names.client_code(folder),
        symptoms=symptoms,
        zone="" if zone == _UNKNOWN_ZONE else zone,
        day=day,
        number=(date - days[0].date).days + 1 if day is not None else None,
        length=(days[-1].date - days[0].date).days + 1 if days else 0,
        wanted=ratings_wanted(day, ratings, challenge_ratings),
        plan=days,
        foods=_rows(folder, names.FOODS, FOOD_COLUMNS, date),
        symptoms_given=_rows(folder, names.SYMPTOMS, SYMPTOM_COLUMNS, date),
    )


def _diary_settings(folder: Path) -> tuple[tuple[str, ...], int, int | None, str]:
    try:
        text = (folder / names.SETTINGS).read_text("utf-8")
        table: Any = tomllib.loads(text).get("diary", {})
        symptoms = table.get("symptoms", list(SYMPTOMS))
        ratings = table.get("ratings_per_day", RATINGS_PER_DAY)
        challenge = table.get("ratings_per_challenge_day")
        zone = table.get("timezone", _UNKNOWN_ZONE)
    except FileNotFoundError:
        return SYMPTOMS, RATINGS_PER_DAY, None, _UNKNOWN_ZONE
    except (OSError, ValueError, AttributeError):
        return _checked_settings(folder)
    plain = (
        isinstance(symptoms, list)
        and all(isinstance(name, str) and name for name in symptoms)
        and type(ratings) is int
        and (challenge is None or type(challenge) is int)
        and _is_zone(zone)
    )
    return (tuple(symptoms), ratings, challenge, zone) if plain else _checked_settings(folder)


def _is_zone(name: Any) -> bool:
    if name == _UNKNOWN_ZONE:
        return True
    from challenge.diary.clock_changes import zone_named

    return isinstance(name, str) and zone_named(name) is not None


def _checked_settings(folder: Path) -> tuple[tuple[str, ...], int, int | None, str]:
    from challenge.files.reading import read_settings

    diary = read_settings(folder).diary
    return (
        diary.symptoms,
        diary.ratings_per_day,
        diary.ratings_per_challenge_day,
        diary.timezone,
    )


def _plan_days(folder: Path) -> tuple[PlanDay, ...]:
    from challenge.files.reading import read_plan

    try:
        return read_plan(folder / names.PLAN).days
    except ChallengeError:
        return ()


def _rows(folder: Path, name: str, columns: tuple[str, ...], date: dt.date) -> tuple[Row, ...]:
    try:
        text = (folder / name).read_text("utf-8-sig")
    except FileNotFoundError:
        return ()
    except (OSError, ValueError):
        text = ""
    header, _, rest = text.partition("\n")
    own_form = header.strip().split(",") == list(columns) and _STAMP.match(rest or _NOTHING)
    if not own_form:
        return _any_rows(folder, name)
    wanted = (f"{date}T", f"{date + dt.timedelta(days=1)}T0")
    lines: list[str] = []
    mine = False
    for line in rest.splitlines(keepends=True):
        # a note may go on in further lines, but in none that begins with a date: such texts are
        # refused on the way in
        mine = line.startswith(wanted) or (mine and _STAMP.match(line) is None)
        if mine:
            lines.append(line)
    rows = [tuple(map(unguard, row)) for row in csv.reader(io.StringIO("".join(lines), newline=""))]
    if not all(_plain(row, columns) for row in rows):
        return _any_rows(folder, name)
    return tuple(rows)


def _plain(row: Row, columns: tuple[str, ...]) -> bool:
    if len(row) != len(columns):
        return False
    try:
        for name, cell in zip(columns, row, strict=True):
            if name in {"time", "entered_at"} and (cell or name == "time"):
                dt.datetime.fromisoformat(cell)
            elif name == "score" or (name in {"portion_g", "fodmap_g"} and cell):
                float(cell)
    except ValueError:
        return False
    return True


def _any_rows(folder: Path, name: str) -> tuple[Row, ...]:
    from challenge.files.reading import read_options, read_rows, read_settings
    from challenge.problems import errors_in

    rows = read_rows(folder / name, read_options(read_settings(folder)))
    errors = errors_in(rows.problems)
    if errors:
        raise ChallengeError(f"{name} cannot be used as it is. Put it right first.", errors)
    return tuple(rows.foods if name == names.FOODS else rows.symptoms)
