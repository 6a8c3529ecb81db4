"""``challenge audit``: all clients below a directory."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from challenge.commands.app import app
from challenge.commands.clock import today
from challenge.commands.screen import say, say_json, warn

if TYPE_CHECKING:
    import datetime as dt

    from challenge.practice.run import Task
    from challenge.practice.trust import Trust


@app.command()
def audit(
    directory: Annotated[
        Path, typer.Argument(metavar="DIR", help="The directory that holds the client folders.")
    ],
    csv: Annotated[
        Path | None, typer.Option(metavar="FILE", help="One row per client and group.")
    ] = None,
    jsonl: Annotated[
        Path | None, typer.Option(metavar="FILE", help="One line of JSON per client.")
    ] = None,
    html: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A report with figures, one page.")
    ] = None,
    hide_below: Annotated[
        int,
        typer.Option(
            min=1, metavar="N", help="In the report, hide what could point to fewer than N clients."
        ),
    ] = 1,
    truth: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Truth of invented clients, from `challenge simulate`."),
    ] = None,
    jobs: Annotated[int, typer.Option(min=1, help="Processes at work.")] = 1,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on where an interrupted run ended.")
    ] = False,
    afresh: Annotated[
        bool, typer.Option("--afresh", help="Throw an interrupted run away and begin anew.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the summary as JSON.")] = False,
) -> None:
    """Analyse every client below DIR; one bad folder never stops the rest.

    An interrupted run goes on as of the day on which it was begun, and only under the same version
    of the program and the same settings.

    Example: challenge audit practice --csv audit.csv --html audit.html --jobs 2
    """
    from challenge.files.atomic import write_atomic
    from challenge.practice.audit import read_spool, write_csv
    from challenge.practice.run import prepare, spool_for

    if resume and afresh:
        raise typer.BadParameter("either --resume or --afresh, not both.")
    told = _read_truth(truth)
    target = jsonl or csv or html
    with _interruption_told(kept=target is not None), spool_for(target) as spool:
        task = prepare(directory, spool, resume, today(), afresh)
        if task.as_of != today():
            warn(f"Goes on as of {task.as_of}, the day on which it was begun.")
        _carry_out(task, jobs)
        problems = [r["client"] for r in read_spool(spool) if r["problem"] is not None]
        summary: dict[str, Any] = {"clients": len(task.folders), "with_a_problem": len(problems)}
        lines = [f"{len(task.folders)} clients, {len(problems)} of them with a problem."]
        if csv is not None:
            write_csv(csv, spool)
            summary["csv"] = str(csv)
            lines.append(f"One row per client and group: {csv}")
        trust = None
        if told is not None:
            trust, summary["against_truth"], table = _against_truth(spool, told)
            lines += ["", *table]
        if html is not None:
            write_atomic(html, _report(spool, task.as_of or today(), hide_below, trust))
            summary["html"] = str(html)
            lines.insert(1, f"Report: {html}")
        if jsonl is not None:
            spool.replace(jsonl)
            summary["jsonl"] = str(jsonl)
        else:
            spool.unlink()
    if as_json:
        say_json(summary)
    else:
        say("\n".join(lines))


@contextmanager
def _interruption_told(kept: bool) -> Iterator[None]:
    try:
        yield
    except KeyboardInterrupt:
        if kept:
            warn("Interrupted. What is done is kept; the same command with --resume goes on.")
        else:
            warn("Interrupted. Nothing is kept without --csv, --jsonl or --html.")
        sys.exit(130)


def _carry_out(task: Task, jobs: int) -> None:
    from challenge.files.atomic import FILE_MODE
    from challenge.practice.run import carry_out

    task.spool.touch(mode=FILE_MODE)
    records = carry_out(task, jobs)
    if not sys.stderr.isatty():
        for _ in records:
            pass
        return
    from rich.console import Console
    from rich.progress import track

    for _ in track(
        records, "Auditing", total=len(task.todo), console=Console(stderr=True), transient=True
    ):
        pass


def _read_truth(path: Path | None) -> dict[Any, Any] | None:
    from challenge.practice.truth import read_truth

    return None if path is None else read_truth(path)


def _against_truth(spool: Path, told: dict[Any, Any]) -> tuple[Trust, dict[str, Any], list[str]]:
    from challenge.practice.audit import read_spool
    from challenge.practice.trust import as_json, as_lines, trust_in
    from challenge.practice.truth import lay_beside

    found = trust_in(lay_beside(read_spool(spool), told))
    return found, as_json(found), as_lines(found)


def _report(spool: Path, as_of: dt.date, least: int, trust: Trust | None) -> str:
    from challenge import __version__
    from challenge.practice.audit import read_spool
    from challenge.practice.population import population_of
    from challenge.practice.report import render
    from challenge.practice.summary import summarise

    found = summarise(population_of(read_spool(spool)))
    return render(found, as_of, __version__, least, trust)
