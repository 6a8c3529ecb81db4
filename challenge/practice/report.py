"""The practice report: one HTML page that needs nothing beside itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from challenge.practice.mixed import RiseByDose
from challenge.practice.published import studies
from challenge.practice.summary import Spread, Summary
from challenge.practice.suppress import (
    HIDDEN,
    bins_without_small,
    count_text,
    is_small,
    pooled,
    share_text,
    without_small,
)
from challenge.practice.tolerated import PairOfGroups, group_name
from challenge.practice.trust import Trust, tables

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup


def render(
    summary: Summary,
    date: dt.date,
    version: str,
    least: int = 1,
    trust: Trust | None = None,
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
    summary = _without_small(summary, least)
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
        overall=_overall(summary, least),
        pair_rows=_pair_rows(summary, least),
        trust=tables(trust) if trust else None,
    )


def _without_small(summary: Summary, least: int) -> Summary:
    """Leave out what could point to fewer clients than ``least``."""
    shown = [slope for slope in summary.rises.slopes if not is_small(slope.n_clients, least)]
    rises = replace(summary.rises, slopes=tuple(shown))
    if summary.rises.slopes and not shown:
        rises = RiseByDose(
            n_differences=0, n_clients=0, reason=f"fewer than {least} clients in every group"
        )
    return replace(
        summary,
        groups=without_small(summary.groups, least),
        rises=rises,
        problems=pooled(summary.problems, least),
        unclear_because=pooled(summary.unclear_because, least),
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
        spread=lambda name, spread, text: _spread_row(name, spread, text, least),
    )
    page.filters["counted"] = lambda item: [item[0], count_text(item[1], least)]
    return page


def _spread_row(
    name: str, spread: Spread, text: Callable[[float | None], str], least: int
) -> list[str]:
    if spread.low is None or is_small(spread.n, least):
        return [name, "-", "-", count_text(spread.n, least)]
    between = f"{text(spread.low)} to {text(spread.high)}"
    return [name, text(spread.middle), between, str(spread.n)]


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


def _figures(summary: Summary, least: int, trust: Trust | None) -> dict[str, str]:
    from challenge.practice import figures

    shown = summary.groups
    height = 22 + 11 * max(len(shown), 1)
    values = summary.completeness_values
    parts = bins_without_small(values, least)
    drawn = {
        "completeness": figures.draw(
            45, lambda axes: figures.completeness(axes, values if parts else (), parts or 20)
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
        found = trust.everything.calibration
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


def _overall(summary: Summary, least: int) -> str:
    test = summary.comparison.overall
    if (
        test is None
        or test.pvalue is None
        or test.statistic is None
        or is_small(test.n_blocks, least)
    ):
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
            *_pvalues(pair, least),
        ]
        for pair in summary.comparison.pairs
    ]


def _pvalues(pair: PairOfGroups, least: int) -> tuple[str, str]:
    # an exact p tells the counts behind it
    if any(is_small(count, least) for count in (pair.only_first, pair.only_second)):
        return HIDDEN, HIDDEN
    return _pvalue(pair.pvalue), _pvalue(pair.pvalue_adjusted)


def _pvalue(value: float) -> str:
    return "<\N{NO-BREAK SPACE}0.001" if value < 0.001 else f"{value:.3f}"
