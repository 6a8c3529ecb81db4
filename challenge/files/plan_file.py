"""``plan.csv``, read without numpy and pandas: ``challenge today`` starts from it.

A challenge day must name its group. A day of a blinded challenge cannot, as long as its order is
sealed: it stands in the file as a rest day, a day outside the protocol, with the name and weight
of its sachet, so that whoever knows only the columns leaves it alone.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final, cast, get_args

from challenge.diary.sachets import find_sachet
from challenge.problems import Problem
from challenge.protocol.plan import PLAN_COLUMNS, PlanDay
from challenge.terms import GROUPS_AND_CONTROL, FodmapGroup, Phase

_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d")
_COUNT: Final = re.compile(r"\d{1,3}")
_GRAMS: Final = re.compile(r"\d+(?:\.\d+)?(?:[eE]-?\d+)?")
_NEEDED: Final = ("date", "phase")
_REMEDY: Final = "Lay the plan again with `challenge plan`, or correct the cell."


def parse_plan(text: str, file: str) -> tuple[list[PlanDay], list[Problem]]:
    """Read a plan; return its days in date order and everything that is wrong.

    Parameters
    ----------
    text
        Content of the file.
    file
        Its name, for the problems.
    """
    problems: list[Problem] = []
    try:
        rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))
    except csv.Error as error:
        return [], [_problem(file, None, None, "", "plan-broken", f"Quotes are wrong: {error}.")]
    header = [name.strip().casefold() for name in rows[0]] if rows else []
    if not set(_NEEDED) <= set(header):
        return [], [
            _problem(file, 1, None, ",".join(header)[:80], "plan-header", "No plan's header here.")
        ]
    days: list[tuple[PlanDay, int]] = []
    for line, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) > len(header) and any(cell.strip() for cell in row[len(header) :]):
            problems.append(
                _problem(file, line, None, row[-1], "row-too-long", "More cells than the header.")
            )
            continue
        cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
        day = _read_day(cells, file, line, problems)
        if day is not None:
            days.append((day, line))
    problems += _twice(days, file)
    if not days and not problems:
        problems.append(_problem(file, 1, None, "", "plan-empty", "The plan has no days."))
    return sorted((day for day, _ in days), key=lambda day: day.date), problems


def _read_day(
    cells: Mapping[str, str], file: str, line: int, problems: list[Problem]
) -> PlanDay | None:
    before = len(problems)

    def read(name: str, convert: Callable[[str], Any], code: str, message: str) -> Any:
        text = cells.get(name, "")
        if not text:
            return None
        value = convert(text)
        if value is None:
            problems.append(_problem(file, line, name, text, code, message))
        return value

    date = read("date", _date, "plan-date", "This is no date like 2026-03-01.")
    phase = read("phase", _phase, "phase-unknown", "This is no phase of a plan.")
    group = read("fodmap_group", _group, "group-unknown", "This is no carbohydrate group.")
    cycle = read("cycle", _count, "plan-number", "This is no whole number from 1.")
    step = read("step", _count, "plan-number", "This is no whole number from 1.")
    portion = read("portion_g", _grams, "plan-number", "This is no amount in grams.")
    grams = read("fodmap_g", _grams, "plan-number", "This is no amount in grams.")
    for name in _NEEDED:
        if not cells.get(name):
            problems.append(_problem(file, line, name, "", "plan-cell-missing", "Nothing here."))
    if phase == "challenge" and len(problems) == before:
        for name in ("fodmap_group", "step"):
            if not cells.get(name):
                words = "A challenge day needs a group and a step."
                problems.append(_problem(file, line, name, "", "plan-cell-missing", words))
    if len(problems) > before:
        return None
    food = _unguarded(cells.get("food", ""))
    sachet = find_sachet(food) if phase == "rest" else None
    if sachet is not None:
        phase, cycle, step = "challenge", 1, sachet.step
    return PlanDay(
        date=date,
        phase=phase,
        cycle=cycle if cycle is not None or phase != "challenge" else 1,
        fodmap_group=group,
        step=step,
        food=food,
        portion_g=portion,
        fodmap_g=grams,
    )


def _unguarded(text: str) -> str:
    from challenge.diary.guard import unguard

    return unguard(text)


def _date(text: str) -> dt.date | None:
    if _DAY.fullmatch(text) is None:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def _phase(text: str) -> Phase | None:
    return cast(Phase, text) if text in get_args(Phase) else None


def _group(text: str) -> FodmapGroup | None:
    return next((group for group in GROUPS_AND_CONTROL if group == text), None)


def _count(text: str) -> int | None:
    plain = text.removesuffix(".0")
    return int(plain) if _COUNT.fullmatch(plain) and int(plain) > 0 else None


def _grams(text: str) -> float | None:
    return float(text) if _GRAMS.fullmatch(text) and text.isascii() else None


def _twice(days: list[tuple[PlanDay, int]], file: str) -> list[Problem]:
    seen: dict[dt.date, int] = {}
    found = []
    for day, line in days:
        if day.date in seen:
            words = f"The date stands on line {seen[day.date]} already."
            found.append(_problem(file, line, "date", str(day.date), "plan-date-twice", words))
        seen.setdefault(day.date, line)
    return found


def _problem(
    file: str, line: int | None, column: str | None, value: str, code: str, message: str
) -> Problem:
    return Problem(
        code=code,
        severity="error",
        file=file,
        line=line,
        column=column,
        value=value or None,
        message=message,
        remedy=_REMEDY,
    )


def plan_text(days: Any) -> str:
    """Return the text of ``plan.csv`` for days of a plan."""
    from challenge.diary.guard import guard

    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(PLAN_COLUMNS)
    for day in days:
        if day.sealed:
            day = replace(day, phase="rest", cycle=None, step=None)
        writer.writerow(
            [
                guard(value) if name == "food" else _cell(value)
                for name in PLAN_COLUMNS
                for value in (getattr(day, name),)
            ]
        )
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return str(int(value)) if value == int(value) else repr(value)
    return value.isoformat() if isinstance(value, dt.date) else str(value)
