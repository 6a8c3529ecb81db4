"""The practice report: one HTML page that needs nothing beside itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from challenge.practice.operating import NUMBERS, Operating
from challenge.practice.published import studies
from challenge.practice.summary import Spread, Summary
from challenge.practice.suppress import count_text, share_text, without_small
from challenge.practice.tolerated import group_name
from challenge.practice.trust import cell

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup


def render(
    summary: Summary,
    date: dt.date,
    version: str,
    least: int = 1,
    trust: dict[str, Operating] | None = None,
) -> str:
    """Return the report as HTML.

    Parameters
    ----------
    summary
        What it tells.
    date, version
        When it was made, and by which version.
    least
        Numbers that could point to fewer clients than this are hidden; 1 hides nothing.
    trust
        Operating characteristics, when the clients are invented.
    """
    page = _environment(least).get_template("report.html.j2")
    head, rows = _tolerated_table(summary, least)
    published_head, published_rows = _published_table(summary, least)
    return page.render(
        s=summary,
        date=date.isoformat(),
        version=version,
        least=least,
        figures=_figures(summary, least, trust),
        tolerated_head=head,
        tolerated_rows=rows,
        published_head=published_head,
        published_rows=published_rows,
        studies=studies(),
        overall=_overall(summary),
        pair_rows=_pair_rows(summary, least),
        trust=_trust_table(trust) if trust else None,
    )


def _environment(least: int) -> Environment:
    from jinja2 import Environment, PackageLoader

    page = Environment(loader=PackageLoader("challenge.practice", "."), autoescape=True)
    page.globals.update(
        table=_table,
        figure=_figure,
        share=lambda value: share_text(value, least),
        count=lambda value: count_text(value, least),
        percent=lambda value: "-" if value is None else f"{100 * value:.0f} %",
        whole=lambda value: "-" if value is None else f"{value:.0f}",
        points=lambda value: "-" if value is None else f"{value:.2f}",
        between=_between,
    )
    page.filters["counted"] = lambda item: [item[0], count_text(item[1], least)]
    return page


def _between(spread: Spread, text: Callable[[float | None], str]) -> str:
    return "-" if spread.low is None else f"{text(spread.low)} to {text(spread.high)}"


def _table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> Markup:
    from markupsafe import Markup

    row = Markup("<tr>{}</tr>\n").format
    top = Markup("").join(Markup('<th scope="col">{}</th>').format(text) for text in head)
    body = Markup("").join(
        row(Markup("").join(Markup("<td>{}</td>").format(text) for text in cells)) for cells in rows
    )
    return Markup("<table><thead>{}</thead><tbody>{}</tbody></table>").format(row(top), body)


def _figure(svg: str, caption: str) -> Markup:
    from markupsafe import Markup

    # the drawing is ours, not text that somebody wrote
    drawing = Markup(svg.replace("<svg", '<svg role="img" aria-hidden="true"', 1))
    return Markup("<figure>{}<figcaption>{}</figcaption></figure>").format(drawing, caption)


def _figures(summary: Summary, least: int, trust: dict[str, Operating] | None) -> dict[str, str]:
    from challenge.practice import figures

    shown = without_small(summary.groups, least)
    height = 22 + 11 * max(len(shown), 1)
    drawn = {
        "completeness": figures.draw(
            45, lambda axes: figures.completeness(axes, summary.completeness_values)
        ),
        "tolerated": figures.draw(height, lambda axes: figures.tolerated_by_step(axes, shown)),
        "published": figures.draw(
            height, lambda axes: figures.reacted_beside_published(axes, shown, studies()[0])
        ),
        "rises": figures.draw(
            height * 0.7, lambda axes: figures.rise_at_top_dose(axes, summary.rises)
        ),
    }
    if trust:
        found = trust["all"].calibration
        drawn["calibration"] = figures.draw(80, lambda axes: figures.calibration_curve(axes, found))
    return drawn


def _tolerated_table(summary: Summary, least: int) -> tuple[list[str], list[list[str]]]:
    most = max((len(group.tolerated) for group in summary.groups), default=0)
    steps = [f"step {step}" for step in range(1, most + 1)]
    rows = []
    for group in summary.groups:
        cells = [share_text(share, least) for share in group.tolerated]
        cells += [""] * (most - len(cells))
        rows.append([group_name(group.fodmap_group), *cells, share_text(group.unclear, least)])
    return ["group", *steps, "unclear"], rows


def _published_table(summary: Summary, least: int) -> tuple[list[str], list[list[str]]]:
    rows = []
    for group in summary.groups:
        there = [study.percent.get(group.fodmap_group) for study in studies()]
        cells = ["" if v is None else f"{v:g}\N{NO-BREAK SPACE}%" for v in there]
        rows.append([group_name(group.fodmap_group), share_text(group.reacted, least), *cells])
    return ["group", "this practice", *(study.name for study in studies())], rows


def _overall(summary: Summary) -> str:
    test = summary.comparison.overall
    if test is None or test.pvalue is None or test.statistic is None:
        return "Too few clients have a clear outcome in every group to compare them."
    return (
        f"Over the {test.n_blocks} clients with a clear outcome in all of {test.n_treatments} "
        f"groups: Cochran's Q {test.statistic:.2f} on {test.df} degrees of freedom, "
        f"p {_pvalue(test.pvalue)}."
    )


def _pair_rows(summary: Summary, least: int) -> list[list[str]]:
    return [
        [
            f"{group_name(pair.first)}, {group_name(pair.second)}",
            count_text(pair.n, least),
            count_text(pair.only_first, least),
            count_text(pair.only_second, least),
            _pvalue(pair.pvalue),
            _pvalue(pair.pvalue_adjusted),
        ]
        for pair in summary.comparison.pairs
    ]


def _pvalue(value: float) -> str:
    return "<\N{NO-BREAK SPACE}0.001" if value < 0.001 else f"{value:.3f}"


def _trust_table(trust: dict[str, Operating]) -> dict[str, Any]:
    rows = [
        [number.replace("_", " "), *(cell(getattr(entry, number)) for entry in trust.values())]
        for number in NUMBERS
    ]
    return {"head": ["", *trust], "rows": rows}
