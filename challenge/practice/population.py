"""A practice as two tables, made from the spool: clients, and client-groups."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from challenge.practice.records import Record

if TYPE_CHECKING:
    import pandas as pd

_CLIENT = ("client", "problem", "days_planned", "days_taken", "cycles")
_GROUP = (
    "fodmap_group",
    "control",
    "suggested_step",
    "outcome",
    "p_reaction",
    "unclear_because",
    "doses_planned",
    "doses_eaten",
    "doses_as_planned",
    "stopped",
    "decided_step",
    "decided",
    "overridden",
)


@dataclass(frozen=True, kw_only=True)
class Population:
    """All clients of an audit, a few numbers each.

    Attributes
    ----------
    clients
        One row per client: ``client``, ``problem``, days, cycles, ``completeness``.
    groups
        One row per client and group: outcome, suggested step, doses, decision; ``n_steps``.
    steps
        One row per client, group and step eaten: ``difference`` (challenge minus reference on the
        primary symptom [points]) and ``share`` of the group's top dose.
    """

    clients: pd.DataFrame
    groups: pd.DataFrame
    steps: pd.DataFrame


def population_of(records: Iterable[Record]) -> Population:
    """Gather the tables in one pass over the records."""
    import pandas as pd

    clients: list[dict[str, Any]] = []
    groups: list[dict[str, Any]] = []
    steps: list[dict[str, Any]] = []
    for record in records:
        row = {name: record.get(name) for name in _CLIENT}
        row["completeness"] = record.get("completeness", {}).get("all")
        clients.append(row)
        for group in record["groups"]:
            row = {name: group.get(name) for name in _GROUP}
            row["client"] = record["client"]
            row["n_steps"] = len(group["steps"])
            groups.append(row)
            steps.extend(_steps(record["client"], group))
    columns = ["client", "fodmap_group", "share", "difference"]
    return Population(
        clients=pd.DataFrame(clients, columns=[*_CLIENT, "completeness"]),
        groups=pd.DataFrame(groups, columns=["client", *_GROUP, "n_steps"]),
        steps=pd.DataFrame(steps, columns=columns),
    )


def _steps(client: str, group: Record) -> Iterable[dict[str, Any]]:
    top = max((step["fodmap_g"] for step in group["steps"]), default=0.0)
    for step in group["steps"]:
        if step.get("difference") is None or not top:
            continue
        yield {
            "client": client,
            "fodmap_group": group["fodmap_group"],
            "share": step["fodmap_g"] / top,
            "difference": step["difference"],
        }
