"""Read a client's folder, or single files: settings, plan and diary, all problems at once."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from challenge.errors import ChallengeError
from challenge.files import folder as names
from challenge.problems import Problem, errors_in

if TYPE_CHECKING:
    from challenge.diary.model import Diary
    from challenge.diary.options import ReadOptions
    from challenge.diary.planned import PlannedFood
    from challenge.diary.rows import Rows
    from challenge.diary.sachets import SachetContent
    from challenge.protocol.blinding import Trial
    from challenge.protocol.plan import Plan
    from challenge.protocol.settings import Settings

PathLike = str | os.PathLike[str]


def read_diary(first: PathLike, *more: PathLike, settings: Settings | None = None) -> Diary:
    """Read a diary.

    Parameters
    ----------
    first
        A client's folder; or the file of foods, followed by those of scores and, if there are
        any, of disturbances. Files are told apart by their columns.
    more
        Further files.
    settings
        Settings of the client; by default those of the folder.

    Returns
    -------
    Diary
        Warnings and notes are in its ``problems``.

    Raises
    ------
    ChallengeError
        If any file has an error; it carries every problem of every file.
    """
    from challenge.diary.fill import fill_in
    from challenge.diary.model import Diary
    from challenge.diary.places import places_of
    from challenge.diary.planned import fill_planned, lacks_figures
    from challenge.diary.rows import Rows
    from challenge.diary.sachets import fill_sachets
    from challenge.diary.tables import events_table, foods_table, symptoms_table
    from challenge.diary.twice import check_rows
    from challenge.files.import_store import stale_problems

    path = Path(first)
    problems: list[Problem] = []
    contents: dict[str, SachetContent] = {}
    client = ""
    if not more and not path.is_file():
        path = names.client_folder(path)
        client = names.client_code(path)
        paths = [path / name for name in names.TABLES if (path / name).exists()]
        # a diary may begin with an event, and that may be what a doctor must hear
        if not paths:
            raise ChallengeError(
                f"{path} holds no diary yet: neither {names.FOODS} nor {names.SYMPTOMS}. "
                "Bring one in with `challenge add`."
            )
        if settings is None:
            settings, found = read_settings_and_problems(path)
            problems += found
        problems += stale_problems(path)
        if (path / names.BLINDED).is_dir():
            from challenge.files.blinding import read_trials, sachet_contents

            contents = sachet_contents(read_trials(path))
    else:
        paths = [path, *(Path(name) for name in more)]
    options = read_options(settings, on_record=bool(client))
    rows = Rows(problems=problems)
    for one in paths:
        rows.extend(read_rows(one, options))
    places = places_of(rows)
    rows, found = check_rows(rows)
    rows.problems += found
    _stop_at_errors(rows.problems, "The diary cannot be used as it is.")
    if not (rows.foods or rows.count("symptoms") or rows.events):
        raise ChallengeError(
            "The diary holds no entry: no food, no score and no event.", rows.problems
        )
    foods, opened = fill_sachets(foods_table(rows.foods), contents)
    in_plan = _planned_foods(path) if client and lacks_figures(foods) else []
    foods, planned = fill_planned(foods, in_plan)
    foods, notes = fill_in(foods)
    return Diary(
        foods=foods,
        symptoms=symptoms_table(rows.symptoms, rows.plain),
        events=events_table(rows.events),
        client=client,
        places=places,
        problems=(*rows.problems, *opened, *planned, *notes),
    )


def _planned_foods(folder: Path) -> list[PlannedFood]:
    """Return what a folder's plan knows of its foods; its problems are told where it is read."""
    from challenge.diary.planned import PlannedFood
    from challenge.files.plan_file import parse_plan

    text = _text(folder / names.PLAN)
    days = [] if isinstance(text, Problem) else parse_plan(text, names.PLAN)[0]
    return [
        PlannedFood(day.date, day.food, day.fodmap_group, day.fodmap_g, day.portion_g)
        for day in days
        if day.phase == "challenge" and day.fodmap_group and day.fodmap_g and day.portion_g
    ]


def read_rows(path: Path, options: ReadOptions) -> Rows:
    """Read one file of any kind; what cannot be read is a problem, never an exception."""
    from challenge.diary.intake import read_bytes
    from challenge.diary.rows import Rows

    data = file_bytes(path)
    if isinstance(data, Problem):
        return Rows(problems=[data])
    return read_bytes(data, path.name, options)


def read_options(settings: Settings | None, **told: Any) -> ReadOptions:
    """Return what a reader must know of a client, from the settings and what the person said."""
    from challenge.diary.options import ReadOptions

    if settings is None:
        return ReadOptions(**told)
    return ReadOptions(
        symptoms=settings.diary.symptoms,
        columns=settings.diary.columns,
        timezone=settings.diary.timezone,
        **told,
    )


def read_plan(path: PathLike) -> Plan:
    """Read ``plan.csv`` (or the one in a folder).

    Raises
    ------
    ChallengeError
        With every problem of the file: unknown phase or group, a date twice, no plan at all.
    """
    from challenge.files.plan_file import parse_plan
    from challenge.protocol.plan import Plan

    file = Path(path)
    if file.is_dir():
        file = file / names.PLAN
        if not file.exists():
            raise ChallengeError(
                f"There is no {names.PLAN} in {file.parent}. Lay one with `challenge plan`."
            )
    text = _text(file)
    if isinstance(text, Problem):
        raise ChallengeError("The plan cannot be read.", [text])
    days, problems = parse_plan(text, file.name)
    _stop_at_errors(problems, "The plan cannot be used as it is.")
    return Plan(days=tuple(days), trial=_sealed_trial(file.parent))


def _sealed_trial(folder: Path) -> Trial | None:
    """The blinded challenge of a client folder that is sealed, if there is one."""
    if not (folder / names.BLINDED).is_dir():
        return None
    from challenge.files.blinding import read_trials, sealed_trial

    stored = sealed_trial(read_trials(folder))
    return stored.trial if stored is not None else None


def plan_problems(plan: Plan) -> list[Problem]:
    """Return what keeps a plan from being analysed: no challenge day in it."""
    if any(day.phase == "challenge" for day in plan):
        return []
    return [
        Problem(
            code="plan-without-challenge",
            severity="error",
            file=names.PLAN,
            message="The plan has no challenge day, so there is nothing to compare.",
            remedy="Lay challenges with `challenge plan`.",
        )
    ]


def read_settings(folder: PathLike) -> Settings:
    """Read ``client.toml`` of a folder; without one, every setting has its default.

    Raises
    ------
    ChallengeError
        With every wrong key.
    """
    return read_settings_and_problems(folder)[0]


def read_settings_and_problems(folder: PathLike) -> tuple[Settings, list[Problem]]:
    """Read ``client.toml`` and return the settings with the warnings (keys nobody knows).

    Raises
    ------
    ChallengeError
        With every wrong key.
    """
    from challenge.files.settings_file import parse_settings
    from challenge.protocol.settings import Settings

    path = Path(folder)
    code = names.client_code(path)
    file = path / names.SETTINGS
    if not file.exists():
        return Settings(client=code), []
    text = _text(file)
    if isinstance(text, Problem):
        raise ChallengeError("The settings cannot be read.", [text])
    settings, problems = parse_settings(text, file.name, code)
    _stop_at_errors(problems, "The settings cannot be used as they are.")
    assert settings is not None
    return settings, problems


def file_bytes(path: Path) -> bytes | Problem:
    """Return a file's content, or what keeps it from being read."""
    try:
        return path.read_bytes()
    except IsADirectoryError:
        return _unreadable(path, "This is a folder, not a file.")
    except FileNotFoundError:
        return _unreadable(path, "There is no such file.")
    except PermissionError:
        # Windows says so of a folder, too
        what = "This is a folder, not a file." if path.is_dir() else "The file may not be opened."
        return _unreadable(path, what)
    except (OSError, ValueError):
        return _unreadable(path, "The file cannot be opened.")


def _text(path: Path) -> str | Problem:
    data = file_bytes(path)
    if isinstance(data, Problem):
        return data
    if not data.strip():
        return _unreadable(path, "The file is empty.", "file-empty")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return _unreadable(path, "The file is not text in UTF-8.", "encoding-wrong")
    if "\0" in text:
        return _unreadable(path, "The file is not text.", "encoding-wrong")
    return text


def _unreadable(path: Path, message: str, code: str = "file-unreadable") -> Problem:
    return Problem(
        code=code,
        severity="error",
        file=path.name,
        message=message,
        remedy="Give the right file.",
    )


def _stop_at_errors(problems: Sequence[Problem], what: str) -> None:
    errors = errors_in(problems)
    if errors:
        count = "One error" if len(errors) == 1 else f"{len(errors)} errors"
        raise ChallengeError(f"{what} {count}; nothing was changed.", problems)
