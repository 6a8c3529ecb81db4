"""The dietitian's report: one HTML page that needs no network and runs no script."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Final

from challenge.analysis.result import Analysis, GroupResult
from challenge.letter.annex import steps_table
from challenge.letter.blinded import doctor_paragraphs
from challenge.letter.content import Letter, Table
from challenge.letter.doctor import verdict_in_words
from challenge.letter.story import Story
from challenge.wording import Words

_STYLE: Final = (
    "body{font:1rem/1.5 sans-serif;color:#1a1a1a;background:#fff;margin:1rem}"
    "main{max-width:62rem;margin:auto}figure{margin:0 0 .5rem}"
    # a drawing made smaller than this can no longer be read: on a phone it is moved sideways
    ".wide{overflow-x:auto;margin:0 0 1.5rem}figure .wide{margin:0}"
    "img{width:100%;min-width:42rem;height:auto}"
    "table{border-collapse:collapse;font-size:.9rem}"
    "caption{text-align:left;font-style:italic}th,td{text-align:left;padding:.2rem .6rem;"
    "border-bottom:1px solid #767676;vertical-align:top}tbody th{font-weight:normal}"
    "li{margin:.2rem 0}summary{cursor:pointer;padding:.3rem 0}"
    "@media print{img{min-width:0}.wide{overflow:visible}}"
)


@dataclass(frozen=True, kw_only=True)
class _Section:
    """A figure with what is said beside it and the data that it shows."""

    heading: str
    name: str
    image: str
    alt: str
    said: tuple[str, ...]
    after: str
    data: tuple[Table, ...]
    tests: tuple[Table, ...]


def render_report(
    analysis: Analysis,
    letter: Letter,
    stories: Sequence[Story],
    figures: Mapping[str, tuple[bytes, str]],
    words: Words,
) -> bytes:
    """Return the page: figures with their data, reasons per group, and the doctor's tables.

    Figures stand as images with data addresses, not inline: a strict content policy forbids the
    style attributes that an inline drawing carries.

    Parameters
    ----------
    analysis
        The result.
    letter
        The letter to the doctor, whose tables and annex hold the data.
    stories
        What is decided or suggested of each group.
    figures
        SVG and alternative text by name: ``timeline``, ``small_multiples`` and each group's.
    words
        The language.
    """
    from jinja2 import Environment

    sections = [
        _section(name, svg, alt, analysis, stories, words) for name, (svg, alt) in figures.items()
    ]
    source = (resources.files("challenge.letter") / "report.html.j2").read_text("utf-8")
    page = Environment(autoescape=True).from_string(source)
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    made = page.render(
        language=words.language,
        words=words,
        title=words("report.title", client=analysis.client),
        stand=letter.draft or words("report.decided"),
        cautions=[words.tell(caution) for caution in analysis.cautions],
        blinded=doctor_paragraphs(analysis, words),
        sections=sections,
        tables=[b for b in (*letter.blocks, *letter.annex) if isinstance(b, Table)],
        style=_STYLE,
        style_hash=digest,
    )
    return made.encode()


def _section(
    name: str, svg: bytes, alt: str, analysis: Analysis, stories: Sequence[Story], words: Words
) -> _Section:
    story = next((s for s in stories if s.result.fodmap_group == name), None)
    said: tuple[str, ...] = ()
    after = ""
    data: tuple[Table, ...]
    tests: tuple[Table, ...] = ()
    if story is None:
        heading = short = words(f"report.{name}")
        data = (
            _days_table(analysis, words)
            if name == "timeline"
            else steps_table(stories, analysis, words),
        )
        if name == "timeline" and analysis.drift is not None:
            said = (words.tell(analysis.drift.words),)
    else:
        group = story.result
        short = words(f"groups.{name}")
        verdict = verdict_in_words(story, words)
        heading = words("report.group", group=short, verdict=verdict)
        said = (*(words.tell(reason) for reason in group.reasons), *_double(group, words))
        after = words("report.next", next=words.tell(group.next))
        data = (
            steps_table((story,), analysis, words),
            _pairs_table(group, analysis.primary_symptom, words),
        )
        tests = (_secondary_table(group, analysis.primary_symptom, words),)
    return _Section(
        heading=heading,
        name=short,
        image=base64.b64encode(svg).decode(),
        alt=alt,
        said=said,
        after=after,
        data=tuple(table for table in data if table.rows),
        tests=tuple(table for table in tests if table.rows),
    )


def _double(group: GroupResult, words: Words) -> tuple[str, ...]:
    """Say what the suggestion would be at twice the margin."""
    double = group.double_margin
    if double is None:
        return ()
    step = double.suggested_step
    answer = (
        words("outcomes.unclear") if step is None
        else words("doctor.step_none") if step == 0
        else words("doctor.step", step=step)
    )  # fmt: skip
    return (words("report.double", name=words.tell(double.name), answer=answer),)


def _days_table(analysis: Analysis, words: Words) -> Table:
    """Every day as the analysis saw it."""
    symptoms = tuple(dict.fromkeys(name for day in analysis.days for name in day.values))
    nothing = words("format.none")
    rows = tuple(
        (
            words.dated(day.date),
            words(f"phases.{day.phase}") if day.phase else words("annex.outside"),
            words(f"groups.{day.fodmap_group}") if day.fodmap_group else nothing,
            str(day.step or nothing),
            str(day.n_scores),
            *(words.number(day.values.get(symptom)) for symptom in symptoms),
            ", ".join(words.get(f"events.{mark}", mark) for mark in day.marks) or nothing,
        )
        for day in analysis.days
    )
    header = words.many("report.days_header")
    named = tuple(words.get(f"symptoms.{symptom}", symptom) for symptom in symptoms)
    return Table(
        caption=words("report.days_caption"),
        header=(*header[:-1], *named, header[-1]),
        rows=rows,
        widths=(),
        small=True,
    )


def _pairs_table(group: GroupResult, symptom: str, words: Words) -> Table:
    rows = tuple(
        (
            str(pair.cycle),
            str(pair.step),
            words.dated(pair.challenge_date),
            words.number(pair.challenge_value),
            words.dated(pair.reference_date),
            words.number(pair.reference_value),
            words.number(pair.challenge_value - pair.reference_value, sign=True),
        )
        for pair in group.pairs
    )
    return Table(
        caption=words(
            "report.pairs_caption",
            group=words(f"groups.{group.fodmap_group}"),
            symptom=words.get(f"symptoms.{symptom}", symptom),
        ),
        header=words.many("report.pairs_header"),
        rows=rows,
        widths=(),
        small=True,
    )


def _secondary_table(group: GroupResult, symptom: str, words: Words) -> Table:
    rows = tuple(
        (
            words.tell(test.method),
            words.number(test.estimate, sign=True),
            words.interval(test.low, test.high),
            words.percent(test.confidence),
            words.number(test.statistic, 2),
            words.pvalue(test.pvalue),
            words.pvalue(test.min_pvalue),
        )
        for test in group.secondary_tests
    )
    return Table(
        caption=words(
            "report.secondary_caption",
            group=words(f"groups.{group.fodmap_group}"),
            symptom=words.get(f"symptoms.{symptom}", symptom),
        ),
        header=words.many("report.secondary_header"),
        rows=rows,
        widths=(),
        small=True,
    )
