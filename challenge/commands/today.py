"""``challenge today``: where the client stands and what to do, in one screen."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.client_lines import lines_for_client
from challenge.commands.clock import today as today_by_the_clock
from challenge.commands.screen import say, say_json

if TYPE_CHECKING:
    from challenge.protocol.guidance import Guidance


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
