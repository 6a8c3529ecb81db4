"""The screening questions at the prompt. Every one must be answered; silence is no answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, TypeVar

import typer

from challenge.commands.screen import warn

_T = TypeVar("_T")

_COELIAC: Final = ("negative", "positive", "not-done", "unknown")
_NONE: Final = {"-", "none", "no", "0"}
_MOST_WEEKS: Final = 520.0
_INITIALS: Final = 10


def ask_initials() -> str:
    """Ask who asks; first of all, so that no answer is lost for want of it."""
    return _ask("Your initials", _initials)


def ask_missing(screening: dict[str, Any], document: dict[str, Any]) -> None:
    """Ask everything that is not answered yet and put the answers into both."""
    from challenge.protocol.questions import ALARM_QUESTIONS, CONDITION_QUESTIONS
    from challenge.protocol.screening_rules import EXCLUSIONS

    def once(key: str, question: Callable[[], Any]) -> None:
        if key not in screening:
            screening[key] = question()

    warn("Nothing is written before the last question. Ctrl-C stops without writing.\n")
    once("diagnosed_by_doctor", lambda: _yes("Has a doctor diagnosed irritable bowel syndrome?"))
    once("coeliac_test", lambda: _ask(f"Coeliac blood test: {', '.join(_COELIAC)}", _coeliac))
    if screening["coeliac_test"] in {"negative", "positive"}:
        once("coeliac_test_on_gluten", lambda: _yes("Was gluten eaten when the blood was taken?"))
    once("alarm_features", lambda: _pick("Alarm features", ALARM_QUESTIONS))
    if "conditions" not in screening:
        picked: list[str] = []
        for heading, questions in CONDITION_QUESTIONS.items():
            picked += _pick(heading, questions)
        screening["conditions"] = picked
    warn("")
    once("allergies", lambda: _ask("Food allergies, known or suspected (or none)", _words))
    once("medicines", lambda: _ask("Medicines (or none)", _words))
    once("restriction_weeks", lambda: _ask("Weeks of restriction so far", _weeks))
    once("restriction_helped", lambda: _yes("Did the restriction help?"))
    once("restriction_measure", lambda: _ask("Measured by (such as IBS-SSS, or none)", _measure))
    if screening["restriction_measure"]:
        once("restriction_change", _fall)
    if "diet" not in document:
        names = {name: name for name in EXCLUSIONS}
        document["diet"] = {"exclusions": _pick("What the client's diet leaves out", names)}


def confirmed(screening: Mapping[str, Any], document: Mapping[str, Any]) -> bool:
    """Show the answers and ask whether they are to be written."""
    warn("\nYou answered:")
    for line in _summary(screening, document):
        warn(f"  {line}")
    return _yes("Write these answers?")


def _summary(screening: Mapping[str, Any], document: Mapping[str, Any]) -> Iterator[str]:
    test = screening["coeliac_test"]
    on_gluten = screening.get("coeliac_test_on_gluten")
    if on_gluten is not None:
        test += ", on gluten" if on_gluten else ", off gluten"
    helped = "helped" if screening["restriction_helped"] else "did not help"
    weeks = screening.get("restriction_weeks")
    lasted = f", {weeks:g} weeks" if weeks is not None else ""
    measured = ""
    if screening.get("restriction_measure") and screening.get("restriction_change") is not None:
        measured = (
            f", {screening['restriction_measure']} fell by {screening['restriction_change']:g}"
        )
    yield f"diagnosed by a doctor: {'yes' if screening['diagnosed_by_doctor'] else 'no'}"
    yield f"coeliac blood test: {test}"
    for key in ("alarm_features", "conditions", "allergies", "medicines"):
        yield f"{key.replace('_', ' ')}: {', '.join(screening.get(key, ())) or 'none'}"
    yield f"restriction: {helped}{lasted}{measured}"
    yield f"diet: {', '.join(document.get('diet', {}).get('exclusions', ())) or 'no exclusion'}"


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
