"""The operating characteristics as tables: over all, by group, and the calibration curve."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from challenge.practice.operating import NUMBERS, Estimate, Operating, operating
from challenge.practice.truth import Calls
from challenge.terms import GROUPS_AND_CONTROL

if TYPE_CHECKING:
    import pandas as pd


def by_group(calls: Calls) -> dict[str, Operating]:
    """Return the operating characteristics over all groups (``all``) and of each."""
    present = set(calls.group.tolist())
    groups = [group for group in GROUPS_AND_CONTROL if group in present]
    return {"all": operating(calls), **{g: operating(calls.of_group(g)) for g in groups}}


def as_table(characteristics: dict[str, Operating]) -> pd.DataFrame:
    """Return one row per entry, a value and a ``_se`` column for every number."""
    import pandas as pd

    rows = [{"groups": name, **entry.row()} for name, entry in characteristics.items()]
    return pd.DataFrame(rows)


def as_json(characteristics: dict[str, Operating], calls: Calls) -> dict[str, Any]:
    """Return everything as plain values."""
    return {
        "not_analysed": calls.not_analysed,
        "groups": {name: entry.row() for name, entry in characteristics.items()},
        "calibration": [
            {
                "n": point.n,
                "stated": point.stated,
                "happened": point.happened,
                "low": point.low,
                "high": point.high,
            }
            for point in characteristics["all"].calibration.bins
        ],
    }


def as_lines(characteristics: dict[str, Operating], calls: Calls) -> list[str]:
    """Return the table for a terminal; errors are Monte-Carlo standard errors."""
    names = list(characteristics)
    width = max(len(name) for name in (*NUMBERS, "client-groups"))
    lines = [
        "Suggestions against the truth (value ± Monte-Carlo standard error; the groups of a "
        "client count as one)",
        " " * width + "".join(f"{name:>14}" for name in names),
    ]
    for number in NUMBERS:
        cells = [cell(getattr(characteristics[name], number)) for name in names]
        label = number.replace("_", " ")
        lines.append(f"{label:<{width}}" + "".join(f"{cell:>14}" for cell in cells))
    counts = "".join(f"{characteristics[name].n_groups:>14}" for name in names)
    lines.append(f"{'client-groups':<{width}}{counts}")
    lines.append("")
    lines.append("Calibration: when the most probable step is given a probability of about ...")
    for point in characteristics["all"].calibration.bins:
        lines.append(
            f"  {point.stated:.2f} it is right in {point.happened:.2f} "
            f"(95 % interval {point.low:.2f} to {point.high:.2f}; {point.n} calls)"
        )
    if calls.not_analysed:
        lines.append(f"{calls.not_analysed} client-groups of the truth file have no result.")
    return lines


def cell(estimate: Estimate) -> str:
    """Return value and error as a table shows them."""
    if estimate.value is None:
        return "-"
    if estimate.error is None:
        return f"{estimate.value:.3f}"
    return f"{estimate.value:.3f} ±{estimate.error:.3f}"
