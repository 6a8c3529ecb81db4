"""Worlds by name: the usual one, and those that break what an analysis may assume."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from challenge.simulation.world import TimeCourse, World

USUAL = World()


def _scaled(latency: float, rise: float, decay: float) -> Mapping[str, TimeCourse]:
    return {
        group: TimeCourse(
            latency=course.latency * latency,
            rise=course.rise * rise,
            decay=course.decay * decay,
        )
        for group, course in USUAL.time_courses.items()
    }


def _shares(share: float) -> Mapping[str, float]:
    # the control sugar never acts, in any world
    return {group: 0.0 if group == "glucose" else share for group in USUAL.reacting_share}


WORLDS: Mapping[str, World] = {
    "usual": USUAL,
    "undisturbed": replace(
        USUAL,
        occasion_sd_log=0.0,
        menstruating_share=0.0,
        drinking_share=0.0,
        stress_rate=0.0,
        travel_rate=0.0,
        illness_rate=0.0,
        weekend=0.0,
        drift_walk_sd=0.0,
        off_plan_rate=0.0,
        unlogged_dose=0.0,
        mistaken_dose=0.0,
        late_entry=0.0,
        missing_when_bad=0.0,
    ),
    "box-kernel": replace(USUAL, kernel="box"),
    "gamma-kernel": replace(USUAL, kernel="gamma"),
    "two-humps": replace(USUAL, kernel="two-humps"),
    "fast": replace(USUAL, time_courses=_scaled(0.5, 0.5, 0.5)),
    "slow": replace(USUAL, time_courses=_scaled(2.0, 2.0, 1.8)),
    "noisy": replace(USUAL, day_sd=0.95, slot_sd=0.65, rating_sd=1.1, noise_tail_df=4.0),
    "quiet": replace(USUAL, day_sd=0.4, slot_sd=0.3, rating_sd=0.4, flare_rate=0.01),
    "no-threshold": replace(USUAL, shapes={"proportional": 1.0}),
    "jump": replace(USUAL, shapes={"jump": 1.0}),
    "strong-expectation": replace(
        USUAL, expectation_mean=0.9, expectation_sd=0.6, expectation_rises=0.2
    ),
    "gaps": replace(USUAL, missing_score=0.08, missing_slot=0.15, missing_day=0.06),
    "flares": replace(USUAL, flare_rate=0.07, flare_size=2.4),
    "correlated-days": replace(USUAL, day_correlation=0.7, day_sd=0.8),
    "drift": replace(USUAL, drift_sd=1.5, drift_walk_sd=0.15),
    "own-weights": replace(USUAL, weights_by_group=True),
    "careless": replace(
        USUAL, missed_dose=0.1, mistaken_dose=0.15, off_plan_rate=0.1, late_entry=0.3
    ),
    "easily-stopped": replace(USUAL, stop_rise=2.5, stop_least=4.0, stop_chance=0.9),
    "nobody-reacts": replace(USUAL, reacting_share=_shares(0.0), mild_share=0.0),
    "nobody-reacts-no-expectation": replace(
        USUAL,
        reacting_share=_shares(0.0),
        mild_share=0.0,
        expectation_mean=0.0,
        expectation_sd=0.0,
        expectation_group_sd=0.0,
    ),
    "huge": replace(
        USUAL,
        reacting_share=_shares(1.0),
        plateau_median=7.0,
        plateau_sd_log=0.1,
        shapes={"jump": 1.0},
    ),
}
"""``undisturbed`` keeps the noise, flares, expectation and stops of the usual world but has no
events, no off-plan or mistaken doses, no late entries, and every occasion alike; ``gaps`` leaves
out about 30 % of the scores; ``no-threshold`` rises in proportion to the dose; ``two-humps`` acts
early and once more half a day later."""
