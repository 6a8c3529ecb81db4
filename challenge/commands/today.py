"""``challenge today``: where the client stands and what to do, in one screen."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.client_lines import lines_for_client
from challenge.commands.clock import today as today_by_the_clock
from challenge.commands.screen import say, say_json, wrapped

if TYPE_CHECKING:
    from challenge.protocol.guidance import Guidance
    from challenge.protocol.progress import CourseProgress, Washout
    from challenge.protocol.settings import ProtocolSettings
    from challenge.protocol.stopping import Stop


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
    settings = read_settings(folder)
    record = read_record(folder)
    guidance = guide(read_plan(folder / PLAN), record, settings, today_by_the_clock())
    if as_json:
        say_json({"schema": 1, **guidance_json(guidance)})
        return
    for line in lines_for_client(guidance):
        say(wrapped(line))
    if why:
        say()
        say("For the dietitian")
        for line in lines_for_dietitian(guidance):
            say(wrapped(line, "  ", "      "))


def lines_for_dietitian(guidance: Guidance) -> list[str]:
    """Return the numbers behind it."""
    standing, protocol = guidance.progress, guidance.rules
    means = ", ".join(f"{name} {mean:.1f}" for name, mean in standing.baseline.items())
    scored = f"baseline: {standing.baseline_days} of {protocol.baseline_days} days scored"
    lines = [scored + (f"; {means}" if means else "")]
    lines += [_course_line(course) for course in standing.courses.values()]
    if guidance.stop is not None:
        lines += _how_sure(guidance.stop, protocol)
    washout = standing.washout
    dosing = guidance.situation in {"dose", "dose-eaten"}
    starting = guidance.portion is not None and guidance.portion.first
    if washout is not None and (starting or not dosing):
        lines.append(_washout_line(washout, protocol))
    for span in standing.held:
        lines.append(f"held up {span.start} to {span.end}: {span.reason}")
    # what a stop was for stands with its challenge already
    told = {course.stop.words for course in standing.courses.values() if course.stop}
    lines += [r for r in guidance.moved if not any(words in r for words in told)]
    if guidance.moved:
        lines.append("later days have moved: `challenge plan` writes them")
    lines += _dose_lines(guidance, protocol)
    for alarm in guidance.alarms:
        lines.append(f"{alarm.sign}, {alarm.file}, {alarm.date}")
    if guidance.alarms:
        from challenge.commands.waiting import answer_command

        lines.append(f"once the doctor has answered: {answer_command(Path('CLIENT'))}")
    last = guidance.last_entry
    if last is None or last < guidance.date - dt.timedelta(days=1):
        lines.append(f"last entry in the diary: {last or 'none'}")
    return lines


def _course_line(course: CourseProgress) -> str:
    eaten = [f"step {step} on {_days(n)}" for step, n in sorted(course.eaten.items())]
    end = f"; ended {course.stop.date}: {course.stop.words}" if course.stop else ""
    if course.stop_left_out is not None:
        end += f"; the analysis leaves that day out ({course.stop_left_out})"
    done = ", ".join(eaten) or "nothing eaten"
    return f"{course.fodmap_group}, cycle {course.cycle}: {done}{end}"


def _how_sure(stop: Stop, protocol: ProtocolSettings) -> list[str]:
    """Say how little a stop proves, where that is known: for the rule as it comes."""
    from challenge.protocol.settings import StopRule
    from challenge.protocol.stopping import FALSE_STOPS

    if stop.reason == "wish" or protocol.stop != StopRule():
        return []
    share = f"{100 * FALSE_STOPS:.0f} %"
    return [
        f"a stop is no proof: on invented clients this rule ends about {share} of the challenges "
        "of groups that they tolerate"
    ]


def _days(n: int) -> str:
    return f"{n} day" + ("" if n == 1 else "s")


def _washout_line(washout: Washout, protocol: ProtocolSettings) -> str:
    above = ", ".join(f"{name} {one.rise:+.1f}" for name, one in washout.above.items())
    line = (
        f"washout after {washout.fodmap_group}: {_days(washout.days)} without a dose, "
        f"at least {protocol.washout_days}; settled: {washout.settled}"
    )
    if above:
        line += (
            f" (mean of the last {_days(protocol.settled_days)} against baseline, at most "
            f"{protocol.settled_within:+g} each: {above})"
        )
    return f"{line}; over: {'yes' if washout.over else 'no'}"


def _dose_lines(guidance: Guidance, protocol: ProtocolSettings) -> list[str]:
    portion = guidance.portion
    if portion is None:
        return []
    what = (
        "sealed" if portion.fodmap_g is None else f"{portion.fodmap_g:g} g {portion.fodmap_group}"
    )
    rule = protocol.stop
    return [
        f"dose: {what}, step {portion.step} of {portion.steps}",
        f"stop rule: {rule.level:g} or more, or {rule.rise:g} above its baseline mean, in "
        f"{rule.slots} parts of one day on the same symptom; or the client's wish",
    ]
