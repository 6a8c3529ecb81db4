"""Invented clients made, analysed and forgotten again in memory: thousands of them."""

from __future__ import annotations

from collections.abc import Callable

from challenge.practice.audit import audit_client
from challenge.practice.records import Record
from challenge.practice.truth import Calls, lay_beside, truth_of
from challenge.simulation.clients import SimulatedClient, simulate_client
from challenge.simulation.world import World

Rule = Callable[[SimulatedClient, float], Record]
Maker = Callable[[World, int, int], SimulatedClient]

_CHUNK = 25


def by_analysis(client: SimulatedClient, margin: float) -> Record:
    """Return what the analysis says of an invented client, as an audit record."""
    from challenge.protocol.settings import AnalysisSettings, Settings

    settings = Settings(client=client.code, analysis=AnalysisSettings(margin=margin))
    return audit_client(client.code, client.diary, client.plan, settings)


def experiment(
    world: World,
    seed: int,
    n_clients: int,
    jobs: int = 1,
    rule: Rule = by_analysis,
    make: Maker = simulate_client,
) -> Calls:
    """Return the calls of a rule on invented clients beside the truth.

    Parameters
    ----------
    world, seed, n_clients
        The same three make the same clients, on any number of jobs.
    jobs
        Processes.
    rule
        What gives the record of a client; the analysis of this package by default.
    make
        What makes a client of a world, seed and number; those of the world itself by default.
    """
    from joblib import Parallel, delayed

    starts = range(0, n_clients, _CHUNK)
    parts = Parallel(n_jobs=jobs)(
        delayed(_stretch)(world, seed, start, min(start + _CHUNK, n_clients), rule, make)
        for start in starts
    )
    records = [record for part in parts for record in part[0]]
    rows = [row for part in parts for row in part[1]]
    return lay_beside(records, truth_of(rows))


def _stretch(
    world: World, seed: int, first: int, end: int, rule: Rule, make: Maker
) -> tuple[list[Record], list[dict[str, object]]]:
    records: list[Record] = []
    rows: list[dict[str, object]] = []
    for index in range(first, end):
        client = make(world, seed, index)
        records.append(rule(client, world.margin))
        rows.extend(client.truth_rows())
    return records, rows
