from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
import textstat

from challenge.analysis.decision import Decision, evidence_digest
from challenge.analysis.result import EarlyStop
from challenge.letter.certainty import certainty, how_sure, more_may_suit, odds
from challenge.letter.content import Paragraph, Table
from challenge.letter.story import tell
from challenge.protocol.portion import household
from challenge.wording import languages, load_words
from tests.letter.builders import Told, make_analysis
from tests.letter.conftest import write

WORDS = load_words("en")


def one_group(step, chances, *, outcome="reacted", group="lactose", stop=None, **told):
    """An invented analysis of one group with these probabilities of steps 0 to 3."""
    analysis = make_analysis([Told(group, outcome, step, **told)])
    result = replace(analysis.groups[0], probability=dict(enumerate(chances)))
    if stop is not None:
        day = result.doses[stop - 1].date
        words = "stopped because of symptoms"
        result = replace(result, stops=(EarlyStop(cycle=1, date=day, step=stop, words=words),))
    return replace(analysis, groups=(result,))


def decide(analysis, step):
    group = analysis.groups[0]
    return Decision(
        fodmap_group=group.fodmap_group, outcome=group.outcome, suggested_step=group.suggested_step,
        suggested_g=group.suggested_g, decided_step=step, decided_g=step, reason="x", by="AB",
        when=dt.datetime(2026, 5, 1, 9), evidence=evidence_digest(group, analysis.settings),
    )  # fmt: skip


def shown(analysis, language="en", decisions=()):
    letter = write("client", analysis, language=language, decisions=decisions)
    return next(b for b in letter.blocks if isinstance(b, Table)).rows[0][2]


@pytest.mark.parametrize(
    ("step", "chances", "outcome", "expected"),
    [
        # by hand: the sum of the probabilities under which the sentence is true
        (3, (0.05, 0.05, 0.1, 0.8), "tolerated", 0.8),
        (1, (0.1, 0.5, 0.2, 0.2), "reacted", 0.7),
        (2, (0.1, 0.1, 0.6, 0.2), "reacted", 0.6),
        (0, (0.75, 0.15, 0.1, 0.0), "reacted", 0.75),
        (None, (0.3, 0.3, 0.2, 0.2), "unclear", None),
    ],
)
def test_certainty_is_the_probability_of_what_is_said(step, chances, outcome, expected):
    story = tell(one_group(step, chances, outcome=outcome), ())[0]
    if expected is None:
        assert certainty(story) is None
    else:
        assert certainty(story) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("chance", "sentence"),
    [
        (0.999, "We are very sure: right about 19 times in 20."),
        (0.95, "We are very sure: right about 19 times in 20."),
        (0.9, "We are fairly sure: right about 9 times in 10."),
        (0.849, "This could be wrong: right about 8 times in 10."),
        (0.7, "This could be wrong: right about 7 times in 10."),
        (0.5, "We are not sure: right about 5 times in 10."),
        (0.02, "We are not sure: right less than 1 time in 20."),
    ],
)
def test_odds_in_words(chance, sentence):
    assert how_sure(chance, WORDS) == sentence


@pytest.mark.parametrize("language", languages())
def test_odds_never_overstate_by_more_than_rounding(language):
    """What is written, read back as a share, is within 0.05 of the probability it stands for."""
    words = load_words(language)
    for thousandth in range(50, 1001):
        chance = thousandth / 1000
        first, second = [int(n) for n in odds(chance, words).split() if n.isdigit()]
        assert abs(first / second - chance) <= 0.05 + 1e-9


def test_a_step_below_the_likeliest_is_explained():
    analysis = one_group(1, (0.01, 0.39, 0.55, 0.05))
    assert more_may_suit(tell(analysis, ())[0]) == pytest.approx(0.60)
    text = shown(analysis)
    assert "They rose with the largest amount." in text
    assert "More may suit you too (about 6 times in 10)" in text
    assert "too much costs you more than too little" in text
    assert "Auch mehr kann Ihnen bekommen" in shown(analysis, "de")
    plain = shown(one_group(1, (0.05, 0.75, 0.15, 0.05)))
    assert "may suit" not in plain


def test_what_is_less_likely_than_not_is_not_stated_as_a_fact():
    text = shown(one_group(0, (0.4, 0.6, 0.0, 0.0)))
    assert text.startswith("Your scores may have gone up")
    assert "We are not sure: right about 4 times in 10." in text


def test_a_stop_and_unchanged_scores_do_not_contradict_each_other():
    text = shown(one_group(3, (0.0, 0.0, 0.1, 0.9), outcome="tolerated", stop=3))
    assert text.startswith(
        "Once you stopped this test early. Another time your scores stayed much the same"
    )
    assert text.count("stopped") == 1


@pytest.mark.parametrize(
    ("chances", "said"),
    [
        ((0.05, 0.05, 0.1, 0.8), "do not show that the food was the cause"),
        ((0.3, 0.3, 0.3, 0.1), "Test again with a smaller amount"),
    ],
)
def test_an_unclear_group_that_was_stopped_says_whether_the_diary_bears_it_out(chances, said):
    letter = write("client", one_group(None, chances, outcome="unclear", stop=3))
    assert said in str([block for block in letter.blocks if not isinstance(block, Table)])


def test_unclear_gives_the_odds_unless_days_were_lost():
    chances = (0.3, 0.2, 0.1, 0.4)
    assert "suits you: about 4 times in 10." in shown(one_group(None, chances, outcome="unclear"))
    lost = one_group(None, chances, outcome="unclear", missing=(2,))
    assert shown(lost) == "We can't tell yet."


def test_an_override_is_told_as_a_choice_and_not_as_a_finding():
    analysis = one_group(3, (0.0, 0.1, 0.2, 0.7), outcome="tolerated")
    for step, start in ((2, "chosen this amount"), (0, "chosen to wait"), (None, "test again")):
        text = shown(analysis, decisions=[decide(analysis, step)])
        assert start in text
        assert "rose" not in text
    assert "about 9 times in 10" in shown(analysis, decisions=[decide(analysis, 2)])
    agreed = shown(analysis, decisions=[decide(analysis, 3)])
    assert agreed.startswith("Your scores stayed much the same.")


def test_the_letter_explains_its_odds_once_and_only_where_there_are_some():
    def leads(analysis):
        blocks = write("client", analysis).blocks
        return [b.lead for b in blocks if isinstance(b, Paragraph)].count("How sure we are.")

    assert leads(make_analysis()) == 1
    assert leads(one_group(None, (0.3, 0.3, 0.2, 0.2), outcome="unclear", missing=(2,))) == 0


@pytest.mark.parametrize(
    ("measure", "said"),
    [
        ("4 x 1/4 cup", "1\u00a0cup"),
        ("6 x 1/4 cup", "1½\u00a0cups"),
        ("about 2 x 1/4 cup", "about ½\u00a0cup"),
        ("1 1/2 tablespoons, chopped", "1½\u00a0tablespoons, chopped"),
    ],
)
def test_household_measures_are_those_that_people_say(measure, said):
    assert household(measure, WORDS) == said


@pytest.mark.parametrize(
    ("step", "chances", "outcome", "stop"),
    [
        (1, (0.01, 0.39, 0.55, 0.05), "reacted", None),
        (0, (0.4, 0.6, 0.0, 0.0), "reacted", 2),
        (3, (0.0, 0.0, 0.1, 0.9), "tolerated", 3),
        (None, (0.05, 0.05, 0.1, 0.8), "unclear", 3),
    ],
)
def test_what_is_said_of_certainty_reads_as_easily_as_the_rest(step, chances, outcome, stop):
    """Automated Readability Index (Senter & Smith 1967): 6 is the level of 11-year-olds."""
    text = shown(one_group(step, chances, outcome=outcome, stop=stop))
    assert textstat.automated_readability_index(text) <= 6
