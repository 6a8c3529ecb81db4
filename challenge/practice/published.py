"""Published shares of people for whom a group was a trigger, with their sources."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True, kw_only=True, slots=True)
class Study:
    """One published study.

    Attributes
    ----------
    name, source, who
        Authors and year, where to find it, who took part and how.
    certainty
        V, V+ or M, as in DEVELOPERS.md.
    percent
        Share of people with a reaction per group.
    """

    name: str
    source: str
    who: str
    certainty: str
    percent: Mapping[str, float]


@cache
def studies() -> tuple[Study, ...]:
    """Return the studies, the largest set of groups first."""
    import tomllib
    from importlib.resources import files

    text = files("challenge.practice").joinpath("published.toml").read_text("utf-8")
    return tuple(Study(**row) for row in tomllib.loads(text)["study"])
