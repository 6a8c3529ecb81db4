"""``challenge sheet``: the diary on paper and as a spreadsheet, for the planned days."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.house import FontDirs, PaperSize, PracticeFile, house_style
from challenge.commands.screen import say, say_json
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.files.practice import Practice
    from challenge.logbook.sheet import Held
    from challenge.protocol.plan import Plan, PlanDay
    from challenge.protocol.settings import Settings


class SheetFormat(StrEnum):
    """Forms of a written diary."""

    pdf = "pdf"
    xlsx = "xlsx"
    both = "both"


_DATE = ["%Y-%m-%d"]


@app.command()
def sheet(
    client: Annotated[Path, typer.Argument(metavar="CLIENT", help="The client's folder.")],
    first: Annotated[
        dt.datetime | None,
        typer.Option("--from", formats=_DATE, help="First day; by default the plan's first."),
    ] = None,
    last: Annotated[
        dt.datetime | None,
        typer.Option("--to", formats=_DATE, help="Last day; by default the plan's last."),
    ] = None,
    form: Annotated[
        SheetFormat, typer.Option("--format", help="Pages to print, a spreadsheet, or both.")
    ] = SheetFormat.both,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where to write; CLIENT by default.")
    ] = None,
    language: Annotated[str | None, typer.Option(help="Language of the diary: en, de.")] = None,
    paper: PaperSize = None,
    practice: PracticeFile = None,
    font_dir: FontDirs = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a diary that says something else.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the paths as JSON.")] = False,
) -> None:
    """Write the diary for this client's plan: pages to print, one a day, and a spreadsheet.

    Both carry each day's plan. The spreadsheet comes back through `challenge add`; what stands on
    paper is typed with `challenge log`.

    Example: challenge sheet juniper --from 2026-03-02 --to 2026-03-15
    """
    from challenge.commands.held import held_days
    from challenge.files.documents import write_documents
    from challenge.files.folder import PLAN, client_code, client_folder
    from challenge.files.reading import read_plan, read_settings

    folder = client_folder(client)
    plan, settings = read_plan(folder / PLAN), read_settings(folder)
    house = house_style(folder, practice, language, paper, font_dir)
    days = _days(plan, first, last)
    documents = make_sheet(
        plan,
        days,
        settings,
        house,
        client=settings.client or client_code(folder),
        formats=("pdf", "xlsx") if form is SheetFormat.both else (form.value,),
        held=held_days(folder, plan, days, settings),
    )
    target = out if out is not None else folder
    paths = write_documents(
        {target / name: content for name, content in documents.items()}, force=force
    )
    if as_json:
        say_json({"files": [str(path) for path in paths]})
    else:
        for path in paths:
            say(str(path))


def make_sheet(
    plan: Plan,
    days: tuple[PlanDay, ...],
    settings: Settings,
    practice: Practice,
    *,
    client: str,
    formats: tuple[str, ...] = ("pdf", "xlsx"),
    held: Held = lambda day: False,
) -> dict[str, bytes]:
    """Return the files of a written diary by name, nothing written."""
    from challenge.logbook.sheet import build_sheet
    from challenge.logbook.sheet_pdf import render_sheet_pdf
    from challenge.logbook.sheet_xlsx import render_sheet_xlsx
    from challenge.wording import load_words

    words = load_words(practice.language)
    said = build_sheet(plan, days, settings, words, client=client, held=held)
    stem = f"diary-{client}"
    if days != plan.days:
        stem += f"-{days[0].date}-to-{days[-1].date}"
    made: dict[str, bytes] = {}
    if "pdf" in formats:
        made[f"{stem}.pdf"] = render_sheet_pdf(
            said,
            words,
            paper=practice.paper,
            contact=practice.contact,
            font_dirs=practice.font_dirs,
        )
    if "xlsx" in formats:
        made[f"{stem}.xlsx"] = render_sheet_xlsx(
            said,
            words,
            mapping=settings.diary.columns,
            declared=settings.diary.symptoms,
            paper=practice.paper,
        )
    return made


def _days(plan: Plan, first: dt.datetime | None, last: dt.datetime | None) -> tuple[PlanDay, ...]:
    if not len(plan):
        raise ChallengeError("The plan has no days. Lay it with `challenge plan`.")
    begin = first.date() if first is not None else plan.days[0].date
    end = last.date() if last is not None else plan.days[-1].date
    days = tuple(day for day in plan if begin <= day.date <= end)
    if not days:
        raise ChallengeError(
            f"The plan has no day from {begin} to {end}; it reaches from {plan.days[0].date} to "
            f"{plan.days[-1].date}."
        )
    return days
