"""How sure a result is, from the probabilities of the analysis to words that anybody can read."""

from __future__ import annotations

from challenge.letter.story import Story
from challenge.wording import Words


def certainty(story: Story) -> float | None:
    """Return the probability that what the letter says of a group is true.

    It is summed from ``GroupResult.probability`` (of each step being the highest tolerated):

    - ``all``: the largest amount eaten is tolerated;
    - ``some``: the amount named is tolerated and the largest amount eaten is not;
    - ``none``: not even the lowest step is tolerated;
    - ``unclear``: None, as nothing is claimed; `largest_suits` says how the odds stand.

    Where the dietitian decided otherwise than suggested, it is the probability that the amount
    decided is tolerated; None for a step of 0, which is then prudence and no claim.
    """
    step, top = story.step, story.top_step()
    if story.verdict in ("unclear", "held") or step is None or not story.result.probability:
        return None
    if story.overridden:
        return _at_least(story, step) if step else None
    if story.verdict == "none":
        return story.result.probability.get(0, 0.0)
    if story.verdict == "all":
        return _at_least(story, top)
    return _at_least(story, step) - _at_least(story, top)


def largest_suits(story: Story) -> float | None:
    """Return the probability that the largest amount eaten is tolerated.

    None where doses were missed or days lost: then the number says little of this person.
    """
    result, top = story.result, story.top_step()
    lost = result.days_left_out or any(dose.eaten_g is None for dose in result.doses)
    if not top or lost or not result.probability:
        return None
    return _at_least(story, top)


def more_may_suit(story: Story) -> float | None:
    """Return the probability that the next step is tolerated too, where prudence alone forbids it.

    That is where a step above the one suggested is the likeliest of all; else None.
    """
    chances = story.result.probability
    claimed = story.verdict in ("some", "none") and story.step is not None and not story.overridden
    if not claimed or not chances or story.step is None:
        return None
    likeliest = max(chances, key=lambda step: chances[step])
    return _at_least(story, story.step + 1) if likeliest > story.step else None


def stop_is_unexplained(story: Story) -> bool:
    """Whether a challenge was stopped at a step that is, by the whole diary, rather tolerated."""
    stops = story.result.stops
    return bool(stops) and _at_least(story, min(stop.step for stop in stops)) > 0.5


def odds(chance: float, words: Words) -> str:
    """Write a probability as so many times in ten, or in 20 near certainty.

    Nobody is told of more than 19 times in 20: what the model is sure of beyond that rests on one
    diary and on assumptions that no diary can check.
    """
    return words(f"client.odds.{_scale(chance)[0]}", n=_scale(chance)[1])


def how_sure(chance: float, words: Words) -> str:
    """Say in a sentence how sure a statement is; the same odds always have the same words."""
    scale, n = _scale(chance)
    if scale == "twenty":
        level = "very"
    elif n >= 9:
        level = "fairly"
    elif n >= 7:
        level = "could_be_wrong"
    else:
        level = "unsure"
    return words(f"client.sure.{level}", odds=odds(chance, words))


def _scale(chance: float) -> tuple[str, int]:
    if chance >= 0.925:
        return "twenty", 19
    if chance < 0.05:
        return "under", 1
    return "ten", int(10 * chance + 0.5)


def _at_least(story: Story, step: int) -> float:
    return float(sum(p for k, p in story.result.probability.items() if k >= step))
