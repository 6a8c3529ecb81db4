"""``challenge blind``: draw and seal the order of a blinded challenge."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.clock import today as today_by_the_clock
from challenge.commands.screen import list_problems, say, say_json, wrapped
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.files.blinding import StoredTrial
    from challenge.problems import Problem
    from challenge.protocol.blinding import Trial
    from challenge.protocol.doses import Source
    from challenge.protocol.plan import Plan
    from challenge.protocol.settings import Settings
    from challenge.terms import FodmapGroup

_RANDOM_BYTES = 32


@app.command()
def blind(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    group: Annotated[str, typer.Argument(metavar="GROUP", help="The group to test blinded.")],
    key_file: Annotated[
        Path,
        typer.Option(
            metavar="FILE", help="Where the third person keeps the sealed key: their own stick."
        ),
    ],
    pairs: Annotated[int, typer.Option(help="Periods with the group, and as many without.")] = 4,
    block: Annotated[
        int,
        typer.Option(
            help="Periods in a block; half of each hold the group. Larger blocks allow a smaller "
            "p, smaller ones guard better against a slow change."
        ),
    ] = 2,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Draw a random order of a group and the glucose control, seal it, and lay it on dates.

    Nothing in the client's folder tells the order. The key file and the list for filling the
    sachets do: let a third person, such as a colleague or a pharmacist, run this with --key-file on
    their own medium and keep both. On one and the same computer a seal is a matter of trust; what
    the folder keeps shows a changed key, not one that was read.

    Example: challenge blind juniper lactose --key-file /media/stick/juniper.key
    """
    from challenge.files.blinding import read_trials
    from challenge.files.folder import PLAN, client_folder
    from challenge.files.reading import read_plan, read_settings

    folder = client_folder(client)
    settings = read_settings(folder)
    if not (folder / PLAN).exists():
        raise ChallengeError(
            "Lay a plan with `challenge plan` first; a blinded challenge comes after the open ones."
        )
    plan = read_plan(folder / PLAN)
    trials = read_trials(folder)
    source, control = _sources(
        plan, settings, _as_group(group), trials, pairs, block, key_file, folder
    )
    trial = _design(source, control, settings, trials, pairs, block)
    _draw_and_write(folder, plan, settings, trial, key_file, as_json)


def _as_group(name: str) -> FodmapGroup:
    from challenge.terms import GROUPS

    found = next((group for group in GROUPS if group == name), None)
    if found is None:
        raise typer.BadParameter(
            f"{name!r} is no group. Choose one of: {', '.join(GROUPS)}.", param_hint="GROUP"
        )
    return found


def filling_list_path(key_file: Path) -> Path:
    """Return where the list for filling the sachets goes: beside the key."""
    return key_file.with_name(f"{key_file.stem}-filling-list.pdf")


def _sources(
    plan: Plan,
    settings: Settings,
    group: FodmapGroup,
    trials: tuple[StoredTrial, ...],
    pairs: int,
    block: int,
    key_file: Path,
    folder: Path,
) -> tuple[Source, Source]:
    """The powders of group and control, or everything that stands in the way, at once."""
    from challenge.files.blinding import new_key_problems, sealed_trial
    from challenge.problems import Problem
    from challenge.protocol.blinding import blinded_sources, design_problems

    problems: list[Problem] = []
    if settings.screening.asked_on is None:
        problems.append(
            Problem(
                code="screening-missing",
                severity="error",
                message="No screening is on record.",
                remedy="Run `challenge new` first; it asks the questions.",
            )
        )
    stored = sealed_trial(trials)
    if stored is not None:
        problems.append(
            Problem(
                code="another-sealed",
                severity="error",
                message=f"The blinded challenge of {stored.trial.fodmap_group} is not opened yet.",
                remedy="Finish it first: `challenge freeze`, then `challenge unblind`. If its days "
                "are not in the plan, lay them with `challenge plan`.",
            )
        )
    used = [letter for stored in trials for letter in stored.trial.letters]
    problems += design_problems(pairs, block, used)
    paths = {"key": key_file, "filling list": filling_list_path(key_file)}
    problems += new_key_problems(folder, paths)
    sources, found = blinded_sources(plan, settings, group)
    problems += found
    if problems or sources is None:
        raise ChallengeError(
            f"{group.capitalize()} cannot be tested blinded; nothing was written.", problems
        )
    return sources


def _design(
    source: Source,
    control: Source,
    settings: Settings,
    trials: tuple[StoredTrial, ...],
    pairs: int,
    block: int,
) -> Trial:
    from challenge.diary.sachets import LETTERS
    from challenge.protocol.blinding import Trial

    used = {letter for stored in trials for letter in stored.trial.letters}
    letters = [letter for letter in LETTERS if letter not in used]
    return Trial(
        number=max((stored.trial.number for stored in trials), default=0) + 1,
        fodmap_group=source.fodmap_group,
        control=control.fodmap_group,
        letters=tuple(letters[: 2 * pairs]),
        block=block,
        steps=tuple(step.step for step in source.steps),
        portions=tuple(step.portion_g for step in source.steps),
        sachets_per_step=settings.protocol.days_per_step,
        grams=tuple(step.fodmap_g for step in source.steps),
        control_grams=tuple(step.portion_g * control.per_100g / 100 for step in source.steps),
        powders=(source.food, control.food),
        drawn_on=today_by_the_clock(),
    )


def _draw_and_write(
    folder: Path, plan: Plan, settings: Settings, trial: Trial, key_file: Path, as_json: bool
) -> None:
    import secrets
    from dataclasses import replace

    from challenge.files.atomic import write_atomic
    from challenge.files.blinding import (
        LABELS,
        key_text,
        read_trials,
        sealed_trial,
        write_trial,
    )
    from challenge.files.folder import BLINDED, client_code, make_folder
    from challenge.files.lock import locked
    from challenge.files.practice import read_practice
    from challenge.logbook.labels import Printing, render_filling_list, render_labels, taste_lines
    from challenge.protocol.blinding import commitment, draw_key
    from challenge.wording import load_words

    code = client_code(folder)
    key = draw_key(trial, code, secrets.token_hex(_RANDOM_BYTES), secrets.token_hex(_RANDOM_BYTES))
    trial = replace(trial, commitment=commitment(key))
    house = read_practice(folder)
    printing = Printing(client=code, words=load_words(house.language), paper=house.paper)
    labels, filling = render_labels(trial, printing), render_filling_list(trial, key, printing)
    new = laid_plan(plan, trial, settings)
    with locked(make_folder(folder / BLINDED) / ".lock"):
        if sealed_trial(read_trials(folder)) is not None:
            raise ChallengeError("Another blinded challenge was drawn just now.")
        # the key first: a draw whose key was lost could never be opened
        write_atomic(key_file, key_text(key))
        listed = write_atomic(filling_list_path(key_file), filling)
        place = write_trial(folder, trial, labels)
        write_days(folder, new)
    if as_json:
        say_json(
            {
                "schema": 1,
                "fodmap_group": trial.fodmap_group,
                "letters": list(trial.letters),
                "orders": trial.n_orders,
                "min_pvalue": min(1.0, 2 / trial.n_orders),
                "commitment": trial.commitment,
                "key_file": str(key_file),
                "filling_list": str(listed),
                "labels": str(place / LABELS),
            }
        )
        return
    _tell(trial, new, key_file, listed, place / LABELS)
    say("Taste and look (common practice, no source):")
    for line in taste_lines(trial, load_words("en")):
        say(wrapped(line, "  - ", "    "))


def laid_plan(plan: Plan, trial: Trial, settings: Settings) -> Plan:
    """Return the plan with the periods of a trial behind it, at the earliest from tomorrow on."""
    from challenge.protocol.blinding import trial_courses
    from challenge.protocol.plan import Plan, PlanDay
    from challenge.protocol.schedule import lay, washed_out

    one = dt.timedelta(days=1)
    end = plan.days[-1].date
    first = max(end, today_by_the_clock()) + one
    gap = [PlanDay(date=end + n * one, phase="rest") for n in range(1, (first - end).days)]
    last = next((day for day in reversed(plan.days) if day.phase == "challenge"), None)
    after = last.tested if last is not None else None
    pieces = washed_out(trial_courses(trial, settings.protocol), settings.protocol)
    return Plan((*plan, *gap, *lay(pieces, first, settings.protocol.closed, after)))


def write_days(folder: Path, plan: Plan) -> None:
    """Write a plan, and the calendar where there is one."""
    from challenge.files.calendar import CALENDAR, write_calendar
    from challenge.files.folder import client_code
    from challenge.files.writing import write_plan

    write_plan(folder, plan)
    if (folder / CALENDAR).exists():
        write_calendar(folder, plan, client_code(folder))


def _tell(trial: Trial, plan: Plan, key_file: Path, listed: Path, labels: Path) -> None:
    from challenge.protocol.blinding import n_orders

    days = [day.date for day in plan if day.sealed]
    n, orders = len(trial.letters), trial.n_orders
    told = [
        f"{trial.fodmap_group.capitalize()} against {trial.control}: {n} periods in blocks of "
        f"{trial.block}, sachets {trial.letters[0]} to {trial.letters[-1]}, {days[0]} to "
        f"{days[-1]}.",
        f"{orders} orders could have been drawn, so no test can give a two-sided p under "
        f"{min(1.0, 2 / orders):.2g}.",
    ]
    whole = n_orders(n, n)
    if trial.block < n and 2 / orders > 0.05:
        told.append(
            f"In one block of {n} there would be {whole}, and p could reach {2 / whole:.2g}."
        )
    for line in told:
        say(wrapped(line))
    say(f"Sealed key, for the third person:  {key_file}")
    say(f"Filling list, for the same person: {listed}")
    say(f"Labels, which tell nothing:        {labels}")
    say(f"Digest of the key, to note down:\n  {trial.commitment}")
    list_problems(_at_home(key_file, labels))


def _at_home(key_file: Path, labels: Path) -> list[Problem]:
    """A key beside the client's folder is no secret from whoever opens the one and the other."""
    from challenge.problems import Problem

    home = labels.resolve().parents[3]
    if home not in key_file.resolve().parents:
        return []
    return [
        Problem(
            code="key-at-hand",
            severity="warning",
            message="The key lies in the same place as the clients' folders.",
            remedy="Move key and filling list to the third person's own medium, and leave no copy.",
        )
    ]
