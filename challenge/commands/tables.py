"""An analysis as text for a terminal: one table, then the sentences group by group."""

from __future__ import annotations

from typing import TYPE_CHECKING

from challenge.commands.screen import wrapped

if TYPE_CHECKING:
    from challenge.analysis.result import Analysis, GroupResult, TestResult


def analysis_text(analysis: Analysis, *, brief: bool = False) -> str:
    """Return the whole result, or only its table and cautions."""
    lines = [
        f"Client {analysis.client}: tolerance of each group, as the diary shows it",
        "",
        *_table(analysis),
        "",
        wrapped(
            "Steps: probability of each to be the highest tolerated; 0 is none of them. Rise: "
            "what the highest dose eaten adds to the most affected symptom over 24 h [points of "
            f"10], with its {_share(analysis)} interval."
        ),
        wrapped(
            f"p: paired test on {analysis.primary_symptom} over all steps, adjusted over the "
            "groups (Holm); after the stroke the smallest p that so few pairs can reach."
        ),
        *(
            f"{result.fodmap_group.capitalize()}: p of the randomisation test, blinded periods."
            for result in analysis.blinded
        ),
        f"Scores given: {_percent(analysis.completeness.get('all'))} of those expected.",
    ]
    if not brief:
        for group in analysis.groups:
            lines += ["", *_sentences(group)]
    if analysis.cautions:
        lines += ["", "Bear in mind"]
        lines += [_wrapped(str(caution)) for caution in analysis.cautions]
    lines += [
        "",
        _wrapped(
            "These are suggestions for the dietitian to confirm (`challenge decide`). They are "
            "not a diagnosis; that stays with the doctor. Alarm signs such as blood in the stool, "
            "fever or weight loss go to the doctor at once.",
            bullet="",
        ),
    ]
    return "\n".join(lines)


def _share(analysis: Analysis) -> str:
    return _percent(float(analysis.settings["confidence"]))


def _table(analysis: Analysis) -> list[str]:
    head = ["group", "suggestion", "up to step", "steps 0, 1, 2 ...", "rise", "p"]
    rows = [head] + [_row(analysis, group) for group in analysis.groups]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    lines.insert(1, "  ".join("-" * width for width in widths))
    return lines


def _row(analysis: Analysis, group: GroupResult) -> list[str]:
    test = next(t for t in group.tests if t.symptom == analysis.primary_symptom and t.step is None)
    return [
        group.fodmap_group,
        group.outcome,
        _up_to(group),
        " ".join(_percent(p) for p in group.probability.values()) or "not known",
        _rise(group),
        _p(test),
    ]


def _up_to(group: GroupResult) -> str:
    if group.suggested_step is None:
        return "repeat"
    if group.suggested_step == 0:
        return "none"
    return f"{group.suggested_step}, {group.suggested_g:g} g"


def _rise(group: GroupResult) -> str:
    eaten = [step for step in group.steps if step.n_days and step.rise is not None]
    if not eaten:
        return "not known"
    top = eaten[-1]
    return f"{top.rise:.1f} ({top.low:.1f} to {top.high:.1f})"


def _p(test: TestResult) -> str:
    if test.pvalue_adjusted is None:
        return "none"
    floor = f" / {test.min_pvalue:.2g}" if test.min_pvalue is not None else ""
    return f"{test.pvalue_adjusted:.2g}{floor}"


def _percent(p: float | None) -> str:
    if p is None:
        return "not known"
    if 0 < p < 0.01:
        return "<1%"
    return ">99%" if 0.99 < p < 1 else f"{100 * p:.0f}%"


def _sentences(group: GroupResult) -> list[str]:
    lines = [f"{group.fodmap_group}: {group.outcome}"]
    lines += [_wrapped(str(reason)) for reason in group.reasons]
    if group.double_margin is not None:
        double = group.double_margin
        step = "unclear" if double.suggested_step is None else f"step {double.suggested_step}"
        lines.append(_wrapped(f"At twice the margin ({double.name}) the answer is: {step}."))
    lines += [_wrapped(f"{day.date}: left out, {day.reason}.") for day in group.days_left_out]
    lines.append(_wrapped(str(group.next), bullet="  > "))
    return lines


def _wrapped(text: str, bullet: str = "  - ") -> str:
    return wrapped(text, bullet, " " * len(bullet))
