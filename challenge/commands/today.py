"""``challenge today``: where the client stands and what to do, in one screen."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import today as today_by_the_clock
from challenge.commands.screen import say, say_json

if TYPE_CHECKING:
    from challenge.protocol.guidance import Guidance, Portion
    from challenge.protocol.plan import PlanDay


@app.command()
def today(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    why: Annotated[
        bool, typer.Option("--why", help="Add the numbers behind it, for the dietitian.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Say which day this is, what to eat and score, and what comes tomorrow.

    Example: challenge today juniper
    """
    from challenge.commands.diary_record import read_record
    from challenge.files.folder import PLAN, client_folder
    from challenge.files.reading import read_plan, read_settings
    from challenge.protocol.guidance import as_json as guidance_json
    from challenge.protocol.guidance import guide

    folder = client_folder(client)
    guidance = guide(
        read_plan(folder / PLAN),
        read_record(folder),
        read_settings(folder),
        today_by_the_clock(),
    )
    if as_json:
        say_json({"schema": 1, **guidance_json(guidance)})
        return
    for line in lines_for_client(guidance):
        say(line)
    if why:
        say()
        for line in lines_for_dietitian(guidance):
            say(line)


def lines_for_client(guidance: Guidance) -> list[str]:
    """Return what the client reads."""
    head = f"{guidance.date:%A %d %B %Y}"
    if guidance.number is not None:
        head += f", day {guidance.number} of {guidance.length}"
    if guidance.alarms:
        return [head, "", *_doctor(guidance)]
    lines = [head, "", *_what_now(guidance)]
    if guidance.situation not in {"before", "after"}:
        lines += ["", _score(guidance)]
    tomorrow = _tomorrow(guidance)
    if tomorrow:
        lines += ["", tomorrow]
    if guidance.moved:
        lines += ["", "The plan has moved. Your dietitian can write the new one for you."]
    return lines


def _doctor(guidance: Guidance) -> list[str]:
    lines = [
        "Contact your doctor before you go on with the plan. You wrote:",
        *(f"  {alarm.date:%d %B}: {alarm.text}" for alarm in guidance.alarms),
    ]
    if any(alarm.urgent for alarm in guidance.alarms):
        lines.append("If it is happening now, call the emergency number.")
    return lines


def _what_now(guidance: Guidance) -> list[str]:
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
        f"Eat today: {_words(portion)}",
        f"When: {guidance.eat_at}",
        "Otherwise keep to your low-FODMAP diet. You may stop at any time; write it in your notes.",
    ]


def _words(portion: Portion) -> str:
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


def _tomorrow(guidance: Guidance) -> str:
    day = guidance.tomorrow
    if day is None:
        return ""
    if guidance.tomorrow_portion is not None:
        return f"Tomorrow: {_words(guidance.tomorrow_portion)}{_if_settled(guidance, day)}."
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


def lines_for_dietitian(guidance: Guidance) -> list[str]:
    """Return the numbers behind it."""
    standing = guidance.progress
    lines = ["For the dietitian"]
    means = ", ".join(f"{name} {mean:.1f}" for name, mean in standing.baseline.items())
    lines.append(
        f"  baseline: {standing.baseline_days} scored days" + (f"; {means}" if means else "")
    )
    for course in standing.courses.values():
        eaten = (
            ", ".join(
                f"step {s} on {n} day{'s' if n > 1 else ''}"
                for s, n in sorted(course.eaten.items())
            )
            or "nothing"
        )
        end = f"; ended {course.stop.date}: {course.stop.words}" if course.stop else ""
        lines.append(f"  {course.fodmap_group}, cycle {course.cycle}: eaten {eaten}{end}")
    washout = standing.washout
    if washout is not None and guidance.situation not in {"dose", "dose-eaten"}:
        above = ", ".join(f"{name} {value:+.1f}" for name, value in washout.above.items())
        lines.append(
            f"  washout after {washout.fodmap_group}: {washout.days} full days, settled: "
            f"{washout.settled}, over: {'yes' if washout.over else 'no'}"
            + (f"; against baseline {above}" if above else "")
        )
    for span in standing.held:
        lines.append(f"  held up {span.start} to {span.end}: {span.reason}")
    lines += [f"  {reason}" for reason in guidance.moved]
    if guidance.portion is not None:
        p = guidance.portion
        what = "sealed" if p.fodmap_g is None else f"{p.fodmap_g:g} g {p.fodmap_group}"
        lines.append(f"  dose: {what}, step {p.step} of {p.steps}")
    for alarm in guidance.alarms:
        lines.append(f"  {alarm.sign}, {alarm.file}, {alarm.date}")
    if guidance.alarms:
        lines.append(
            "  once the doctor has answered: challenge new CLIENT --doctor diary-alarm=GP --by AB"
        )
    last = guidance.last_entry
    if last is None or last < guidance.date - dt.timedelta(days=1):
        lines.append(f"  last entry in the diary: {last or 'none'}")
    return lines
