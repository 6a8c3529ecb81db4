"""The screening questions at the prompt. Every one must be answered; silence is no answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import typer

from challenge.commands.screen import warn, wrapped

Section = dict[str, Any]
_T = TypeVar("_T")

_COELIAC: Final = ("negative", "positive", "not-done", "unknown")
_NONE: Final = {"-", "none", "no", "0"}
_MOST_WEEKS: Final = 520.0
_INITIALS: Final = 10


@dataclass(frozen=True, kw_only=True)
class _Topic:
    """What is asked, shown and changed together.

    Attributes
    ----------
    name
        As the summary calls it.
    ask
        Asks what is missing among the answers of its section and puts it there.
    told
        Says in words what stands there.
    keys
        Answers to forget when it is asked anew; none where ``ask`` replaces its own part of a list.
    section
        Where the answers stand in ``client.toml``.
    """

    name: str
    ask: Callable[[Section], None]
    told: Callable[[Section], str]
    keys: tuple[str, ...] = ()
    section: str = "screening"


def ask_missing(document: dict[str, Any]) -> None:
    """Ask everything that is not answered yet and put the answers into the document."""
    topics = _topics()
    # first of all, so that no answer is lost for want of it
    topics[0].ask(document["screening"])
    warn("Nothing is written before you say so at the end. Ctrl-C stops without writing.\n")
    all_conditions = "conditions" not in document["screening"]
    for topic in topics[1:]:
        if topic.keys or all_conditions:
            topic.ask(document.setdefault(topic.section, {}))


def confirmed(document: Mapping[str, Any]) -> bool:
    """Show the answers until they are to be written, or not; change those that are wrong."""
    topics = _topics()
    while True:
        warn("\nYou answered:")
        for number, topic in enumerate(topics, start=1):
            told = topic.told(document[topic.section])
            warn(wrapped(f"{number:>2} {topic.name}: {told}", "  ", " " * 7))
        if _yes("Write these answers?"):
            return True
        number = _ask(
            "Which is to change? Its number, or 0 to stop without writing",
            lambda text: _place(text, len(topics)),
        )
        if number == 0:
            return False
        topic = topics[number - 1]
        section = document[topic.section]
        warn(wrapped(f"So far: {topic.told(section)}. Answer all of it anew."))
        for key in topic.keys:
            section.pop(key, None)
        topic.ask(section)


def _topics() -> list[_Topic]:
    from challenge.protocol.questions import ALARM_QUESTIONS, CONDITION_QUESTIONS
    from challenge.protocol.screening_rules import EXCLUSIONS

    exclusions = {name: name for name in EXCLUSIONS}
    return [
        _single("asked by", "asked_by", lambda: _ask("Your initials", _initials)),
        _Topic(
            name="diagnosed by a doctor",
            keys=("diagnosed_by_doctor",),
            ask=lambda section: _once(
                section,
                "diagnosed_by_doctor",
                lambda: _yes("Has a doctor diagnosed irritable bowel syndrome?"),
            ),
            told=lambda section: "yes" if section["diagnosed_by_doctor"] else "no",
        ),
        _Topic(
            name="coeliac blood test",
            keys=("coeliac_test", "coeliac_test_on_gluten"),
            ask=_ask_coeliac,
            told=_tell_coeliac,
        ),
        _single(
            "alarm features", "alarm_features", lambda: _pick("Alarm features", ALARM_QUESTIONS)
        ),
        *map(_conditions, CONDITION_QUESTIONS),
        _single(
            "allergies",
            "allergies",
            lambda: _ask("\nFood allergies, known or suspected (or none)", _words),
        ),
        _single("medicines", "medicines", lambda: _ask("Medicines (or none)", _words)),
        _Topic(
            name="restriction",
            keys=(
                "restriction_weeks",
                "restriction_helped",
                "restriction_measure",
                "restriction_change",
            ),
            ask=_ask_restriction,
            told=_tell_restriction,
        ),
        _single(
            "diet leaves out",
            "exclusions",
            lambda: _pick("What the client's diet leaves out", exclusions),
            section="diet",
        ),
    ]


def _once(section: Section, key: str, question: Callable[[], Any]) -> None:
    if key not in section:
        section[key] = question()


def _single(name: str, key: str, question: Callable[[], Any], section: str = "screening") -> _Topic:
    """One question, the answer of which is a text or a list of texts."""

    def told(answers: Section) -> str:
        value = answers.get(key)
        return value if isinstance(value, str) else ", ".join(value or ()) or "none"

    def ask(answers: Section) -> None:
        _once(answers, key, question)

    return _Topic(name=name, keys=(key,), ask=ask, told=told, section=section)


def _conditions(heading: str) -> _Topic:
    """Return the conditions under one heading; those under the others stay as they are."""
    from challenge.protocol.questions import CONDITION_QUESTIONS

    questions = CONDITION_QUESTIONS[heading]

    def ask(answers: Section) -> None:
        others = [code for code in answers.get("conditions", ()) if code not in questions]
        answers["conditions"] = others + _pick(heading, questions)

    def told(answers: Section) -> str:
        return ", ".join(code for code in answers["conditions"] if code in questions) or "none"

    name = heading.partition(" (")[0]
    return _Topic(name=f"{name[0].lower()}{name[1:]}", ask=ask, told=told)


def _ask_coeliac(section: Section) -> None:
    kinds = ", ".join(_COELIAC)
    _once(section, "coeliac_test", lambda: _ask(f"Coeliac blood test: {kinds}", _coeliac))
    if section["coeliac_test"] in {"negative", "positive"}:
        _once(
            section,
            "coeliac_test_on_gluten",
            lambda: _yes("Was gluten eaten when the blood was taken?"),
        )


def _tell_coeliac(section: Section) -> str:
    on_gluten = section.get("coeliac_test_on_gluten")
    if on_gluten is None:
        return str(section["coeliac_test"])
    return f"{section['coeliac_test']}, {'on' if on_gluten else 'off'} gluten"


def _ask_restriction(section: Section) -> None:
    _once(section, "restriction_weeks", lambda: _ask("Weeks of restriction so far", _weeks))
    _once(section, "restriction_helped", lambda: _yes("Did the restriction help?"))
    _once(
        section,
        "restriction_measure",
        lambda: _ask("Measured by (such as IBS-SSS, or none)", _measure),
    )
    if section["restriction_measure"]:
        _once(section, "restriction_change", _fall)


def _tell_restriction(section: Section) -> str:
    told = "helped" if section["restriction_helped"] else "did not help"
    if section.get("restriction_weeks") is not None:
        told += f", {section['restriction_weeks']:g} weeks"
    if section.get("restriction_measure") and section.get("restriction_change") is not None:
        told += f", {section['restriction_measure']} fell by {section['restriction_change']:g}"
    return told


def _ask(question: str, read: Callable[[str], _T]) -> _T:
    """Ask until the answer can be read; ``read`` raises ``typer.BadParameter`` if not."""
    answer: _T = typer.prompt(question, value_proc=read, err=True)
    return answer


def _yes(question: str) -> bool:
    return _ask(f"{question} (y/n)", _yes_or_no)


def _yes_or_no(text: str) -> bool:
    answer = text.strip().casefold()
    if answer not in {"y", "yes", "n", "no"}:
        raise typer.BadParameter("answer y or n.")
    return answer.startswith("y")


def _initials(text: str) -> str:
    if not 1 <= len(text.strip()) <= _INITIALS:
        raise typer.BadParameter(f"at most {_INITIALS} letters; initials, not a name.")
    return text.strip()


def _coeliac(text: str) -> str:
    """One of the answers, or an unmistakable beginning of one."""
    answer = text.strip().casefold().replace(" ", "-")
    fitting = [kind for kind in _COELIAC if answer and kind.startswith(answer)]
    if len(fitting) != 1:
        raise typer.BadParameter(f"write one of {', '.join(_COELIAC)}.")
    return fitting[0]


def _pick(heading: str, questions: Mapping[str, str]) -> list[str]:
    """Let several answers be picked by their numbers."""
    codes = list(questions)
    warn(f"\n{heading}")
    for number, code in enumerate(codes, start=1):
        warn(f"  {number:>2} {questions[code]}")

    def read(text: str) -> list[str]:
        parts = text.replace(",", " ").split()
        if parts and all(part.casefold() in _NONE for part in parts):
            return []
        if not parts or not all(p.isdecimal() and 1 <= int(p) <= len(codes) for p in parts):
            raise typer.BadParameter(f"numbers from 1 to {len(codes)}, or 0 alone for none.")
        return [codes[number - 1] for number in sorted({int(part) for part in parts})]

    return _ask("Which apply? Numbers with commas, 0 for none", read)


def _place(text: str, most: int) -> int:
    if not (text.strip().isdecimal() and int(text) <= most):
        raise typer.BadParameter(f"a number from 0 to {most}.")
    return int(text)


def _words(text: str) -> list[str]:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    kept = [part for part in parts if part.casefold() not in _NONE]
    if kept and len(kept) < len(parts):
        raise typer.BadParameter("either names with commas, or none.")
    return kept


def _measure(text: str) -> str:
    return "" if text.strip().casefold() in _NONE else text.strip()


def _weeks(text: str) -> float:
    weeks = _number(text)
    if not 0 <= weeks <= _MOST_WEEKS:
        raise typer.BadParameter(f"a number of weeks from 0 to {_MOST_WEEKS:g}.")
    return weeks


def _fall() -> float:
    while True:
        fall = _ask("By how many points did it fall", _number)
        if fall >= 0 or _yes(f"A minus means that it rose, by {-fall:g} points. Did it?"):
            return fall


def _number(text: str) -> float:
    from math import isfinite

    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        number = float("nan")
    if not isfinite(number):
        raise typer.BadParameter("a number, such as 6 or 4.5.")
    return number
