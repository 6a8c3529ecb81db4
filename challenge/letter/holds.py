"""Groups that screening holds up: no letter says to eat them, whatever the diary shows."""

from __future__ import annotations

from challenge.analysis.result import Analysis
from challenge.foods import find_food
from challenge.protocol.screening import screen
from challenge.protocol.settings import ScreeningSettings
from challenge.wording import Statement, statement


def held_up(analysis: Analysis, answers: ScreeningSettings) -> dict[str, Statement]:
    """Return the groups, or their foods, that are blocked or wait for a doctor's word, with why.

    A block may come to light after a challenge was made; then the diary can look fine and the
    food must be left all the same. What waits for a doctor's word about the person as a whole, and
    not about a group or food, is told to the doctor and does not keep foods out.
    """
    clearance = screen(answers)
    held: dict[str, Statement] = {}
    for group in analysis.groups:
        foods = dict.fromkeys(dose.food for dose in group.doses)
        findings = [
            finding
            for name in (foods or {"": None})
            for finding in clearance.because(group.fodmap_group, find_food(name))
            if finding.result == "blocked" or not finding.everything
        ]
        if findings:
            code = "held-blocked" if findings[0].result == "blocked" else "held-waiting"
            held[group.fodmap_group] = statement(code, answer=findings[0].code)
    return held
