"""Settings of one client, as ``client.toml`` holds them; every key has a default."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import replace
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from challenge.diary.disturbances import KINDS, Kind
from challenge.protocol.ratings import RATINGS_PER_DAY
from challenge.terms import GROUPS, SYMPTOMS, FodmapGroup

Condition = Literal[
    "hereditary-fructose-intolerance",
    "lifelong-aversion-to-sweet-food",
    "family-hereditary-fructose-intolerance",
    "galactosaemia",
    "coeliac-disease",
    "phenylketonuria",
    "g6pd-deficiency",
    "fever",
    "acute-gastroenteritis",
    "antibiotics",
    "eating-disorder",
    "past-eating-disorder",
    "food-anxiety",
    "underweight",
    "food-insecurity",
    "uncontrolled-psychiatric-disorder",
    "pregnancy",
    "breastfeeding",
    "under-18",
    "diabetes",
    "inflammatory-bowel-disease",
    "bowel-surgery",
    "stoma",
    "short-bowel",
    "stricture",
    "kidney-disease",
    "gout",
    "sucrase-isomaltase-deficiency",
    "other-sugar-disorder",
    "sulphite-asthma",
    "pollen-food-syndrome",
    "latex-allergy",
    "new-medicine",
    "medicine-with-sorbitol-or-lactose",
]

AlarmFeature = Literal[
    "weight-loss",
    "rectal-bleeding",
    "family-bowel-or-ovarian-cancer",
    "family-inflammatory-bowel-disease",
    "changed-bowel-habit-over-60",
    "anaemia",
    "abdominal-or-rectal-mass",
    "raised-inflammatory-markers",
    "night-time-symptoms",
    "new-onset-over-50",
    "persistent-vomiting",
    "jaundice",
    "severe-or-worsening-pain",
]

Exclusion = Literal[
    "vegan",
    "gluten-free",
    "milk-free",
    "nut-free",
    "legume-free",
    "mushroom-free",
    "allium-free",
    "celery-free",
    "sulphite-free",
    "aspartame-free",
    "honey-free",
]

Grams = Annotated[float, Field(gt=0, le=100)]


class Section(BaseModel):
    """A table of client.toml. Unknown keys are reported by the reader, never lost in silence."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class AnalysisSettings(Section):
    """The rule by which a rise in symptoms is judged, fixed before the first challenge."""

    margin: float = Field(default=1.0, gt=0, le=10)
    """Smallest rise that matters [score points]."""
    confidence: float = Field(default=0.90, gt=0.5, lt=1)
    """Confidence level of the intervals (0.90 two-sided is 0.95 one-sided)."""
    primary_symptom: str = ""
    """Symptom on which tests are adjusted; by default the worst one in the baseline."""
    seed: int = 20260301
    """Seed of every random number drawn in the analysis."""


class DiarySettings(Section):
    """What the client scores, and how odd files are to be read."""

    symptoms: tuple[str, ...] = SYMPTOMS
    """0-10 symptoms followed."""
    ratings_per_day: int = Field(default=RATINGS_PER_DAY, ge=1, le=12)
    """How often a day the client scores."""
    ratings_per_challenge_day: int | None = Field(default=None, ge=1, le=12)
    """The same on challenge days, where more ratings buy certainty; by default as on others."""
    columns: dict[str, str] = Field(default_factory=dict)
    """Column names of the client's own spreadsheet -> column names of the contract."""
    timezone: str = "UTC"
    """IANA name of the client's time zone (``Europe/London``): only with it can times that a change
    of the clocks leaves out or gives twice be found. ``UTC`` knows no such change."""

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, name: str) -> str:
        if name in ("", "UTC"):
            return name
        from challenge.diary.clock_changes import zone_named, zones_like

        if zone_named(name) is None:
            meant = " or ".join(zones_like(name)) or "names are like Europe/London"
            raise ValueError(f"no time zone has this name ({meant})")
        return name


class DisturbanceSettings(Section):
    """How the days of one kind of event are handled; what is left out stays as it comes.

    The kinds, their defaults and sources stand in ``challenge.diary.disturbances``.
    """

    words: tuple[Annotated[str, Field(min_length=1)], ...] = ()
    """Further words by which an entry is recognised; a kind of one's own needs some."""
    leaves_out: bool | None = None
    """Whether its days are left out of the analysis; otherwise they are only marked."""
    days_before: int | None = Field(default=None, ge=0, le=28)
    days_after: int | None = Field(default=None, ge=0, le=28)
    """Days before its start and after its end that are handled alike."""
    hold_days: int | None = Field(default=None, ge=0, le=90)
    """Days after its end on which no challenge starts; 0 holds up its own days only."""
    source: str = ""
    """Where the change comes from: guidance, the doctor, the client's own experience."""


class DoctorAsked(Section):
    """A question that was put to the doctor: the record that frees an "ask first"."""

    condition: str
    """The finding it answers, by its code."""
    doctor: str = Field(min_length=1, max_length=40)
    """Who answered: a role or initials, never a full name."""
    recorded_by: str = Field(min_length=1, max_length=10)
    """Initials of the dietitian."""
    on: dt.date
    agreed: bool = True
    about: tuple[str, ...] | None = None
    """Alarms of the diary that it answers, by their keys; None: all up to that day."""


class ScreeningSettings(Section):
    """Answers to the screening questions. ``asked_on`` None means that nobody asked yet."""

    asked_on: dt.date | None = None
    asked_by: str = Field(default="", max_length=10)
    diagnosed_by_doctor: bool | None = None
    coeliac_test: Literal["negative", "positive", "not-done", "unknown"] | None = None
    coeliac_test_on_gluten: bool | None = None
    """The blood was taken on a diet with gluten, before the diet was changed."""
    alarm_features: tuple[AlarmFeature, ...] = ()
    conditions: tuple[Condition, ...] = ()
    allergies: tuple[str, ...] = ()
    """Food allergies, known or suspected, in words."""
    medicines: tuple[str, ...] = ()
    restriction_weeks: float | None = Field(default=None, ge=0, le=520)
    restriction_helped: bool | None = None
    restriction_measure: str = ""
    """By which measure: IBS-SSS, adequate relief, pain score ..."""
    restriction_change: float | None = None
    """By how much on that measure, before minus after."""
    doctor_asked: tuple[DoctorAsked, ...] = ()


class DietSettings(Section):
    """What the client does not eat, for whatever reason."""

    exclusions: tuple[Exclusion, ...] = ()


class DoseSettings(Section):
    """What is eaten for one group, and how much of the carbohydrate at each step."""

    food: str = ""
    """Name of the food; by default the first of the table that this client may eat."""
    grams: tuple[Grams, ...] = ()
    """Grams of the carbohydrate at each step, lowest first; by default those of the protocol."""
    per_100g: float | None = Field(default=None, gt=0, le=100)
    """Grams of the carbohydrate per 100 g of food; by default the figure of the table."""
    source: str = ""
    """Where ``per_100g`` comes from: a label, a table."""
    cycles: int | None = Field(default=None, ge=1, le=20)
    """Repeats of this group; by default those of the protocol."""

    @field_validator("grams")
    @classmethod
    def _rising(cls, grams: tuple[float, ...]) -> tuple[float, ...]:
        if any(b <= a for a, b in itertools.pairwise(grams)):
            raise ValueError("steps must rise: each has more grams than the one before")
        return grams


class StopRule(Section):
    """When a challenge ends early. Any one of the conditions is enough, besides the client's wish.

    ``level`` 7 is where severe pain begins (Palos 2006: 1-4 mild, 5-6 moderate, 7-10 severe).
    ``rise`` 3 stands above the smallest change that matters to patients (2.2 points, Spiegel 2009),
    so that an ordinary bad hour does not end a challenge; the figure itself is common practice.

    The rule spares the client; it is no test. In the usual invented world it ends 14.3 % (SE 0.5)
    of the challenges of groups that are tolerated at every step before their last dose, and 28.8 %
    (SE 0.8) of the others; in other worlds 8 % (steady clients) to 31 % (strong expectation) of the
    tolerated (2000 clients each, ``tests/benchmarks/stop_rule.py``). About 9 of the 14 come from
    the level alone, in clients whose usual symptoms are not far below it. Three parts of the day in
    place of two make it 4.3 % (SE 0.5) and 5.4 % (SE 0.6; 600 clients).
    """

    level: float = Field(default=7.0, gt=0, le=10)
    """A score at or above this counts [points]."""
    rise: float = Field(default=3.0, gt=0, le=10)
    """A score that stands this far above the baseline mean of its symptom counts [points]."""
    slots: int = Field(default=2, ge=1, le=12)
    """So many parts of one day must count, on the same symptom."""


class ClosedDates(Section):
    """Days on which no challenge may take place: travel, examinations, fasts, menstruation."""

    start: dt.date
    end: dt.date
    reason: str = ""

    @model_validator(mode="after")
    def _in_order(self) -> ClosedDates:
        if self.end < self.start:
            raise ValueError("end lies before start")
        return self


class RepeatSettings(Section):
    """A challenge, or some steps of one, that is eaten again after all others."""

    fodmap_group: FodmapGroup
    cycle: int = Field(ge=2, le=99)
    """Which repeat of the group it is."""
    steps: tuple[Annotated[int, Field(ge=1, le=20)], ...] = ()
    """Steps that are eaten, lowest first; by default all."""

    @field_validator("steps")
    @classmethod
    def _rising(cls, steps: tuple[int, ...]) -> tuple[int, ...]:
        if any(b <= a for a, b in itertools.pairwise(steps)):
            raise ValueError("steps must rise")
        return steps


class ProtocolSettings(Section):
    """The rules of the schedule.

    The default washout is the shortest on record between single-sugar challenges (3 days, Cuff
    2023) and lasts until symptoms have settled (Skodje 2018); its maximum of 14 days is the longest
    usual fixed washout (Biesiekierski 2013, Algera 2022). The default baseline of a week is common
    practice; three valid days are the least.
    """

    start: dt.date | None = None
    """First day of the baseline."""
    groups: tuple[FodmapGroup, ...] = GROUPS
    order: Literal["as-listed", "random"] = "as-listed"
    seed: int = 1
    """Seed of the random order."""
    baseline_days: int = Field(default=7, ge=1, le=60)
    days_per_step: int = Field(default=1, ge=1, le=14)
    days_between_steps: int = Field(default=0, ge=0, le=21)
    """Days without a dose between steps; they count as washout once as long as ``washout_days``."""
    washout_days: int = Field(default=3, ge=1, le=60)
    """Least days without a dose after each challenge."""
    washout_max_days: int = Field(default=14, ge=1, le=120)
    """After so many days without settling, the dietitian is asked."""
    settled_within: float = Field(default=1.0, gt=0, le=10)
    """Symptoms have settled when each is at most this far above its baseline mean [points] ..."""
    settled_days: int = Field(default=3, ge=1, le=14)
    """... in the mean of so many days up to yesterday ..."""
    settled_chance: float = Field(default=0.05, gt=0, lt=0.5)
    """... or no further than a client with unchanged days strays but with this chance."""
    cycles: int = Field(default=1, ge=1, le=20)
    repeat: Literal["blocks", "together"] = "blocks"
    """Repeats come after all groups had their turn, or one directly after the other."""
    repeats: tuple[RepeatSettings, ...] = ()
    """What is eaten again beyond the cycles, in this order (`challenge plan --repeat`)."""
    control: bool = False
    """Add a challenge with glucose, eaten in the same way."""
    eat_at: str = "in the morning, at the same time each day"
    """When the dose is eaten, in the client's words."""
    closed: tuple[ClosedDates, ...] = ()
    stop: StopRule = StopRule()
    doses: dict[FodmapGroup, DoseSettings] = Field(default_factory=dict)

    @field_validator("groups")
    @classmethod
    def _each_once(cls, groups: tuple[FodmapGroup, ...]) -> tuple[FodmapGroup, ...]:
        if len(set(groups)) < len(groups):
            raise ValueError("a group is listed twice; use cycles for repeats")
        return groups

    @field_validator("repeats")
    @classmethod
    def _each_cycle_once(cls, repeats: tuple[RepeatSettings, ...]) -> tuple[RepeatSettings, ...]:
        keys = [(repeat.fodmap_group, repeat.cycle) for repeat in repeats]
        if len(set(keys)) < len(keys):
            raise ValueError("a group has the same cycle twice")
        return repeats

    @model_validator(mode="after")
    def _washout_in_order(self) -> ProtocolSettings:
        if self.washout_max_days < self.washout_days:
            raise ValueError("washout_max_days is less than washout_days")
        return self


class Settings(Section):
    """All of client.toml."""

    client: str = ""
    screening: ScreeningSettings = ScreeningSettings()
    diet: DietSettings = DietSettings()
    protocol: ProtocolSettings = ProtocolSettings()
    analysis: AnalysisSettings = AnalysisSettings()
    diary: DiarySettings = DiarySettings()
    disturbances: dict[str, DisturbanceSettings] = Field(default_factory=dict)
    """Kind of event -> how its days are handled, where that differs from the default."""

    @field_validator("disturbances")
    @classmethod
    def _known_or_with_words(
        cls, changes: dict[str, DisturbanceSettings]
    ) -> dict[str, DisturbanceSettings]:
        known = {kind.key for kind in KINDS} | {"other"}
        for name, change in changes.items():
            if name not in known and not change.words:
                raise ValueError(
                    f"there is no kind {name!r}; known are {', '.join(sorted(known))}, and a kind "
                    "of your own needs words"
                )
        return changes

    def kinds(self) -> tuple[Kind, ...]:
        """Return how events are handled for this client; kinds of one's own go first."""
        defaults = {kind.key: kind for kind in (*KINDS, Kind(name="other"))}
        own = {name: Kind(name=name) for name in self.disturbances if name not in defaults}
        return tuple(
            _changed(kind, self.disturbances[key]) if key in self.disturbances else kind
            for key, kind in (own | defaults).items()
        )


def _changed(kind: Kind, change: DisturbanceSettings) -> Kind:
    told = {
        name: value
        for name in ("leaves_out", "days_before", "days_after", "hold_days")
        if (value := getattr(change, name)) is not None
    }
    if told or change.source:
        told["source"] = change.source or "set for this client, no source given"
    return replace(kind, words=(*kind.words, *change.words), **told)
