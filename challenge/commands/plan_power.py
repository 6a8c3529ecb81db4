"""``challenge plan --power``: whether this plan can tell, and what more days would bring."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, exp
from pathlib import Path
from typing import TYPE_CHECKING, Final

from challenge.commands.screen import say, say_json, warn, wrapped

if TYPE_CHECKING:
    from challenge.analysis.attainable import Attainable
    from challenge.practice.operating import Estimate
    from challenge.practice.power import Chances, Design, Power
    from challenge.protocol.plan import Plan
    from challenge.protocol.settings import Settings
    from challenge.simulation.likeness import Likeness

_MORE_BASELINE_DAYS: Final = 7
_MORE_RATINGS: Final = 2
_MOST_RATINGS: Final = 12


def show_power(folder: Path, plan: Plan, settings: Settings, clients: int, as_json: bool) -> None:
    """Simulate the plan and its variants, and print what they can tell.

    Parameters
    ----------
    folder
        The client's folder, for the baseline in the diary.
    plan
        The plan to be judged; nothing is written.
    settings
        The client's settings.
    clients
        Invented clients for the plan itself; each variant gets half as many.
    as_json
        Print JSON.
    """
    from joblib import cpu_count

    from challenge.practice.power import power_of

    likeness = _likeness(folder, plan, settings)
    designs = designs_of(plan, settings)
    numbers = [clients, *[max(clients // 2, 1)] * (len(designs) - 1)]
    if not as_json:
        warn(f"Simulating and analysing {sum(numbers)} invented clients ...")
    jobs = cpu_count()
    found = [
        power_of(design, settings, n, likeness, jobs)
        for design, n in zip(designs, numbers, strict=True)
    ]
    if as_json:
        say_json(_as_json(folder, found, settings, likeness))
        return
    for line in lines(found, settings, likeness):
        say(line)


def designs_of(plan: Plan, settings: Settings) -> list[Design]:
    """Return the plan as it is and what it may be compared with."""
    from challenge.practice.power import Design
    from challenge.protocol.variants import longer_baseline, one_more_cycle, with_control
    from challenge.terms import CONTROL

    diary = settings.diary
    ratings = diary.ratings_per_day
    on_challenge = diary.ratings_per_challenge_day or ratings
    variants = [("as planned", plan), ("one more cycle", one_more_cycle(plan))]
    if CONTROL not in plan.groups():
        variants.append(("a glucose control", with_control(plan)))
    more = _MORE_BASELINE_DAYS
    variants.append((f"{more} more days of baseline", longer_baseline(plan, more)))
    designs = [
        Design(name=name, plan=days, ratings=ratings, challenge_ratings=on_challenge)
        for name, days in variants
    ]
    often = min(max(ratings, on_challenge) + _MORE_RATINGS, _MOST_RATINGS)
    name = f"{often} ratings a day"
    if often > min(ratings, on_challenge):
        designs.append(Design(name=name, plan=plan, ratings=often, challenge_ratings=often))
    return designs


def _likeness(folder: Path, plan: Plan, settings: Settings) -> Likeness | None:
    """What the client's own baseline says, if there is one."""
    from dataclasses import replace

    from challenge.commands.diary_record import read_record
    from challenge.simulation.likeness import baseline_scores, likeness_of
    from challenge.simulation.world import World

    symptoms = settings.diary.symptoms
    scores = baseline_scores(plan, read_record(folder), symptoms)
    return likeness_of(scores, replace(World(), symptoms=symptoms), settings.analysis.seed)


def _as_json(
    folder: Path, found: Sequence[Power], settings: Settings, likeness: Likeness | None
) -> dict[str, object]:
    from challenge.files.folder import client_code
    from challenge.practice.power import as_json

    return {
        "schema": 1,
        "client": client_code(folder),
        "margin": settings.analysis.margin,
        "seed": settings.analysis.seed,
        "noise": {
            "from": "population" if likeness is None else "diary",
            "scored_baseline_days": None if likeness is None else likeness.n_days,
            "factor": None if likeness is None else likeness.noise,
            "log_sd": None if likeness is None else likeness.noise_log_sd,
        },
        "designs": [as_json(power) for power in found],
    }


def lines(found: Sequence[Power], settings: Settings, likeness: Likeness | None) -> Iterator[str]:
    """Give what a dietitian reads."""
    planned = found[0]
    yield "Will this plan be able to tell?"
    yield wrapped(_design(planned))
    yield ""
    yield "Smallest p that a test can reach, with no gap in the diary"
    yield from _smallest(planned.smallest)
    yield ""
    yield wrapped(
        f"Chance of each answer in %, in brackets its simulation error; {planned.n_clients} "
        f"invented clients {_noise(likeness)}."
    )
    yield ""
    yield f"  {'true rise':<24}{_HEADS}"
    for chances in planned.by_truth:
        yield f"  {_truth(chances):<24}{_cells(chances)}"
    yield f"  {'all together':<24}{_cells(planned.overall)}"
    yield ""
    yield wrapped(_explained(settings))
    yield ""
    yield wrapped(
        f"What other designs would bring, all together as above ({found[-1].n_clients} invented "
        "clients for each other design):"
    )
    yield ""
    yield f"  {'':<25}{'days':>4}{_HEADS}{'best p':>9}"
    for power in found:
        days = len(power.design.plan)
        best = _best(power.smallest)
        yield f"  {power.design.name:<25}{days:>4}{_cells(power.overall)}{best:>9}"
    yield ""
    yield wrapped(
        "Differences smaller than twice the error in brackets say nothing; --clients N makes the "
        "error smaller (four times as many clients halve it)."
    )
    yield wrapped(
        "Invented clients are assumptions, not evidence. They live through the whole plan from its "
        "first day, with slips, gaps, flares and stops; washouts last as long as planned."
    )


_ANSWERS: Final = ("right", "too high", "too low", "unclear")
_HEADS: Final = "".join(f"{name:>10}" for name in _ANSWERS)


def _cells(chances: Chances) -> str:
    impossible = {
        "too high": chances.from_step == 0,
        "too low": chances.from_step == 1,
    }
    shown = (
        "-"
        if impossible.get(name)
        else _percent(getattr(chances, name.replace(" ", "_")), chances.n_groups)
        for name in _ANSWERS
    )
    return "".join(f"{cell:>10}" for cell in shown)


def _percent(estimate: Estimate, n: int) -> str:
    """Percent with the error rounded up; a bound where an answer came never or always."""
    if estimate.value is None or estimate.error is None:
        return "?"
    bound = ceil(300 / n)  # 95 % bound of a share of which nothing was seen (rule of three)
    if bound >= 100:
        return "?"
    if estimate.value == 0:
        return f"< {bound}"
    if estimate.value == 1:
        return f"> {100 - bound}"
    return f"{100 * estimate.value:.0f} ({ceil(100 * estimate.error)})"


def _truth(chances: Chances) -> str:
    if not chances.rise:
        return "none at any step"
    return f"{chances.rise:g} from step {chances.from_step}"


def _design(power: Power) -> str:
    plan = power.design.plan
    groups = [group for group in plan.groups() if group != "glucose"]
    doses = [day for day in plan if day.phase == "challenge" and not day.sealed]
    sealed = sum(day.sealed for day in plan)
    steps = sorted({len(plan.steps(group)) for group in groups})
    cycles = max(day.cycle or 1 for day in doses)
    rating = f"{power.design.ratings} ratings a day"
    if power.design.challenge_ratings != power.design.ratings:
        rating += f" ({power.design.challenge_ratings} on challenge days)"
    baseline = sum(day.phase == "baseline" for day in plan)
    control = "with" if len(groups) < len(plan.groups()) else "without"
    return (
        f"{len(plan)} days: {_count(baseline, 'baseline day')}, {_count(len(groups), 'group')} of "
        f"{' or '.join(map(str, steps))} steps, {_count(len(doses), 'dose')} in all, "
        f"{_count(cycles, 'cycle')}, {rating}, {control} a glucose control."
        + (f" {_count(sealed, 'blinded day')}, not judged here." if sealed else "")
    )


def _count(n: int, word: str) -> str:
    return f"{n} {word}" + ("" if n == 1 else "s")


def _smallest(found: Sequence[Attainable]) -> Iterator[str]:
    """One line for groups that are alike."""
    alike: dict[str, list[str]] = {}
    for best in found:
        if best.pvalue is None:
            words = "no reference day before it, so no test"
        else:
            n = best.n_cycles if best.unit == "cycles" else best.n_pairs
            words = f"{n} {best.unit}, p {best.pvalue:.2g}"
            if best.pvalue_adjusted is not None:
                words += f", adjusted over the groups {best.pvalue_adjusted:.2g}"
        single = sorted({p for p in best.steps.values() if p is not None})
        if None in best.steps.values():
            words += "; one step alone: a single day, no exact test"
        elif single:
            words += f"; one step alone: p {single[-1]:.2g}"
        alike.setdefault(words, []).append(best.fodmap_group)
    for words, groups in alike.items():
        names = "each group" if len(alike) == 1 else ", ".join(groups)
        yield wrapped(f"{names}: {words}", "  ", "    ")
    if any(best.pvalue is None or best.pvalue > 0.05 for best in found):
        yield wrapped(
            'Above 0.05 a test can show nothing, and "not significant" means "cannot tell": there '
            "the answer rests on the model of the whole diary.",
            "  ",
        )


def _best(found: Sequence[Attainable]) -> str:
    """The smallest p that every group can reach: that of the group with the fewest pairs."""
    reached = [best.pvalue for best in found]
    known = [p for p in reached if p is not None]
    return f"{max(known):.2g}" if len(known) == len(reached) else "none"


def _noise(likeness: Likeness | None) -> str:
    if likeness is None:
        return "with the usual noise (fewer than 3 baseline days are scored so far)"
    low, high = (exp(likeness.noise_log + z * likeness.noise_log_sd) for z in (-1.64, 1.64))
    return (
        f"with this client's own level and noise ({likeness.n_days} scored baseline days; noise "
        f"{likeness.noise:.1f} times the usual, 90 % interval {low:.1f} to {high:.1f})"
    )


def _explained(settings: Settings) -> str:
    margin = settings.analysis.margin
    return (
        "True rise: points that the most affected symptom rises by, mean of 24 hours, at that step "
        "and all above it. Right: the highest step below the margin is named; too high or too "
        "low: a higher or lower one. All together: half of the challenges without any effect, "
        "half with the rises above in equal parts. A rise of the margin itself "
        f"({margin:g}) is the least that counts, and mostly goes unnoticed. < and > are 95 % "
        "bounds where an answer came never or always; ? too few invented clients to say."
    )
