"""A practice in numbers: what the report says, worked out once and not yet put into words."""

from __future__ import annotations

import re
from dataclasses import dataclass

from challenge.practice.mixed import RiseByDose, rise_by_dose
from challenge.practice.population import Population
from challenge.practice.tolerated import Comparison, GroupShares, compare, shares
from challenge.statistics.proportions import Proportion, proportion


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread:
    """Median and quartiles of something over clients; None without any."""

    n: int
    low: float | None
    middle: float | None
    high: float | None


@dataclass(frozen=True, kw_only=True)
class Summary:
    """Everything that a report tells.

    Attributes
    ----------
    n_clients, n_problems
        Folders; those among them that could not be analysed.
    problems
        What was wrong, and how often.
    completeness, completeness_values
        Share of the scores asked for that were given.
    doses_eaten, doses_as_planned, challenges_stopped
        Doses eaten of doses planned; of those, within a tenth of the grams planned; challenges
        that ended early because of symptoms, of all.
    finished
        Clients who ate something in every challenge planned, of all that could be analysed.
    days_taken, days_planned
        Of those, from the first day of the plan to the last dose eaten; of all, days in the plan.
    groups
        Shares per group.
    comparison, rises
        Groups compared within clients; rise with dose.
    unclear, unclear_because
        Share of unclear outcomes, and why.
    control
        Share of control challenges with a reaction.
    decided, overridden
        Groups with a decision, of all; decisions other than suggested, of those.
    """

    n_clients: int
    n_problems: int
    problems: tuple[tuple[str, int], ...]
    completeness: Spread
    completeness_values: tuple[float, ...]
    doses_eaten: Proportion
    doses_as_planned: Proportion
    challenges_stopped: Proportion
    finished: Proportion
    days_taken: Spread
    days_planned: Spread
    groups: tuple[GroupShares, ...]
    comparison: Comparison
    rises: RiseByDose
    unclear: Proportion
    unclear_because: tuple[tuple[str, int], ...]
    control: Proportion
    decided: Proportion
    overridden: Proportion


def summarise(population: Population) -> Summary:
    """Work out everything that a report tells."""
    clients, groups = population.clients, population.groups
    fine = clients[clients["problem"].isna()]
    control = groups[(groups["control"] == True) & (groups["outcome"] != "unclear")]  # noqa: E712
    unclear = groups[groups["outcome"] == "unclear"]
    eaten, planned = int(groups["doses_eaten"].sum()), int(groups["doses_planned"].sum())
    decided = groups[groups["decided"] == True]  # noqa: E712
    values = fine["completeness"].dropna().astype(float)
    finished = fine[fine["finished"] == True]  # noqa: E712
    return Summary(
        n_clients=len(clients),
        n_problems=len(clients) - len(fine),
        problems=_counts(clients["problem"].dropna().map(_kind_of_problem).tolist()),
        completeness=_spread(values.tolist()),
        completeness_values=tuple(values),
        doses_eaten=proportion(min(eaten, planned), planned),
        doses_as_planned=proportion(int(groups["doses_as_planned"].sum()), eaten),
        challenges_stopped=proportion(int((groups["stopped"] > 0).sum()), len(groups)),
        finished=proportion(len(finished), len(fine)),
        days_taken=_spread(finished["days_taken"].dropna().tolist()),
        days_planned=_spread(fine["days_planned"].dropna().tolist()),
        groups=shares(groups) if len(groups) else (),
        comparison=compare(groups),
        rises=rise_by_dose(population.steps),
        unclear=proportion(len(unclear), len(groups)),
        unclear_because=_counts(unclear["unclear_because"].tolist()),
        control=proportion(int((control["outcome"] == "reacted").sum()), len(control)),
        decided=proportion(len(decided), len(groups)),
        overridden=proportion(int((decided["overridden"] == True).sum()), len(decided)),  # noqa: E712
    )


def _spread(values: list[float]) -> Spread:
    if not values:
        return Spread(n=0, low=None, middle=None, high=None)
    import numpy as np

    low, middle, high = np.quantile(values, [0.25, 0.5, 0.75])
    return Spread(n=len(values), low=float(low), middle=float(middle), high=float(high))


def _counts(values: list[str]) -> tuple[tuple[str, int], ...]:
    from collections import Counter

    return tuple(sorted(Counter(values).items(), key=lambda item: (-item[1], item[0])))


def _kind_of_problem(problem: str) -> str:
    # line, dates and the number of further problems differ from folder to folder
    problem = re.sub(r", line \d+(?=:)|\d{4}-\d\d-\d\d| \(and \d+ more\)", "", problem)
    return re.sub(r"  +", " ", problem)
