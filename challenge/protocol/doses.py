"""What each group is tested with: a food this client may eat, and the portion of each step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from challenge.foods import Food, find_food, foods_for
from challenge.foods.model import Certainty
from challenge.problems import Problem, Severity
from challenge.protocol.screening import Clearance
from challenge.protocol.screening_rules import EXCLUSIONS
from challenge.terms import CONTROL, FodmapGroup

if TYPE_CHECKING:
    from challenge.protocol.settings import DietSettings, DoseSettings, Settings


@dataclass(frozen=True, kw_only=True, slots=True)
class UsualDoses:
    """The usual steps of a group and where doses become doubtful.

    Attributes
    ----------
    grams
        Three steps, lowest first [g of the carbohydrate].
    most_on_record, ceiling
        Above the first a dose is warned about, above the second it is refused [g].
    reason, source, certainty
        Why these.
    """

    grams: tuple[float, ...]
    most_on_record: float
    ceiling: float
    reason: str
    source: str
    certainty: Certainty


USUAL: Final[Mapping[FodmapGroup, UsualDoses]] = {
    "fructans": UsualDoses(
        grams=(2.0, 4.0, 6.0),
        most_on_record=12.0,
        ceiling=20.0,
        reason=(
            "2 g is where a blinded trial found symptoms (2.1 g a day), 4 g near usual intake "
            "(3.5 to 5 g a day), 6 g half of the dose that separated reactors on three days (12 g)"
        ),
        source="Skodje 2018; Liljebo 2020; Moshfegh 1999; Cox 2017; ceiling Gunn 2022 (20 g)",
        certainty="V",
    ),
    "fructose": UsualDoses(
        grams=(2.5, 5.0, 10.0),
        most_on_record=15.0,
        ceiling=25.0,
        reason="the first three of the four rising doses of a dose-finding trial",
        source="Cuff 2023, doi 10.1111/nmo.14575; ceiling Rao 2007 (2 of 20 healthy at 25 g)",
        certainty="V",
    ),
    "lactose": UsualDoses(
        grams=(3.0, 6.0, 12.0),
        most_on_record=12.0,
        ceiling=25.0,
        reason=(
            "some people react below 6 g, most with maldigestion manage 12 g at once, 24 g at once "
            "usually gives symptoms"
        ),
        source="EFSA 2010, doi 10.2903/j.efsa.2010.1777",
        certainty="V",
    ),
    "gos": UsualDoses(
        grams=(1.5, 3.0, 6.0),
        most_on_record=6.0,
        ceiling=12.0,
        reason="6 g a day is the dose of the blinded trial; halved twice below it",
        source="Cox 2017; the halving and the ceiling are common practice",
        certainty="V",
    ),
    "sorbitol": UsualDoses(
        grams=(2.0, 4.0, 6.0),
        most_on_record=10.0,
        ceiling=20.0,
        reason="up to the 6 g a day of the blinded trial; 10 g raises symptoms in most",
        source="Cox 2017; Yao 2014; ceiling Hyams 1983 (20 g: cramps and diarrhoea)",
        certainty="V",
    ),
    "mannitol": UsualDoses(
        grams=(2.0, 4.0, 6.0),
        most_on_record=10.0,
        ceiling=20.0,
        reason="as for sorbitol; 10 g raised symptoms in irritable bowel syndrome only",
        source="Yao 2014; ceiling 21 CFR 180.25(e) (20 g a day)",
        certainty="V",
    ),
    CONTROL: UsualDoses(
        grams=(2.5, 5.0, 10.0),
        most_on_record=25.0,
        ceiling=75.0,
        reason="as many grams as fructose, so that the amount does not give it away",
        source="common practice; Cox 2017 gave 12 g; ceiling Rezaie 2017 (75 g breath test)",
        certainty="CP",
    ),
}

_LARGEST_PORTION: Final = {False: 400.0, True: 600.0}
"""Largest portion in one go [g; mL of a drink]; common practice."""

_WARNING_ON_THE_LABEL: Final = 10.0
"""Added polyols above which a food must warn of laxative effects [g per 100 g]; Regulation (EU)
1169/2011, Annex III, 2.4."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One dose: its place, grams of the carbohydrate, portion [g or mL] and household measure."""

    step: int
    fodmap_g: float
    portion_g: float
    household: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """What one group is tested with.

    Attributes
    ----------
    food, unit
        Name as the plan writes it; ``g`` or ``mL``.
    steps
        Doses, lowest first.
    per_100g, certainty, source
        The figure behind the portions.
    note
        What to know of this food.
    reason
        Why these doses.
    """

    fodmap_group: FodmapGroup
    food: str
    unit: str
    steps: tuple[Step, ...]
    per_100g: float
    certainty: Certainty
    source: str
    note: str
    reason: str


def choose_sources(
    settings: Settings, clearance: Clearance
) -> tuple[dict[FodmapGroup, Source], list[Problem]]:
    """Return what each wanted group is tested with, and why others are left out.

    Parameters
    ----------
    settings
        The client's settings; groups, doses and exclusions count.
    clearance
        The screening; nothing that it holds up is returned.
    """
    groups = list(settings.protocol.groups)
    if settings.protocol.control and CONTROL not in groups:
        groups.append(CONTROL)
    sources: dict[FodmapGroup, Source] = {}
    problems: list[Problem] = []
    for group in groups:
        source = _choose(group, settings, clearance, problems)
        if source is not None:
            sources[group] = source
    return sources, problems


def _choose(
    group: FodmapGroup, settings: Settings, clearance: Clearance, problems: list[Problem]
) -> Source | None:
    held = [f for f in clearance.because(group) if not f.everything or f.result == "blocked"]
    if clearance.result(group) != "go":
        held = held or list(clearance.because(group))
        verb = "blocked" if clearance.result(group) == "blocked" else "waits for the doctor"
        problems.append(_left_out(group, f"{verb}. " + " ".join(f.sentence() for f in held)))
        return None
    wanted = settings.protocol.doses.get(group)
    if wanted is not None and wanted.food:
        source = _as_wanted(group, wanted, settings, clearance, problems)
        if source is not None or any(problem.severity == "error" for problem in problems):
            return source
    return _first_allowed(group, wanted, settings, clearance, problems)


def _as_wanted(
    group: FodmapGroup,
    wanted: DoseSettings,
    settings: Settings,
    clearance: Clearance,
    problems: list[Problem],
) -> Source | None:
    """The food that the dietitian named, unless this client may not eat it."""
    food = find_food(wanted.food)
    if food is None:
        if clearance.concerns_foods() or settings.diet.exclusions:
            problems.append(
                _left_out(
                    group,
                    f"{wanted.food} is not in the table of foods, so it cannot be checked against "
                    "this client's allergies and exclusions; another food is used.",
                )
            )
            return None
    else:
        reason = _not_for(food, settings.diet, clearance)
        if reason:
            problems.append(_left_out(group, f"{food.name} is not used. {reason}"))
            return None
        if food.group != group:
            problems.append(_mixed(group, food))
    return _build(group, wanted.food if food is None else food.name, food, wanted, problems)


def _first_allowed(
    group: FodmapGroup,
    wanted: DoseSettings | None,
    settings: Settings,
    clearance: Clearance,
    problems: list[Problem],
) -> Source | None:
    reasons: dict[str, list[str]] = {}
    for food in foods_for(group):
        reason = _not_for(food, settings.diet, clearance)
        if not reason and food.grams(100.0) is None:
            reason = (
                "No figure with a source is known; the dietitian gives food, per_100g and source "
                f"in [protocol.doses.{group}]."
            )
        if reason:
            reasons.setdefault(reason, []).append(food.name)
            continue
        # a figure that was meant for another food must not be carried over
        grams_only = wanted if wanted is not None and not wanted.food else None
        return _build(group, food.name, food, grams_only, problems)
    why = " ".join(f"{', '.join(names)}: {reason}" for reason, names in reasons.items())
    problems.append(_left_out(group, f"no food that this client may eat. {why}"))
    return None


def _not_for(food: Food, diet: DietSettings, clearance: Clearance) -> str:
    """Why this client may not eat a food, or nothing."""
    held = clearance.because(food.group, food)
    if held:
        return " ".join(finding.sentence() for finding in held)
    for exclusion in diet.exclusions:
        if EXCLUSIONS[exclusion] in food.traits:
            return f"The client's diet is {exclusion}."
    return ""


def _build(
    group: FodmapGroup,
    name: str,
    food: Food | None,
    wanted: DoseSettings | None,
    problems: list[Problem],
) -> Source | None:
    content = food.content(group) if food is not None else None
    figure = content.per_100g if content is not None else None
    certainty: Certainty = content.certainty if content is not None else "CP"
    source = content.source if content is not None else ""
    if wanted is not None and wanted.per_100g is not None:
        figure, certainty = wanted.per_100g, "CP"
        source = wanted.source or "entered by the dietitian"
        if content is not None and content.per_100g is None and "label" in content.source:
            problems += _against_the_label(group, name, figure)
    if not figure:
        message = f"no grams per 100 g are known for {name}."
        remedy = f"Give per_100g and source in [protocol.doses.{group}]."
        problems.append(_problem(group, "dose-without-figure", "error", message, remedy))
        return None
    grams = _grams(group, food, figure, wanted)
    steps = tuple(_step(place, g, figure, food) for place, g in enumerate(grams, start=1))
    found = _doubts(group, name, food, steps)
    problems += found
    if any(problem.severity == "error" for problem in found):
        return None
    return Source(
        fodmap_group=group,
        food=name,
        unit=food.unit if food is not None else "g",
        steps=steps,
        per_100g=figure,
        certainty=certainty,
        source=source,
        note=food.note if food is not None else "",
        reason=f"{USUAL[group].reason} ({USUAL[group].source})",
    )


def _against_the_label(group: FodmapGroup, name: str, figure: float) -> list[Problem]:
    """A sweet with a laxative warning has more added polyols than a figure below the limit says."""
    if group not in ("sorbitol", "mannitol") or figure > _WARNING_ON_THE_LABEL:
        return []
    message = (
        f"{figure:g} g per 100 g of {name} would need no laxative warning: that comes with over "
        f"{_WARNING_ON_THE_LABEL:g} % of added polyols (Regulation (EU) 1169/2011, Annex III, 2.4)."
    )
    remedy = "If the label has the warning, look for the figure again."
    return [_problem(group, "figure-against-label", "warning", message, remedy)]


def _grams(
    group: FodmapGroup, food: Food | None, figure: float, wanted: DoseSettings | None
) -> tuple[float, ...]:
    if wanted is not None and wanted.grams:
        return wanted.grams
    if food is not None and food.portions:
        return tuple(round(portion * figure / 100, 2) for portion in food.portions)
    return USUAL[group].grams


def _step(place: int, grams: float, figure: float, food: Food | None) -> Step:
    portion = grams if figure == 100 else _rounded(grams * 100 / figure)
    household = food.in_household_measure(portion) if food is not None else None
    return Step(step=place, fodmap_g=grams, portion_g=portion, household=household)


def _rounded(portion: float) -> float:
    """Round to what a kitchen scale or jug can show, never by more than 5 %."""
    if portion >= 50:
        return float(5 * round(portion / 5))
    return float(round(portion)) if portion >= 10 else round(portion, 1)


def _doubts(
    group: FodmapGroup, name: str, food: Food | None, steps: tuple[Step, ...]
) -> list[Problem]:
    """Check doses that were edited as well as those that came from the table."""
    usual = USUAL[group]
    top = steps[-1]
    problems = []
    if top.fodmap_g > usual.ceiling:
        message = f"{top.fodmap_g:g} g is more than {usual.ceiling:g} g ({usual.source})."
        problems.append(
            _problem(group, "dose-too-high", "error", message, "Lower the highest step.")
        )
    elif top.fodmap_g > usual.most_on_record:
        message = (
            f"{top.fodmap_g:g} g is more than the {usual.most_on_record:g} g on record for such "
            f"challenges ({usual.source})."
        )
        problems.append(_problem(group, "dose-unusual", "warning", message))
    if top.portion_g > _LARGEST_PORTION[food is not None and food.drink]:
        message = f"{top.fodmap_g:g} g would take {top.portion_g:g} g of {name}."
        remedy = "Lower the steps or choose another food."
        problems.append(_problem(group, "portion-too-large", "error", message, remedy))
    return problems


def _mixed(group: FodmapGroup, food: Food) -> Problem:
    return _problem(
        group,
        "food-not-single-group",
        "warning",
        f"{food.name} does not test {group} alone. {food.note}",
        "Choose a food that holds one group, or a weighed carbohydrate.",
    )


def _problem(
    group: FodmapGroup, code: str, severity: Severity, message: str, remedy: str = ""
) -> Problem:
    return Problem(code=code, severity=severity, message=f"{group}: {message}", remedy=remedy)


def _left_out(group: FodmapGroup, message: str) -> Problem:
    return _problem(group, "left-out", "warning", message)
