"""``challenge check``: every problem of a client's folder, and how complete the diary is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from challenge.commands.app import app
from challenge.commands.clock import today as today_by_the_clock
from challenge.commands.screen import say, say_json, warn, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from challenge.diary.model import Diary
    from challenge.problems import Problem
    from challenge.protocol.plan import Plan
    from challenge.protocol.settings import Settings

_RANK = {"error": 0, "warning": 1, "note": 2}
_T = TypeVar("_T")


@dataclass(frozen=True, kw_only=True)
class Checked:
    """What a check found.

    Attributes
    ----------
    problems
        Errors first, each severity by kind and date.
    completeness
        Share of the expected scores given, 0 to 1, per phase and as ``all``; None if the diary or
        the plan could not be read.
    """

    client: str
    problems: tuple[Problem, ...]
    completeness: Mapping[str, float] | None


@app.command()
def check(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """List every problem of the diary, by itself and against the plan. Nothing is changed.

    Ends with 1 if there is an error; warnings alone are for reading.

    Example: challenge check sample_diaries/hazel
    """
    from challenge.problems import errors_in

    checked = check_folder(client, today_by_the_clock())
    if as_json:
        say_json(_as_json(checked))
    else:
        for line in problem_lines(checked.problems):
            warn(line)
        for line in summary_lines(checked):
            say(line)
    if errors_in(checked.problems):
        raise typer.Exit(1)


def check_folder(client: Path, today: dt.date) -> Checked:
    """Check a client's folder as it is on a day.

    Raises
    ------
    ChallengeError
        If there is no such folder. Whatever is wrong inside it is a problem of the list.
    """
    from challenge.files.folder import PLAN, SETTINGS, client_code, client_folder
    from challenge.files.reading import (
        plan_problems,
        read_diary,
        read_plan,
        read_settings_and_problems,
    )

    folder = client_folder(client)
    problems: list[Problem] = []
    plan = _read(lambda: read_plan(folder), PLAN, problems)
    if plan is not None and (found := plan_problems(plan)):
        # against such a plan every dose would be one too many
        problems += found
        plan = None
    known = _read(lambda: read_settings_and_problems(folder), SETTINGS, problems)
    shares = None
    # without the settings nobody can tell which columns and symptoms are right
    if known is not None:
        settings, found = known
        problems += found
        diary = _read(lambda: read_diary(folder, settings=settings), None, problems)
        if diary is not None:
            problems += diary.problems
            problems += _in_the_diary(diary, plan, settings, today)
            shares = _completeness(diary, plan, settings, today)
    return Checked(
        client=client_code(folder), problems=tuple(_in_order(problems)), completeness=shares
    )


def _read(read: Callable[[], _T], file: str | None, problems: list[Problem]) -> _T | None:
    """Read something; what keeps it from being read joins the list."""
    from challenge.problems import Problem, errors_in

    try:
        return read()
    except ChallengeError as error:
        problems += error.problems
        if not errors_in(error.problems):
            what, _, remedy = error.message.partition(". ")
            problems.append(
                Problem(
                    code="not-there",
                    severity="error",
                    file=file,
                    message=f"{what.removesuffix('.')}.",
                    remedy=remedy or "Bring entries in with `challenge add`.",
                )
            )
        return None


def _in_the_diary(
    diary: Diary, plan: Plan | None, settings: Settings, today: dt.date
) -> list[Problem]:
    from challenge.diary.checks import check_entries
    from challenge.protocol.adherence import check_adherence

    found = check_entries(diary, today)
    if plan is not None:
        found += check_adherence(diary, plan, settings, today)
    return found


def _completeness(
    diary: Diary, plan: Plan | None, settings: Settings, today: dt.date
) -> Mapping[str, float] | None:
    """Completeness of the days that are over."""
    from challenge.analysis.days import build_day_scores, completeness
    from challenge.model.sessions import build_sessions
    from challenge.protocol.plan import Plan

    over = Plan(days=tuple(day for day in plan or () if day.date < today))
    if not len(over):
        return None
    sessions = build_sessions(diary.symptoms, over.days[0].date, over.days[-1].date)
    return completeness(build_day_scores(sessions, over), settings.diary.ratings_per_day)


def _in_order(problems: Sequence[Problem]) -> list[Problem]:
    kinds = {code: n for n, code in enumerate(dict.fromkeys(p.code for p in problems))}
    return sorted(
        problems, key=lambda p: (_RANK[p.severity], kinds[p.code], p.date or "", p.line or 0)
    )


def problem_lines(problems: Sequence[Problem]) -> list[str]:
    """Return the list as text: by severity and kind, the remedy once for each kind."""
    groups: dict[tuple[str, str, str, str], list[Problem]] = {}
    for problem in problems:
        key = (problem.severity, problem.code, problem.file or "", problem.remedy)
        groups.setdefault(key, []).append(problem)
    lines = []
    for (severity, code, file, remedy), members in groups.items():
        where = f" in {file}" if file else ""
        count = f" ({len(members)})" if len(members) > 1 else ""
        lines.append(wrapped(f"{severity}: {code}{where}{count}", hanging="  "))
        for problem in members:
            lines.append(wrapped(_said(problem), "  - ", "    "))
        if remedy:
            lines.append(wrapped(remedy, "  > ", "    "))
        lines.append("")
    return lines


def _said(problem: Problem) -> str:
    """Return one problem below the head that names its file."""
    on_a_day = problem.line is None and problem.date is not None
    place = problem.date if on_a_day else replace(problem, file=None).place()
    found = f" Found: {problem.value!r}." if problem.value not in (None, "") else ""
    return f"{place}: {problem.message}{found}" if place else f"{problem.message}{found}"


def summary_lines(checked: Checked) -> list[str]:
    """Return the counts, and completeness per phase."""
    counts = [
        f"{n} {severity}{'' if n == 1 else 's'}"
        for severity in _RANK
        if (n := sum(p.severity == severity for p in checked.problems))
    ]
    lines = [wrapped(f"{checked.client}: {', '.join(counts) or 'no problem found'}.")]
    if checked.completeness:
        phases = [
            f"{name} {_percent(v)}" for name, v in checked.completeness.items() if name != "all"
        ]
        lines.append(
            wrapped(
                f"Scores given, of those expected on the days that are over: "
                f"{_percent(checked.completeness['all'])} ({', '.join(phases)})."
            )
        )
    return lines


def _percent(share: float) -> str:
    # 99.6 % is not complete; 29 % is not 28 for the sake of a last binary digit
    return f"{int(100 * share + 1e-9)} %"


def _as_json(checked: Checked) -> dict[str, object]:
    return {
        "schema": 1,
        "client": checked.client,
        **{
            f"{severity}s": sum(p.severity == severity for p in checked.problems)
            for severity in _RANK
        },
        "completeness": dict(checked.completeness) if checked.completeness is not None else None,
        "problems": [asdict(problem) for problem in checked.problems],
    }
