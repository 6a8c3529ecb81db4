"""Every setting of the invented world, each with its reason and how sure that is.

Tags: V read in the published text, V+ computed from such numbers, M from memory, CP common
practice without a source, A an assumption of ours. Most of the noise settings are A: no published
diary gives them in this form, which is why other worlds (``worlds.py``) change them one by one.

The process was written down from clinical knowledge alone and shares no code with the model that
analyses diaries, so that a good score of the model is not the echo of its own assumptions.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeVar

from challenge.terms import GROUPS, SYMPTOMS, FodmapGroup

Kernel = Literal["rise-and-fade", "box", "gamma", "two-humps"]
Shape = Literal["saturating", "straight", "logarithm", "jump", "proportional"]


@dataclass(frozen=True, kw_only=True, slots=True)
class TimeCourse:
    """When a dose acts: medians over clients [hours after eating].

    Attributes
    ----------
    latency
        Until the first effect.
    rise
        Time constant of the rise after that.
    decay
        Time constant of the fading.
    """

    latency: float
    rise: float
    decay: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Doses:
    """The food of a group's challenge: portions [g or mL] and grams of the carbohydrate."""

    food: str
    portions: tuple[float, ...]
    grams: tuple[float, ...]


_T = TypeVar("_T")


def _table(**entries: _T) -> Mapping[str, _T]:
    return entries


_DOSES: Mapping[str, Doses] = _table(
    fructans=Doses(food="pure inulin", portions=(3, 6, 12), grams=(3, 6, 12)),
    fructose=Doses(food="pure fructose", portions=(2.5, 5, 10), grams=(2.5, 5, 10)),
    lactose=Doses(food="cow's milk", portions=(60, 125, 250), grams=(3, 6, 12)),
    gos=Doses(food="pure GOS", portions=(1.5, 3, 6), grams=(1.5, 3, 6)),
    sorbitol=Doses(food="pure sorbitol", portions=(2.5, 5, 10), grams=(2.5, 5, 10)),
    mannitol=Doses(food="pure mannitol", portions=(2.5, 5, 10), grams=(2.5, 5, 10)),
    glucose=Doses(food="pure glucose", portions=(3, 6, 12), grams=(3, 6, 12)),
)

_TIME_COURSES: Mapping[str, TimeCourse] = _table(
    fructans=TimeCourse(latency=4.0, rise=4.0, decay=14.0),
    fructose=TimeCourse(latency=0.8, rise=1.5, decay=7.0),
    lactose=TimeCourse(latency=1.2, rise=2.0, decay=9.0),
    gos=TimeCourse(latency=4.0, rise=4.0, decay=14.0),
    sorbitol=TimeCourse(latency=1.5, rise=2.0, decay=9.0),
    mannitol=TimeCourse(latency=2.0, rise=2.5, decay=10.0),
    glucose=TimeCourse(latency=0.5, rise=1.0, decay=4.0),
)


@dataclass(frozen=True, kw_only=True)
class World:
    """How invented clients are made. Change a setting with ``dataclasses.replace``.

    Scores are in points on the 0-10 scale, times in hours, doses in grams.
    """

    # ---- the protocol that everybody follows -------------------------------------------------
    groups: tuple[FodmapGroup, ...] = GROUPS
    """Groups challenged in every cycle. The six of the trade."""
    control: bool = False
    """Add a glucose challenge to every cycle. Off: CP seldom gives one; blinded trials do (V)."""
    doses: Mapping[str, Doses] = field(default_factory=lambda: _DOSES)
    """Three rising doses. Lactose: milk 60/125/250 mL at 4.9 g per 100 g (V+, Facioni 2020);
    fructose 2.5-10 g (V, Cuff 2023); fructans to 12 g and GOS to 6 g (V, Cox 2017); sorbitol and
    mannitol to 10 g (V, Yao 2014); halving downwards (CP)."""
    cycles: int = 1
    """How often every group is challenged."""
    baseline_days: int = 7
    """CP: three valid days at least, seven better."""
    washout_days: int = 3
    """V: three days between doses of the same sugar (Cuff 2023)."""
    long_washout_days: int = 4
    """A: one day more after the groups fermented late in the colon (fructans, GOS). With it, one
    cycle of six groups takes 45 days and two take 83."""
    long_washout_groups: tuple[FodmapGroup, ...] = ("fructans", "gos")
    order: Literal["fixed", "shuffled"] = "shuffled"
    """CP: the client chooses the order, which from outside looks random."""
    start: dt.date = dt.date(2026, 3, 2)
    """First day of the first client."""
    start_spread_days: int = 120
    """Clients begin over so many days (A), so that weekdays and seasons are mixed."""

    # ---- who reacts to what ------------------------------------------------------------------
    reacting_share: Mapping[str, float] = field(
        default_factory=lambda: _table(
            fructans=0.56,
            mannitol=0.54,
            gos=0.35,
            lactose=0.28,
            fructose=0.27,
            sorbitol=0.23,
            glucose=0.0,
        )
    )
    """V: Van den Houte 2024, share with a reaction, blinded, tertiary care. Glucose counted as a
    trigger in 26 % there, so the shares hold some expectation and are rather high; taken as they
    are all the same. Glucose itself: 0, it is absorbed early (A)."""
    reacting_correlation: float = 0.55
    """V+: the same paper has 2.5 +- 2 triggers of 7 per patient; independent groups would give an
    SD of 1.2. A Gaussian copula with this correlation gives about 1.9."""
    margin: float = 1.0
    """Smallest rise that matters; the truth is told against it."""
    plateau_median: float = 2.8
    """A: what a reacting group adds at a large dose, mean of the 24 h in which it acts. Between
    10-20 mm on a 100 mm scale (V, the rises called a reaction: Tuck 2018, Cuff 2023) and the
    worst days told in practice."""
    plateau_sd_log: float = 0.40
    """A: spread between clients and groups (log scale)."""
    threshold_low: float = -0.6
    threshold_high: float = 1.9
    """A: the threshold dose lies evenly between these, in doublings of the lowest step; so it is
    found a little below the lowest step up to just under the third."""
    shapes: Mapping[str, float] = field(
        default_factory=lambda: _table(saturating=0.5, straight=0.2, logarithm=0.2, jump=0.1)
    )
    """A: how the rise grows beyond the threshold; no published curve tells, so a mixture."""
    hill_low: float = 2.0
    hill_high: float = 6.0
    """A: steepness of the saturating shape."""
    mild_share: float = 0.35
    """A: of those who do not react, so many still feel the top dose a little (V: healthy people
    report more wind after 10 g oligofructose, Bonnema 2010)."""
    mild_top: float = 0.85
    """A: largest such rise at the top dose; below the margin by definition of not reacting."""
    occasion_sd_log: float = 0.20
    """A: the same dose does not hit alike on every occasion (Senn: occasion-to-occasion
    variation); a factor per challenge, log scale."""

    # ---- when it acts ------------------------------------------------------------------------
    time_courses: Mapping[str, TimeCourse] = field(default_factory=lambda: _TIME_COURSES)
    """Lactose within 1-3 h (V, EFSA 2011); fructose sooner than inulin (V, Major 2017); inulin:
    breath hydrogen from 2 h, gas still rising at 6 h (V, Gunn 2022), mouth to caecum in a meal
    292 min (V, Clegg 2010); polyols on day 1, fructans and GOS on day 2 (V, Van den Houte 2024).
    Fading: hours to 2-3 days (CP). The constants themselves are A."""
    time_course_sd_log: float = 0.35
    """A: spread between clients; orocaecal times vary by half to a quarter (V, Clegg 2010)."""
    kernel: Kernel = "rise-and-fade"
    """Form of the time course."""
    recall_hours: float = 2.0
    """A: a score tells of the last two hours, not of the minute."""

    # ---- the client --------------------------------------------------------------------------
    symptoms: tuple[str, ...] = SYMPTOMS
    baseline_mean: float = 1.6
    """V+: after a restriction phase that worked IBS-SSS is about 150 of 500 (Van den Houte 2024),
    entry to a challenge asks for at most 30 of 100 mm (V, de Graaf 2024); so below 3 points."""
    baseline_sd_log: float = 0.45
    """A: spread between clients."""
    baseline_most: float = 3.0
    """V: nobody starts a challenge with an overall score above 30 of 100 mm (de Graaf 2024); mean
    of the symptoms."""
    symptom_most: float = 5.0
    """A: nor with a single symptom that is moderate all the time."""
    symptom_level: Mapping[str, float] = field(
        default_factory=lambda: _table(
            pain=0.8, bloating=1.3, wind=1.4, discomfort=1.0, urgency=0.5
        )
    )
    """CP: wind and bloating are the commonest leftovers, urgency the rarest."""
    symptom_sd_log: float = 0.35
    """A: client's own pattern around that."""
    weight_low: float = 0.25
    """A: every symptom answers to a dose by a weight between this and 1, the largest being 1."""
    weights_by_group: bool = False
    """Whether every group has symptom weights of its own (off: one pattern per client)."""
    slots: tuple[float, ...] = (8.0, 13.0, 20.0)
    """CP: three ratings, morning, midday, evening [hour of day]."""
    slot_jitter_hours: float = 0.6
    """A: nobody scores to the minute."""
    slot_pattern: tuple[float, ...] = (-0.35, 0.0, 0.45)
    """CP/M: evenings are worse; points added at the client's mean size of pattern."""

    # ---- noise -------------------------------------------------------------------------------
    day_sd: float = 0.6
    """A: good and bad days, shared across symptoms."""
    day_correlation: float = 0.35
    """V that there is serial dependence (Dancey 1998); about 0.2 usual in single-case data (M,
    Shadish 2011); symptoms are better told by the two days before (V, hassles study)."""
    symptom_day_sd: float = 0.35
    """A: the same for one symptom alone."""
    slot_sd: float = 0.4
    """A: within a day, shared across symptoms at one rating."""
    rating_sd: float = 0.7
    """A: one single score (mood of the moment, use of the scale)."""
    noise_sd_log: float = 0.25
    """A: some clients are steadier than others; a factor on all noise."""
    noise_tail_df: float | None = None
    """Degrees of freedom of a t distribution for single scores; None: normal."""
    drift_sd: float = 0.4
    """A: straight drift over 45 days, either way."""
    drift_walk_sd: float = 0.06
    """A: slow wandering, step per day."""
    weekend: float = 0.1
    """A: other meals and hours on Saturday and Sunday."""

    # ---- flares and events -------------------------------------------------------------------
    flare_rate: float = 0.022
    """A per day, about one in 45 days; V: about three swings of stool form a month (185 patients),
    most of them no flare."""
    flare_size: float = 2.0
    flare_sd_log: float = 0.4
    flare_days: float = 2.5
    """A: points at its height, and mean length [days, geometric]."""
    illness_rate: float = 0.003
    """A per day: gastroenteritis, 3 days, +3.5 points."""
    menstruating_share: float = 0.45
    menstruation_size: float = 0.7
    """V: pain and bloating up at menses; size A. Every 28 days for 4 days."""
    drinking_share: float = 0.3
    alcohol_size: float = 1.0
    """V: four drinks or more double the odds of symptoms the next day; size A. One weekend evening
    in four for those who drink."""
    stress_rate: float = 0.04
    stress_size: float = 0.3
    """V: +1 point of stress goes with +0.10 points of pain, no carry-over."""
    travel_rate: float = 0.005
    """A per day: 2-4 days away, half a point, more gaps."""
    event_logged: float = 0.75
    """A: share of disturbances that reach events.csv."""

    # ---- expectation -------------------------------------------------------------------------
    expectation_mean: float = 0.30
    expectation_sd: float = 0.35
    """V+: expecting gluten and getting none 11.7 mm against about 7 mm (de Graaf 2024): half a
    point of ten; less here because most eat a food they miss (A). Client's own mean, cut at 0."""
    expectation_group_sd: float = 0.25
    """A: some groups are dreaded more than others."""
    expectation_rises: float = 0.0
    """Extra share per step: fear that grows with the dose."""

    # ---- how the protocol is kept ------------------------------------------------------------
    dose_hour: float = 9.0
    dose_hour_sd: float = 0.8
    """V: mornings (Cuff 2023); spread A."""
    missed_dose: float = 0.03
    """A: planned, not eaten, not logged."""
    unlogged_dose: float = 0.01
    """A: eaten, not logged."""
    mistaken_dose: float = 0.05
    """A: another portion eaten, by one of ``mistake_factors``."""
    mistake_factors: tuple[float, ...] = (0.5, 0.75, 1.5, 2.0)
    mistake_logged: float = 0.8
    """A: share of mistaken portions written down as eaten rather than as planned."""
    off_plan_rate: float = 0.03
    """A per day: another food with a challenge group in it, between half a low and one middle
    dose."""
    off_plan_logged: float = 0.6
    """A: share of those written down with group and grams."""
    stop_rise: float = 3.0
    """A: the client thinks of stopping when the worst score since the dose is at least so many
    points above the usual worst of the baseline."""
    stop_least: float = 5.0
    """A: ... and at least so high (moderate pain begins at 5: V, Palos 2006)."""
    stop_chance: float = 0.8
    """A: ... and then stops before the next dose with this chance."""
    stop_noted: float = 0.6
    """A: share of stops told in a note."""

    # ---- how the diary is kept ---------------------------------------------------------------
    missing_score: float = 0.02
    missing_slot: float = 0.06
    missing_day: float = 0.02
    """A: electronic diaries reach 94 % (V, Stone 2003), momentary ones 71 % (V, Bosman 2024)."""
    missing_run_days: float = 1.6
    """A: mean length of a gap of whole days."""
    missing_when_bad: float = 0.03
    """A: extra chance to miss a rating per point above 3 of the worst symptom."""
    late_entry: float = 0.06
    """A: share of ratings written down the day after; paper diaries: far more (V, Stone 2002)."""
    late_bias: float = 0.3
    """V that recall runs high (Mujagic 2015, 0.4 of 5 points at day's end); size A."""
    meals_logged: int = 2
    """A: ordinary meals written down per day."""
    stools_per_day: float = 1.1
    """A: Bristol rows per day; 0 for none."""

    def protocol_groups(self) -> tuple[FodmapGroup, ...]:
        """Return the groups of a cycle, the control included where there is one."""
        return (*self.groups, "glucose") if self.control else self.groups

    def n_steps(self, group: str) -> int:
        """Return how many doses a group's challenge has."""
        return len(self.doses[group].grams)
