"""Who may start what: answers to go, ask the doctor first, or blocked, with reason and source."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from challenge.foods import Food
from challenge.foods.model import Certainty
from challenge.problems import Problem
from challenge.protocol.screening_rules import ALLERGENS, RULES, Level, Rule
from challenge.terms import FodmapGroup

if TYPE_CHECKING:
    from challenge.protocol.settings import DoctorAsked, ScreeningSettings

Result = Literal["go", "ask", "blocked"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """What one answer means.

    Attributes
    ----------
    code
        The answer: a condition, an alarm feature, ``allergy: mushroom``.
    level
        ``block``, ``ask`` or ``note``.
    groups, traits, words
        What it concerns: groups, traits of food, words in a food's name. None of them: everything.
    reason, source, certainty
        Why, where that stands, how sure it is.
    cleared
        The record of the doctor's word, which frees an ``ask``; never a ``block``.
    """

    code: str
    level: Level
    groups: tuple[FodmapGroup, ...]
    traits: tuple[str, ...]
    words: tuple[str, ...]
    reason: str
    source: str
    certainty: Certainty
    cleared: DoctorAsked | None = None

    @property
    def everything(self) -> bool:
        """It concerns every group and food."""
        return not (self.groups or self.traits or self.words)

    @property
    def result(self) -> Result:
        """What it comes to, the doctor's word considered."""
        if self.level == "block":
            return "blocked"
        return "ask" if self.level == "ask" and self.cleared is None else "go"

    def concerns(self, group: FodmapGroup | None, food: Food | None) -> bool:
        """Tell whether it concerns this group or this food."""
        if self.everything or group in self.groups:
            return True
        if food is None:
            return False
        inside = {food.group, *food.also, *(content.group for content in food.contents)}
        named = set(self.words) & {word for name in _names(food) for word in _words(name)}
        return bool(named) or bool(inside & set(self.groups) or food.traits & set(self.traits))

    def sentence(self) -> str:
        """Reason, source and the doctor's word in one line."""
        sure = {"V": "", "M": ", from memory", "CP": ""}[self.certainty]
        sure = "" if self.source == "from memory" else sure
        record = ""
        if self.cleared is not None:
            asked = self.cleared
            record = f" Doctor asked: {asked.doctor}, {asked.on}, recorded by {asked.recorded_by}."
        return f"{self.reason} ({self.source}{sure}.){record}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Clearance:
    """All findings of one screening.

    Attributes
    ----------
    screened
        A screening is on record.
    findings
        What the answers mean, blocks first.
    """

    screened: bool
    findings: tuple[Finding, ...]

    def because(
        self, group: FodmapGroup | None = None, food: Food | None = None
    ) -> tuple[Finding, ...]:
        """Return the findings that hold up a group or food, or everything if neither is given."""
        return tuple(
            finding
            for finding in self.findings
            if finding.result != "go" and finding.concerns(group, food)
        )

    def result(self, group: FodmapGroup | None = None, food: Food | None = None) -> Result:
        """Return ``go``, ``ask`` or ``blocked`` for a group, a food in it, or everything."""
        results = {finding.result for finding in self.because(group, food)}
        if "blocked" in results:
            return "blocked"
        return "ask" if "ask" in results else "go"

    def concerns_foods(self) -> bool:
        """Tell whether some finding depends on what a food contains."""
        return any(f.result != "go" and (f.traits or f.words) for f in self.findings)

    def problems(self) -> list[Problem]:
        """Return what holds everything up, as problems."""
        remedies = {
            "blocked": "Nothing can be planned while this holds.",
            "ask": "Ask the doctor; record who answered and when with `challenge new --doctor`.",
        }
        return [
            Problem(
                code=f"screening-{finding.code.partition(':')[0]}",
                severity="error",
                message=finding.sentence(),
                remedy=remedies[finding.result],
            )
            for finding in self.because()
        ]


def screen(answers: ScreeningSettings) -> Clearance:
    """Return what the screening answers mean.

    Without a screening on record (``asked_on`` None) unanswered questions raise nothing, but every
    condition, alarm feature and allergy that is written down counts all the same.
    """
    findings = [_finding(code, rule, answers) for code in _codes(answers) for rule in RULES[code]]
    for text in answers.allergies:
        for allergy in re.split(r"[,;/&+]| and ", text):
            findings += _allergy(allergy.strip(), answers)
    findings += _refusals(answers)
    rank = {"block": 0, "ask": 1, "note": 2}
    return Clearance(
        screened=answers.asked_on is not None,
        findings=tuple(sorted(findings, key=lambda finding: rank[finding.level])),
    )


def _codes(answers: ScreeningSettings) -> Iterator[str]:
    yield from dict.fromkeys((*answers.conditions, *answers.alarm_features))
    if answers.coeliac_test == "positive":
        yield "coeliac-test-positive"
    if answers.restriction_helped is False:
        yield "restriction-did-not-help"
    elif (
        answers.restriction_change is not None
        and answers.restriction_change < 50
        and "sss" in answers.restriction_measure.casefold()
    ):
        yield "restriction-small-change"
    if answers.restriction_weeks is not None:
        if answers.restriction_weeks < 2:
            yield "restriction-short"
        elif answers.restriction_weeks > 8:
            yield "restriction-long"
    if answers.asked_on is not None:
        yield from _unanswered(answers)


def _unanswered(answers: ScreeningSettings) -> Iterator[str]:
    if answers.diagnosed_by_doctor is not True:
        yield "no-diagnosis"
    # known coeliac disease needs no test, and its foods are blocked anyway
    if "coeliac-disease" not in answers.conditions:
        if answers.coeliac_test in {None, "not-done", "unknown"}:
            yield "coeliac-test-missing"
        elif answers.coeliac_test == "negative" and answers.coeliac_test_on_gluten is not True:
            yield "coeliac-test-without-gluten"
    if answers.restriction_helped is None:
        yield "restriction-not-judged"


def _finding(code: str, rule: Rule, answers: ScreeningSettings) -> Finding:
    return Finding(
        code=code,
        level=rule.level,
        groups=rule.groups,
        traits=rule.traits,
        words=(),
        reason=rule.reason,
        source=rule.source,
        certainty=rule.certainty,
        cleared=_record(code, answers.doctor_asked) if rule.level == "ask" else None,
    )


def _record(code: str, records: Iterable[DoctorAsked]) -> DoctorAsked | None:
    latest = None
    for record in records:
        if record.condition == code:
            latest = record
    return latest if latest is not None and latest.agreed else None


def _allergy(allergy: str, answers: ScreeningSettings) -> Iterator[Finding]:
    """Block the foods of an allergy; ask about one that no food of the table is known for."""
    words = _words(allergy)
    known = [word for word in words if word in ALLERGENS]
    traits = dict.fromkeys(trait for word in known for trait in ALLERGENS[word])
    code = f"allergy: {allergy}"
    if not words:
        return
    if traits or not known:
        yield Finding(
            code=code,
            level="block",
            groups=(),
            traits=tuple(traits),
            words=tuple(known or words),
            reason=f"Allergy ({allergy}): foods that contain it or cross-react are not used.",
            source="copy of ASCIA's text: allergy challenges need trained staff",
            certainty="V",
        )
    if not known:
        yield _finding("unknown-allergy", RULES["unknown-allergy"][0], answers)


def _refusals(answers: ScreeningSettings) -> Iterator[Finding]:
    """A doctor's no blocks what the question was about; an unplaced one blocks everything."""
    last = {record.condition: record for record in answers.doctor_asked}
    for code, record in last.items():
        if record.agreed:
            continue
        reason = f"{RULES['doctor-said-no'][0].reason} ({code}, {record.doctor}, {record.on})"
        asked = [rule for rule in RULES.get(code, ()) if rule.level == "ask"]
        for rule in asked or RULES["doctor-said-no"]:
            yield Finding(
                code="doctor-said-no",
                level="block",
                groups=rule.groups,
                traits=rule.traits,
                words=(),
                reason=reason,
                source="the doctor's answer",
                certainty="V",
            )


def _names(food: Food) -> tuple[str, ...]:
    return (food.name, *food.names)


def _words(text: str) -> list[str]:
    return [_singular(word) for word in re.findall(r"[^\W\d_]+", text.casefold())]


def _singular(word: str) -> str:
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("shes", "ches", "oes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and not word.endswith("ss") and len(word) > 3 else word
