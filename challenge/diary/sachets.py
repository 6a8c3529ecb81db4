"""Names of blinded sachets: a letter for the period, a digit for the dose step, nothing else."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

LETTERS: Final = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Letters of periods; I and O are left out, for they look like digits."""

_NAME: Final = re.compile(r"sachet[\s-]*([A-HJ-NP-Z])[\s-]*(\d)", re.IGNORECASE)


class Sachet(NamedTuple):
    """A sachet: letter of its period and dose step."""

    letter: str
    step: int

    @property
    def name(self) -> str:
        """As plan, page and label write it: ``sachet A1``."""
        return f"sachet {self.letter}{self.step}"

    @property
    def period(self) -> str:
        """What the period tests, as long as nobody knows: ``sachet A``."""
        return f"sachet {self.letter}"


def find_sachet(food: str) -> Sachet | None:
    """Return the sachet that a written food means, or None."""
    found = _NAME.fullmatch(food.strip())
    return Sachet(found[1].upper(), int(found[2])) if found else None
