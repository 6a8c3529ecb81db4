"""The dietitian's report: one HTML page that needs no network and runs no script."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from importlib import resources
from typing import Final

from challenge.analysis.result import Analysis
from challenge.letter.blinded import doctor_paragraphs
from challenge.letter.content import Letter, Table
from challenge.wording import Words

_STYLE: Final = (
    "body{font:1rem/1.5 sans-serif;color:#1a1a1a;background:#fff;margin:1rem}"
    "main{max-width:62rem;margin:auto}img{width:100%;height:auto}figure{margin:0}"
    ".wide{overflow-x:auto;margin:0 0 1.5rem}table{border-collapse:collapse;font-size:.9rem}"
    "caption{text-align:left;font-style:italic}th,td{text-align:left;padding:.2rem .6rem;"
    "border-bottom:1px solid #767676;vertical-align:top}tbody th{font-weight:normal}"
)


def render_report(
    analysis: Analysis,
    letter: Letter,
    figures: Mapping[str, tuple[bytes, str]],
    words: Words,
) -> bytes:
    """Return the page: figures, reasons per group, and every table of the doctor's letter.

    Figures stand as images with data addresses, not inline: a strict content policy forbids the
    style attributes that an inline drawing carries.

    Parameters
    ----------
    analysis
        The result.
    letter
        The letter to the doctor, whose tables and annex hold the data.
    figures
        SVG and alternative text by name: ``timeline``, ``small_multiples`` and each group's.
    words
        The language of names.
    """
    from jinja2 import Environment

    groups = {group.fodmap_group: group for group in analysis.groups}
    headings = {"timeline": "The whole diary", "small_multiples": "All groups side by side"}
    pictures = []
    for name, (svg, alt) in figures.items():
        reasons: list[str] = []
        heading = headings.get(name, name)
        if name in groups:
            group = groups[name]
            outcome = words(f"outcomes.{group.outcome}")
            heading = f"{words(f'groups.{name}')}: {outcome}"
            reasons = [*(words.tell(r) for r in group.reasons), f"Next: {words.tell(group.next)}"]
        data = base64.b64encode(svg).decode()
        pictures.append({"heading": heading, "alt": alt, "data": data, "reasons": reasons})
    source = (resources.files("challenge.letter") / "report.html.j2").read_text("utf-8")
    page = Environment(autoescape=True).from_string(source)
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    made = page.render(
        title=f"Report on client {analysis.client}",
        stand=letter.draft or "Every group has been decided",
        cautions=[words.tell(caution) for caution in analysis.cautions],
        blinded=doctor_paragraphs(analysis, words),
        pictures=pictures,
        tables=[b for b in (*letter.blocks, *letter.annex) if isinstance(b, Table)],
        style=_STYLE,
        style_hash=digest,
    )
    return made.encode()
