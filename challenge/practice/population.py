"""A practice as two tables, made from the spool: clients, and client-groups."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from sys import intern
from typing import TYPE_CHECKING, Any

from challenge.practice.records import Record

if TYPE_CHECKING:
    import pandas as pd

_CLIENT = ("client", "problem", "days_planned", "days_taken", "finished", "cycles")
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
        One row per client: ``client``, ``problem``, days, whether finished, cycles,
        ``completeness``.
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
    """Gather the tables in one pass over the records.

    The records themselves are let go; a column of a practice with very many clients takes some
    bytes per row, a dictionary per row takes hundreds.
    """
    import pandas as pd

    clients = _Columns(*_CLIENT, "completeness")
    groups = _Columns("client", *_GROUP, "n_steps")
    steps = _Columns("client", "fodmap_group", "share", "difference")
    for record in records:
        completeness = record.get("completeness", {}).get("all")
        clients.add(*(record.get(name) for name in _CLIENT), completeness)
        for group in record["groups"]:
            own = (group.get(name) for name in _GROUP)
            groups.add(record["client"], *own, len(group["steps"]))
            for share, difference in _steps(group):
                steps.add(record["client"], group["fodmap_group"], share, difference)
    return Population(
        clients=pd.DataFrame(clients.values),
        groups=pd.DataFrame(groups.values),
        steps=pd.DataFrame(steps.values),
    )


class _Columns:
    """Columns that grow by a row at a time."""

    def __init__(self, *names: str) -> None:
        self.values: dict[str, list[Any]] = {name: [] for name in names}

    def add(self, *row: Any) -> None:
        for column, value in zip(self.values.values(), row, strict=True):
            # every record read from a file has its own copy of the same few words
            column.append(intern(value) if type(value) is str else value)


def _steps(group: Record) -> Iterator[tuple[float, float]]:
    top = max((step["fodmap_g"] for step in group["steps"]), default=0.0)
    for step in group["steps"]:
        if step.get("difference") is not None and top:
            yield step["fodmap_g"] / top, step["difference"]
