"""What a client reads of a day, whichever command says it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from challenge.protocol.alarms import Alarm
    from challenge.protocol.guidance import Guidance, Portion
    from challenge.protocol.plan import PlanDay


def lines_for_client(guidance: Guidance) -> list[str]:
    """Return one day in one screen."""
    head = f"{guidance.date:%A %d %B %Y}"
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
        lines += ["", "The plan has moved. Your dietitian can write the new one for you."]
    return lines


def doctor_lines(alarms: Sequence[Alarm]) -> list[str]:
    """Return what to do about words that belong before a doctor."""
    lines = [
        "Contact your doctor before you go on with the plan. You wrote:",
        *(f"  {alarm.date:%d %B}: {alarm.text}" for alarm in alarms),
    ]
    if any(alarm.urgent for alarm in alarms):
        lines.append("If it is happening now, call the emergency number.")
    return lines


def what_now(guidance: Guidance) -> list[str]:
    """Return what to eat or not to eat on this day."""
    match guidance.situation:
        case "before":
            return ["Your plan has not begun yet."]
        case "after":
            return ["Your plan is finished. Talk the results over with your dietitian."]
        case "baseline":
            return [
                "No challenge food today. Keep to your low-FODMAP diet.",
                "These first days show how you are without any challenge.",
            ]
        case "dose":
            return _dose(guidance)
        case "dose-eaten":
            return [
                "You have eaten today's challenge food. Nothing more of it today.",
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
    return [
        f"Eat today: {portion_words(portion)}",
        f"When: {guidance.eat_at}",
        "Otherwise keep to your low-FODMAP diet. You may stop at any time; write it in your notes.",
    ]


def portion_words(portion: Portion) -> str:
    """Return the portion as a kitchen understands it."""
    household = f" ({portion.household})" if portion.household else ""
    return f"{portion.amount} {portion.food}{household}"


def _washout(guidance: Guidance) -> list[str]:
    lines = []
    stop = guidance.stop
    if stop is not None:
        lines.append(
            "You stopped this challenge, as you wished."
            if stop.reason == "wish"
            else "Stop this challenge: your symptoms rose clearly. That is a result too."
        )
    lines.append("No challenge food today: your body has a break. Keep to your low-FODMAP diet.")
    washout = guidance.progress.washout
    if washout is None:
        return lines
    if washout.ask:
        lines.append("The break has lasted long enough. Ask your dietitian how to go on.")
    elif washout.settled == "no":
        lines.append("The break lasts until your symptoms are back to how they were at the start.")
    elif washout.settled == "unknown" and washout.days > 0:
        lines.append("Write your scores: without them nobody can tell when the break is over.")
    return lines


def _score(guidance: Guidance) -> str:
    names = ", ".join(guidance.symptoms)
    when = ", ".join(guidance.parts)
    if guidance.ratings > len(guidance.parts):
        when = f"{guidance.ratings} times, spread over {when}"
    return f"Score {when} (0 none, 10 worst): {names}."


def tomorrow_line(guidance: Guidance) -> str:
    """Return what the next day brings; empty where nothing can be said."""
    day = guidance.tomorrow
    if day is None:
        return ""
    if guidance.tomorrow_portion is not None:
        return f"Tomorrow: {portion_words(guidance.tomorrow_portion)}{_if_settled(guidance, day)}."
    return f"Tomorrow: {_PHASES[day.phase]}."


_PHASES = {
    "baseline": "no challenge food",
    "washout": "no challenge food, the break goes on",
    "rest": "a rest day, no challenge food",
    "challenge": "challenge food",
}


def _if_settled(guidance: Guidance, day: PlanDay) -> str:
    washout = guidance.situation == "washout"
    return ", if your symptoms stay settled" if washout and day.step == 1 else ""
