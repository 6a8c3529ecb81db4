"""The daily log as questions and answers: pure data, whoever asks and reads.

The scores come before anything is said about the challenge food, so that they are not coloured by
it (own inference: an open challenge contains expectation).
"""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from challenge.diary.day import diary_day
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
from challenge.logbook.entries import (
    Dose,
    Entries,
    dose_entry,
    eaten_entry,
    event_entry,
    food_entry,
    rounded_grams,
    score_entries,
    scores_words,
    stool_entry,
)
from challenge.logbook.kinds import EVENTS, STOOL_FORMS
from challenge.logbook.written import Line, Written, missing_words
from challenge.terms import STOOL_FORM

if TYPE_CHECKING:
    from challenge.protocol.plan import PlanDay

_BACK: Final = frozenset({"b", "back"})
_STOP: Final = frozenset({"q", "quit"})
_HELP: Final = frozenset({"?", "help"})


class StopError(Exception):
    """The client wants to stop here."""


class HelpAsked(Exception):  # noqa: N818  not an error
    """The client asks what is meant; its text says it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question.

    Attributes
    ----------
    text
        The question.
    read
        Makes a value of an answer, or raises `UnclearError`.
    enter
        What an empty answer means, in words.
    before
        Lines to be said before it.
    help
        What ``?`` tells.
    one_key
        A single key is answer enough.
    begun
        What is given up if the conversation stops here; empty between entries.
    """

    text: str
    read: Callable[[str], Any]
    enter: str = ""
    before: tuple[str, ...] = ()
    help: str = ""
    one_key: bool = False
    begun: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Today:
    """What the plan says of the day: lines for the client, and the food if any is to be eaten."""

    lines: tuple[str, ...] = ()
    dose: Dose | None = None


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known before the first question.

    Attributes
    ----------
    date, now
        The day that is written about, and the clock.
    symptoms
        0-10 symptoms scored.
    wanted
        Ratings that the day asks for.
    written
        What is written down of the day.
    today
        Tells what the plan says; asked only once the scores are given.
    plan
        All days of the plan, as it stands on file.
    zone
        Time zone, when it is known.
    one_key
        Keys can be read one by one.
    """

    date: dt.date
    now: dt.datetime
    symptoms: Sequence[str]
    wanted: int
    written: Written
    today: Callable[[], Today]
    plan: Sequence[PlanDay] = ()
    zone: str = ""
    one_key: bool = False

    @property
    def on_the_day(self) -> bool:
        """The clock still stands on the day that is written about."""
        return diary_day(self.now) == self.date


Script = Generator[Question, Any, None]


@dataclass
class Conversation:
    """Asks, takes answers, goes back.

    The answers so far are kept; going back drops the last one and asks all over again from them.
    """

    known: Known
    entries: Entries = field(default_factory=Entries)
    question: Question | None = None
    _given: list[Any] = field(default_factory=list)
    _script: Script | None = None

    def __post_init__(self) -> None:
        self._again()

    def answer(self, text: str) -> str:
        """Take an answer; return why it cannot be used, or nothing.

        Raises
        ------
        HelpAsked
            For ``?``.
        StopError
            For ``q``.
        """
        assert self.question is not None
        word = text.strip().lower()
        if word in _STOP:
            raise StopError
        if word in _HELP:
            raise HelpAsked(self.question.help or "Answer the question; b goes back, q stops.")
        if word in _BACK:
            return self._back()
        try:
            value = self.question.read(text)
        except UnclearError as error:
            return str(error)
        self._given.append(value)
        self._send(value)
        return ""

    def _back(self) -> str:
        if not self._given:
            return "This is the first question."
        self._given.pop()
        self._again()
        return ""

    def _again(self) -> None:
        self.entries = Entries()
        self._script = _script(self.known, self.entries)
        self.question = next(self._script)
        for value in self._given:
            self._send(value)

    def _send(self, value: Any) -> None:
        assert self._script is not None
        try:
            self.question = self._script.send(value)
        except StopIteration:
            self.question = None


_NONE: Final = "none"
_CORRECT: Final = "correct"


def _script(known: Known, entries: Entries) -> Script:
    taken = set(known.written.taken)
    corrected: dict[int, Line] = {}
    while True:
        opening = yield _opening(known, frozenset(taken), bool(corrected))
        if opening != _CORRECT:
            break
        yield from _correction(known, entries, corrected)
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


def _opening(known: Known, taken: frozenset[tuple[dt.datetime, str]], corrected: bool) -> Question:
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
        time = read_time(text, known.date, known.now, known.zone)
        if any((time, symptom) in taken for symptom in known.symptoms):
            raise UnclearError(f"There is a rating at {time:%H:%M} already: c corrects it.")
        return time

    before = [missing_words(written, known.wanted, known.date)]
    if written.lines:
        before += ["Written down so far:", *(f"  {_listed(line)}" for line in written.lines)]
    return Question(
        text="Scores for which time",
        enter=enter,
        read=read,
        before=() if corrected else tuple(before),
        help="A time such as 08:10, or n for no scores; c corrects what is written down. "
        "Elsewhere: b goes back, q stops.",
    )


def _listed(line: Line) -> str:
    return f"{line.time:%H:%M} {line.words}"


def _scores(
    known: Known, entries: Entries, time: dt.datetime, taken: set[tuple[dt.datetime, str]]
) -> Script:
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


def _when(
    known: Known, names: Sequence[str], taken: set[tuple[dt.datetime, str]], begun: str
) -> Question:
    now = known.now if known.on_the_day else None

    def read(text: str) -> dt.datetime:
        if not text.strip():
            if now is None:
                raise UnclearError("Write the time like 08:10.")
            return free_minute(now, names, frozenset(taken))
        time = read_time(text, known.date, known.now, known.zone)
        if any((time, name) in taken for name in names):
            raise UnclearError(
                f"There is such an entry at {time:%H:%M} already. Choose another minute."
            )
        return time

    return Question(
        text="When",
        enter=f"now, {now:%H:%M}" if now is not None else "",
        read=read,
        help="A time such as 08:10.",
        begun=begun,
    )


def _dose(
    known: Known,
    entries: Entries,
    dose: Dose,
    before: tuple[str, ...],
    taken: set[tuple[dt.datetime, str]],
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
    time = yield _when(known, (dose.food,), taken, begun=dose.food)
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


def _foods(
    known: Known, entries: Entries, before: tuple[str, ...], taken: set[tuple[dt.datetime, str]]
) -> Script:
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
        time = yield _when(known, (food,), taken, begun=food)
        entries.foods.append(eaten_entry(time, food, amount, known.plan))
        taken.add((time, food))


def _read_food(text: str) -> str:
    food = text.strip()
    if food.lower() in {"n", "no", "none", "-"}:
        return ""
    if food and not any(letter.isalpha() for letter in food):
        raise UnclearError("Write the name of the food, or Enter for none.")
    return food


def _stools(known: Known, entries: Entries, taken: set[tuple[dt.datetime, str]]) -> Script:
    more = "A stool"
    while True:
        form = yield Question(
            text=f"{more}: type 1 to 7",
            enter="none",
            read=read_stool,
            help="; ".join(f"{i} {words}" for i, words in enumerate(STOOL_FORMS, 1)) + ".",
            one_key=True,
        )
        if form is None:
            return
        time = yield _when(known, (STOOL_FORM,), taken, begun=f"stool, type {form}")
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


def _correction(known: Known, entries: Entries, corrected: dict[int, Line]) -> Script:
    lines = known.written.lines

    def which(text: str) -> int | None:
        answer = text.strip()
        if not answer:
            return None
        if answer.isascii() and answer.isdigit() and 1 <= int(answer) <= len(lines):
            if int(answer) in corrected:
                raise UnclearError("That one is corrected already; b goes back to it.")
            return int(answer)
        raise UnclearError(f"A number from 1 to {len(lines)}, or Enter for none.")

    number = yield Question(
        text="Which one",
        enter="none",
        read=which,
        before=tuple(f"  {i}  {_listed(line)}" for i, line in enumerate(lines, 1)),
        help="What it was before is kept. A wrong time: note it, or take back what was stored "
        "last with `challenge undo`.",
    )
    if number is None:
        return
    line = lines[number - 1]
    corrected[number] = line
    ask = {"rating": _correct_rating, "stool": _correct_stool, "food": _correct_food}[line.kind]
    before = len(entries.symptoms) + len(entries.foods)
    yield from ask(known, entries, line)
    if len(entries.symptoms) + len(entries.foods) > before:
        entries.correct = True


def _correct_rating(known: Known, entries: Entries, line: Line) -> Script:
    was = {row[1]: int(float(row[2])) for row in line.rows}
    now: dict[str, int | None] = {}
    for symptom in dict.fromkeys((*known.symptoms, *was)):
        old = was.get(symptom)
        given = yield Question(
            text=symptom.replace("_", " "),
            enter="not given" if old is None else f"stays {old}",
            read=read_score,
            help="A score from 0 to 10 (x is 10).",
            one_key=True,
            begun=f"the correction of {_listed(line)}",
        )
        if given is not None and given != old:
            now[symptom] = given
    notes = {row[1]: row[3] for row in line.rows}
    for entry in score_entries(line.time, now):
        entries.symptoms.append(entry | {"note": notes.get(entry["symptom"], "")})


def _correct_stool(known: Known, entries: Entries, line: Line) -> Script:
    old = int(float(line.rows[0][2]))
    form = yield Question(
        text="Type 1 to 7",
        enter=f"stays {old}",
        read=read_stool,
        help="; ".join(f"{i} {words}" for i, words in enumerate(STOOL_FORMS, 1)) + ".",
        one_key=True,
        begun=f"the correction of {_listed(line)}",
    )
    if form is None or form == old:
        return
    entries.symptoms.append(stool_entry(line.time, form) | {"note": line.rows[0][3]})
    # a correction replaces all stools of its minute, so the others go with it
    for other in _others(known, line):
        again = stool_entry(line.time, int(float(other.rows[0][2])))
        entries.symptoms.append(again | {"note": other.rows[0][3]})


def _correct_food(known: Known, entries: Entries, line: Line) -> Script:
    row = line.rows[0]
    old = float(row[2]) if row[2] else None
    amount = yield Question(
        text=f"How much {row[1]}, in g (mL of a drink)",
        enter="stays unknown" if old is None else f"stays {old:g}",
        read=read_amount,
        help="As much as you really ate.",
        begun=f"the correction of {_listed(line)}",
    )
    if amount is None or amount == old:
        return
    entries.foods.append(_food_again(line, amount))
    for other in _others(known, line):
        entries.foods.append(_food_again(other, None))


def _food_again(line: Line, amount: float | None) -> dict[str, Any]:
    """The food of a row, with another amount: its grams go along in proportion."""
    row = line.rows[0]
    old = float(row[2]) if row[2] else None
    grams = float(row[4]) if row[4] else None
    entry = food_entry(line.time, row[1], old if amount is None else amount)
    entry |= {"fodmap_group": row[3] or None, "fodmap_g": grams, "note": row[5]}
    if amount is not None and grams is not None:
        entry["fodmap_g"] = rounded_grams(grams / old * amount) if old else None
    return entry


def _others(known: Known, line: Line) -> list[Line]:
    name = line.rows[0][1]
    return [
        other
        for other in known.written.lines
        if other is not line and other.time == line.time and other.rows[0][1] == name
    ]
