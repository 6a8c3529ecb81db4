"""What the daily log asks, in its order.

The scores come before anything is said about the challenge food, so that they are not coloured by
it (own inference: an open challenge contains expectation).
"""

from __future__ import annotations

import datetime as dt
import textwrap
from typing import Any, Final

from challenge.logbook.answers import (
    UnclearError,
    free_minute,
    read_amount,
    read_picked,
    read_score,
    read_stool,
    read_time,
    read_yes,
)
from challenge.logbook.corrections import correct
from challenge.logbook.entries import (
    Dose,
    Entries,
    dose_entry,
    eaten_entry,
    event_entry,
    score_entries,
    scores_words,
    stool_entry,
)
from challenge.logbook.kinds import EVENTS
from challenge.logbook.questions import STOOL_TYPES, Known, Question, Script, Taken, when_question
from challenge.logbook.written import Line, missing_words
from challenge.terms import STOOL_FORM

_NONE: Final = "none"
_CORRECT: Final = "correct"


def day_script(known: Known, entries: Entries) -> Script:
    """Ask for everything of a day; finished entries are put among ``entries``."""
    taken = set(known.written.taken)
    corrected: dict[int, Line] = {}
    while True:
        opening = yield _opening(known, taken, bool(corrected))
        if opening != _CORRECT:
            break
        yield from correct(known, entries, corrected)
        taken = _taken(known, entries)
    if opening != _NONE:
        yield from _scores(known, entries, opening, taken)
    today = known.today()
    before = today.lines
    if today.dose is not None:
        yield from _dose(known, entries, today.dose, before, taken)
        before = ()
    yield from _foods(known, entries, before, taken)
    yield from _stools(known, entries, taken)
    yield from _unusual(known, entries)
    note = yield Question(
        text="A note for your dietitian",
        enter="none",
        read=str.strip,
        help="Anything in your own words. It stands beside what you have just written.",
    )
    if note:
        entries.add_note(note, known.date)


def _taken(known: Known, entries: Entries) -> Taken:
    """Times that have an entry once what is taken out or moved is gone from where it was."""
    changed = [
        (dt.datetime.fromisoformat(row[0]), row[1], time) for _, row, time in entries.changed
    ]
    left = set(known.written.taken) - {(was, name) for was, name, _ in changed}
    return left | {(time, name) for _, name, time in changed if time is not None}


def _opening(known: Known, taken: Taken, corrected: bool) -> Question:
    written = known.written
    enough = len(written.ratings) >= known.wanted or corrected
    now = known.now if known.on_the_day else None
    enter = f"now, {now:%H:%M}" if now is not None and not enough else "no scores"

    def read(text: str) -> Any:
        word = text.strip().lower()
        if word in {"n", "no", "none"} or (not word and (enough or now is None)):
            return _NONE
        if word in {"c", "correct"}:
            if not written.lines:
                raise UnclearError("Nothing is written down of this day yet.")
            return _CORRECT
        if word in {"", "now", "y", "yes"} and now is not None:
            return free_minute(now, known.symptoms, taken)
        if word.isdigit():
            raise UnclearError("First the time: Enter takes what is in brackets, or write 08:10.")
        time = read_time(text, known.date, known.now, known.zone)
        if any((time, symptom) in taken for symptom in known.symptoms):
            raise UnclearError(f"There is a rating at {time:%H:%M} already: c corrects it.")
        return time

    before = [missing_words(written, known.wanted, known.date)]
    if written.lines:
        before += ["Written down so far:", *(f"  {line.listed}" for line in written.lines)]
    return Question(
        text="Scores for which time",
        enter=enter,
        read=read,
        before=() if corrected else tuple(before),
        help="A time such as 08:10, or n for no scores; c corrects what is written down. "
        "Elsewhere: b goes back, q stops.",
    )


def _scores(known: Known, entries: Entries, time: dt.datetime, taken: Taken) -> Script:
    scores: dict[str, int | None] = {}
    for symptom in known.symptoms:
        given = scores_words({s: v for s, v in scores.items() if v is not None})
        scores[symptom] = yield Question(
            text=symptom.replace("_", " "),
            read=read_score,
            before=() if scores else _how(known, time),
            help="0 is none, 10 the worst you can think of. Enter: not given.",
            one_key=True,
            begun="the scores" + (f" ({given})" if given else ""),
        )
    given = scores_words({s: v for s, v in scores.items() if v is not None})
    if given and known.one_key:
        yield Question(
            text=f"{given}. Right",
            enter="yes, b: back",
            read=_read_right,
            begun=f"the scores ({given})",
            one_key=True,
        )
    entries.symptoms += score_entries(time, scores)
    taken |= {(time, symptom) for symptom, score in scores.items() if score is not None}


def _how(known: Known, time: dt.datetime) -> tuple[str, ...]:
    keys = "One key each: 0 to 9, x for 10" if known.one_key else "0 to 10 each"
    return (
        f"How do you feel, at {time:%H:%M}? 0 is none, 10 the worst you can think of.",
        f"{keys}; Enter: not given; b: back.",
    )


def _read_right(text: str) -> bool:
    if text.strip().lower() in {"", "y", "yes"}:
        return True
    raise UnclearError("Enter if that is right, b to go back.")


def _dose(
    known: Known,
    entries: Entries,
    dose: Dose,
    before: tuple[str, ...],
    taken: Taken,
) -> Script:
    eaten = yield Question(
        text=f"Have you eaten the {dose.food} (y/n)",
        read=read_yes,
        before=before,
        help="y once you have eaten it, n if not or not yet. You may stop at any time.",
        one_key=True,
    )
    if not eaten:
        return
    time = yield when_question(known, (dose.food,), taken, begun=dose.food, by_date=True)
    portion = dose.portion_g
    if portion is not None:
        whole = portion

        def read(text: str) -> float:
            amount = read_amount(text)
            return whole if amount is None else amount

        portion = yield Question(
            text=f"How much of it, in {dose.unit}",
            enter=f"all, {portion:g}",
            read=read,
            help="As much as you really ate.",
            begun=f"{dose.food} at {time:%H:%M}",
        )
    entries.foods.append(dose_entry(time, dose, portion))
    taken.add((time, dose.food))


def _foods(known: Known, entries: Entries, before: tuple[str, ...], taken: Taken) -> Script:
    while True:
        food = yield Question(
            text="Another food or drink to write down",
            enter="none",
            read=_read_food,
            before=before,
            help="Its name, in your words; also a challenge food that was not due. Ordinary meals "
            "need not be written down.",
        )
        if not food:
            return
        before = ()
        amount = yield Question(
            text="How much, in g (mL of a drink)",
            enter="not known",
            read=read_amount,
            help="A number such as 150.",
            begun=food,
        )
        time = yield when_question(known, (food,), taken, begun=food)
        entries.foods.append(eaten_entry(time, food, amount, known.plan))
        taken.add((time, food))


def _read_food(text: str) -> str:
    food = text.strip()
    if food.lower() in {"n", "no", "none", "-"}:
        return ""
    if food and not any(letter.isalpha() for letter in food):
        raise UnclearError("Write the name of the food, or Enter for none.")
    return food


def _stools(known: Known, entries: Entries, taken: Taken) -> Script:
    more = "A stool"
    while True:
        form = yield Question(
            text=f"{more}: type 1 to 7",
            enter="none",
            read=read_stool,
            help=STOOL_TYPES,
            one_key=True,
        )
        if form is None:
            return
        time = yield when_question(known, (STOOL_FORM,), taken, begun=f"stool, type {form}")
        entries.symptoms.append(stool_entry(time, form))
        taken.add((time, STOOL_FORM))
        more = "Another stool"


def _unusual(known: Known, entries: Entries) -> Script:
    listed = ", ".join(f"{i} {name}" for i, name in enumerate(EVENTS, 1))
    picked = yield Question(
        text="Anything unusual",
        enter="no",
        read=lambda text: read_picked(text, EVENTS),
        before=tuple(textwrap.wrap(f"Unusual is: {listed}.", 78)),
        help="The numbers of what applies to this day, such as 3 or 3,6.",
    )
    entries.events += [event_entry(event, known.date) for event in picked]
