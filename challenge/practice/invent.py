"""Folders of invented clients, a stretch of them at a time (one task of a parallel run)."""

from __future__ import annotations

from pathlib import Path

from challenge.practice.folders import write_client
from challenge.simulation.clients import simulate_client
from challenge.simulation.world import World


def invent_folders(
    directory: Path, world: World, seed: int, first: int, end: int
) -> list[dict[str, object]]:
    """Write clients ``first`` to ``end - 1`` and return their rows of ``truth.csv``."""
    rows: list[dict[str, object]] = []
    for index in range(first, end):
        client = simulate_client(world, seed, index)
        write_client(directory, client, world.margin)
        rows.extend(client.truth_rows())
    return rows
