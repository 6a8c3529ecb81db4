"""What a client reads of a day, whichever command says it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from challenge.protocol.alarms import Alarm
    from challenge.protocol.guidance import Guidance, Portion


def lines_for_client(guidance: Guidance) -> list[str]:
    """Return one day in one screen."""
    head = f"{day_words(guidance.date)} {guidance.date.year}"
    if guidance.number is not None:
        head += f", day {guidance.number} of {guidance.length}"
    if guidance.alarms:
        return [head, "", *doctor_lines(guidance.alarms)]
    lines = [head, "", *what_now(guidance)]
    if guidance.situation not in {"before", "after"}:
        lines += ["", _score(guidance)]
    tomorrow = tomorrow_line(guidance)
    if tomorrow:
        lines += ["", tomorrow]
    if guidance.moved:
        lines += [
            "",
            "Later days of your plan have moved. Your dietitian can give you the new one.",
        ]
    return lines


def day_words(date: dt.date) -> str:
    """Return a date as people say it: Monday 9 March."""
    return f"{date:%A} {date.day} {date:%B}"


def doctor_lines(alarms: Sequence[Alarm]) -> list[str]:
    """Return what to do about words that belong before a doctor."""
    lines = [
        "Contact your doctor before you go on with the plan. You wrote:",
        *(f"  {day_words(alarm.date)}: {alarm.text}" for alarm in alarms),
    ]
    if any(alarm.urgent for alarm in alarms):
        lines.append("If it is happening now, call the emergency number.")
    return lines


def what_now(guidance: Guidance) -> list[str]:
    """Return what to eat or not to eat on this day."""
    match guidance.situation:
        case "before":
            begins = f" It begins on {day_words(guidance.begins)}." if guidance.begins else ""
            return [f"Your plan has not begun yet.{begins}"]
        case "after":
            return ["Your plan is finished. Talk the results over with your dietitian."]
        case "baseline":
            return [
                "No challenge food today. Keep to your low-FODMAP diet.",
                f"These first days show how you are without any challenge.{_first_dose(guidance)}",
            ]
        case "dose":
            return _dose(guidance)
        case "dose-eaten":
            return [
                "You have eaten today's challenge food. Nothing more of it today.",
                *_stop_line(guidance),
                "Keep to your low-FODMAP diet.",
            ]
        case "between":
            return ["A day without challenge food, between two doses. Keep to your diet."]
        case "rest":
            return ["A rest day: no challenge food. Keep to your low-FODMAP diet."]
        case _:
            return _washout(guidance)


def _dose(guidance: Guidance) -> list[str]:
    portion = guidance.portion
    if portion is None:
        return ["A challenge day, but the plan gives no portion. Ask your dietitian."]
    washout = guidance.progress.washout
    back = portion.first and washout is not None and washout.over
    return [
        *(["The break is over: your symptoms are back to how they were at the start."] * back),
        f"Eat today: {portion_words(portion)}",
        *_unknown_before(guidance, portion),
        f"When: {guidance.eat_at}",
        "Otherwise keep to your low-FODMAP diet. You may stop at any time; write it in your notes.",
    ]


def _unknown_before(guidance: Guidance, portion: Portion) -> list[str]:
    """Return on what condition the dose is eaten where no entry tells that it holds."""
    if guidance.last_entry is not None:
        return []
    if not portion.first:
        return [
            "Eat it only if you ate the amount before it and it went well, and without a warning "
            "sign. If not, ask your dietitian first: nothing is in your diary here yet."
        ]
    return [
        "Start only without a warning sign, and if your symptoms are as they were before. If not, "
        "ask your dietitian first: nothing is in your diary here yet."
    ]


def portion_words(portion: Portion) -> str:
    """Return the portion as a kitchen understands it."""
    household = f" ({portion.household})" if portion.household else ""
    return f"{portion.amount} {portion.food}{household}"


def _first_dose(guidance: Guidance) -> str:
    date = guidance.next_dose
    if date is None or guidance.tomorrow_portion is not None:
        return ""
    return f" The first challenge food comes on {day_words(date)}."


def _stop_line(guidance: Guidance) -> list[str]:
    """Return that the challenge is over: what to do while it is new, later what happened."""
    stop = guidance.stop
    if stop is None:
        return []
    challenge = f"challenge with {guidance.stopped_food}"
    if stop.reason == "wish":
        return [f"The {challenge} is over, as you wished."]
    why = "your symptoms were strong" if stop.reason == "level" else "your symptoms rose clearly"
    if (guidance.date - stop.date).days > 1:
        return [f"The {challenge} ended on {day_words(stop.date)}: {why}."]
    return [f"Stop the {challenge}: {why}. That is a result too."]


_UNTOLD = "Write your scores: without them nobody can tell when the break is over."


def _washout(guidance: Guidance) -> list[str]:
    lines = _stop_line(guidance)
    lines.append("No challenge food today: your body has a break. Keep to your low-FODMAP diet.")
    washout = guidance.progress.washout
    if washout is None:
        return lines
    if washout.ask:
        lines.append("The break has lasted long enough. Ask your dietitian how to go on.")
        return [*lines, _UNTOLD] if washout.settled == "unknown" else lines
    back = "back to how they were at the start"
    if guidance.next_dose is None:
        lines.append("It is the last break of your plan.")
        if washout.settled == "yes":
            lines.append(f"So far your symptoms are {back}.")
        elif washout.settled == "no":
            lines.append(f"Your symptoms are not {back} yet.")
        return lines
    elif guidance.tomorrow_portion is None:
        last = day_words(guidance.next_dose - dt.timedelta(days=1))
        lines.append(f"The break lasts at least until {last}, and until your symptoms are {back}.")
    elif washout.settled == "yes":
        return [*lines, f"Your symptoms are {back}. If they stay so, the break ends tonight."]
    else:
        lines.append(f"The break lasts until your symptoms are {back}.")
    if washout.settled == "yes":
        lines.append("So far they are.")
    elif washout.settled == "no":
        lines.append("They are not yet.")
    elif washout.days > 0:
        lines.append(_UNTOLD)
    return lines


def _score(guidance: Guidance) -> str:
    names = ", ".join(guidance.symptoms)
    when = ", ".join(guidance.parts)
    if guidance.ratings > len(guidance.parts):
        when = f"{guidance.ratings} times, spread over {when}"
    return f"Score {when}, 0 (none) to 10 (worst): {names}."


def tomorrow_line(guidance: Guidance) -> str:
    """Return what the next day brings; empty where nothing can be said."""
    day = guidance.tomorrow
    washout = guidance.progress.washout
    asked_first = guidance.situation == "washout" and washout is not None and washout.ask
    if day is None or asked_first:
        return ""
    if guidance.tomorrow_portion is not None:
        return f"Tomorrow: {portion_words(guidance.tomorrow_portion)}{_if_settled(guidance)}."
    if day.phase == "washout" and guidance.situation in {"dose", "dose-eaten"}:
        return "Tomorrow: no challenge food, a break begins."
    return f"Tomorrow: {_PHASES[day.phase]}."


_PHASES = {
    "baseline": "no challenge food",
    "washout": "no challenge food, the break goes on",
    "rest": "a rest day, no challenge food",
    "challenge": "challenge food",
}


def _if_settled(guidance: Guidance) -> str:
    washout, portion = guidance.progress.washout, guidance.tomorrow_portion
    if guidance.situation != "washout" or washout is None or portion is None or not portion.first:
        return ""
    state = "stay" if washout.settled == "yes" else "have"
    return f", if your symptoms {state} settled"
