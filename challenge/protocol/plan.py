"""The protocol laid on dates: one entry per day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from challenge.diary.sachets import find_sachet
from challenge.terms import FodmapGroup, Phase

if TYPE_CHECKING:
    import pandas as pd

    from challenge.protocol.blinding import Trial

PLAN_COLUMNS: Final = (
    "date",
    "phase",
    "cycle",
    "fodmap_group",
    "step",
    "food",
    "portion_g",
    "fodmap_g",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanDay:
    """One day of the plan.

    Attributes
    ----------
    date
        The day.
    phase
        ``baseline``, ``challenge``, ``washout`` or ``rest``.
    cycle
        Which repeat of the group's challenge, from 1; None except on challenge days.
    fodmap_group
        The group challenged, on a washout day the group it follows, else None; None as well on the
        days of a blinded challenge whose order is still sealed.
    step
        Dose step from 1 (lowest); None except on challenge days.
    food, portion_g, fodmap_g
        What to eat [g or mL] and the grams of the carbohydrate in it.
    """

    date: dt.date
    phase: Phase
    cycle: int | None = None
    fodmap_group: FodmapGroup | None = None
    step: int | None = None
    food: str = ""
    portion_g: float | None = None
    fodmap_g: float | None = None

    @property
    def tested(self) -> str | None:
        """What a challenge day tests: its group; ``sachet A`` while that is sealed; else None."""
        if self.phase != "challenge" or self.fodmap_group is not None:
            return self.fodmap_group if self.phase == "challenge" else None
        sachet = find_sachet(self.food)
        return sachet.period if sachet is not None else None

    @property
    def sealed(self) -> bool:
        """A day of a blinded challenge of which nobody here knows the group."""
        return self.fodmap_group is None and self.tested is not None


@dataclass(frozen=True)
class Plan:
    """Every day of a client's protocol, in date order, each date once.

    Attributes
    ----------
    days
        The days.
    trial
        The blinded challenge that is sealed, None without one. The days cannot tell what it
        compares.
    ladders
        Group -> step -> grams of steps that the plan once had, although no day has them now.
    """

    days: tuple[PlanDay, ...]
    trial: Trial | None = None
    ladders: Mapping[FodmapGroup, Mapping[int, float]] = field(default_factory=dict, compare=False)

    def __iter__(self) -> Iterator[PlanDay]:
        return iter(self.days)

    def __len__(self) -> int:
        return len(self.days)

    def on(self, date: dt.date) -> PlanDay | None:
        """Return the plan of one day, or None for a day outside the plan."""
        return next((day for day in self.days if day.date == date), None)

    def groups(self) -> tuple[FodmapGroup, ...]:
        """Return the groups challenged, in the order in which they first appear."""
        seen = (day.fodmap_group for day in self.days if day.phase == "challenge")
        return tuple(dict.fromkeys(group for group in seen if group is not None))

    def steps(self, group: FodmapGroup) -> dict[int, float]:
        """Return the planned grams of each step of a group, lowest step first."""
        grams: dict[int, float] = dict(self.ladders.get(group, {}))
        for day in self.days:
            if day.phase == "challenge" and day.fodmap_group == group and day.step is not None:
                grams[day.step] = (
                    day.fodmap_g if day.fodmap_g is not None else grams.get(day.step, 0.0)
                )
        return dict(sorted(grams.items()))

    def to_frame(self) -> pd.DataFrame:
        """Return the plan as a table with the columns of ``plan.csv``."""
        import pandas as pd

        rows = [[getattr(day, name) for name in PLAN_COLUMNS] for day in self.days]
        return pd.DataFrame(rows, columns=list(PLAN_COLUMNS))


def within_challenge(days: Sequence[PlanDay | None], number: int) -> bool:
    """Whether a day has doses of one and the same challenge on both sides, but for rest days."""

    def challenged(those: Iterable[PlanDay | None]) -> tuple[str | None, int | None] | None:
        near = next((day for day in those if day is not None and day.phase != "rest"), None)
        return None if near is None or near.phase != "challenge" else (near.tested, near.cycle)

    before = challenged(reversed(days[:number]))
    return before is not None and before == challenged(days[number + 1 :])
