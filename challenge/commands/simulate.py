"""``challenge simulate``: invented clients with known tolerance."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from challenge.commands.app import app
from challenge.commands.screen import say, say_json
from challenge.errors import ChallengeError

if TYPE_CHECKING:
    from challenge.simulation.world import World


@app.command()
def simulate(
    directory: Annotated[
        Path | None, typer.Argument(metavar="DIR", help="Where the client folders go.")
    ] = None,
    clients: Annotated[int, typer.Option(min=1, max=1_000_000, help="How many clients.")] = 20,
    seed: Annotated[int, typer.Option(min=0, help="The same seed makes the same clients.")] = 1,
    world: Annotated[str, typer.Option(help="How they are made; see --list-worlds.")] = "usual",
    cycles: Annotated[int, typer.Option(min=1, max=12, help="Challenges of every group.")] = 1,
    control: Annotated[bool, typer.Option(help="Add a glucose control to every cycle.")] = False,
    change: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="SETTING=VALUE", help="Change one setting; may be repeated."),
    ] = None,
    truth: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Where the truth goes [DIR/truth.csv].")
    ] = None,
    jobs: Annotated[int, typer.Option(min=1, help="Processes at work.")] = 1,
    list_worlds: Annotated[bool, typer.Option(help="Name the worlds and stop.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Say what was done as JSON.")] = False,
) -> None:
    """Write invented clients' folders, and apart from them the truth that no analysis sees.

    They are for training, planning and testing, never evidence about anybody. Every setting of
    the worlds stands with its reason in challenge/simulation/world.py.

    Example: challenge simulate practice --clients 100 --seed 7 --cycles 2 --set flare_rate=0.05
    """
    from dataclasses import replace

    from challenge.simulation.changes import change as changed
    from challenge.simulation.changes import world_by_name

    if list_worlds:
        from challenge.simulation.worlds import WORLDS

        for name in WORLDS:
            say(name)
        return
    if directory is None:
        raise typer.BadParameter("say where the folders go", param_hint="DIR")
    made = changed(replace(world_by_name(world), cycles=cycles, control=control), change or ())
    truth_file = truth if truth is not None else directory / "truth.csv"
    _refuse_to_overwrite(directory, truth_file)
    n_groups = _write(directory, truth_file, made, seed, clients, jobs)
    if as_json:
        say_json(
            {
                "directory": str(directory),
                "clients": clients,
                "groups": n_groups,
                "seed": seed,
                "world": world,
                "cycles": made.cycles,
                "truth": str(truth_file),
            }
        )
        return
    say(f"Wrote {clients} invented clients to {directory}; the truth is in {truth_file}.")


def _refuse_to_overwrite(directory: Path, truth_file: Path) -> None:
    if directory.exists() and not directory.is_dir():
        raise ChallengeError(f"{directory} is a file; name a directory.")
    if truth_file.exists():
        raise ChallengeError(f"{truth_file} exists already; name another place or remove it.")
    if directory.exists() and next(directory.glob("invented-*"), None) is not None:
        raise ChallengeError(f"{directory} holds invented clients already; name another directory.")


def _write(
    directory: Path, truth_file: Path, world: World, seed: int, clients: int, jobs: int
) -> int:
    from joblib import Parallel, delayed

    from challenge.practice.folders import write_truth
    from challenge.practice.invent import invent_folders

    directory.mkdir(parents=True, exist_ok=True)
    chunk = 50
    starts = range(0, clients, chunk)
    told = Parallel(n_jobs=jobs)(
        delayed(invent_folders)(directory, world, seed, start, min(start + chunk, clients))
        for start in starts
    )
    rows = [row for part in told for row in part]
    truth_file.parent.mkdir(parents=True, exist_ok=True)
    write_truth(truth_file, rows)
    return len(rows)
