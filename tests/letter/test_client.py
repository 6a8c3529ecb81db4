from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
import textstat

from challenge.letter.content import Bullets, Heading, Paragraph, Picture, Table
from challenge.wording import load_words, statement
from tests.letter.builders import (
    ALL_UNCLEAR,
    EACH_REASON,
    TYPICAL,
    Told,
    empty_analysis,
    make_analysis,
)
from tests.letter.conftest import write


def sentences(letter) -> str:
    said = []
    for block in letter.blocks:
        if isinstance(block, Paragraph):
            said.append(f"{block.lead} {block.text}".strip())
        elif isinstance(block, Bullets):
            said += [item if item.endswith(".") else f"{item}." for item in block.items]
        elif isinstance(block, Table):
            said += [cell for row in block.rows for cell in row[1:]]
    return "\n".join(said)


ALL_WAYS = {
    "typical": make_analysis(),
    "unclear": make_analysis(ALL_UNCLEAR),
    "each reason": make_analysis(EACH_REASON),
    "nothing": empty_analysis(),
    "one": make_analysis(TYPICAL[:1]),
    "all tolerated": make_analysis([Told(t.group) for t in TYPICAL]),
    "none tolerated": make_analysis([Told(t.group, "reacted", 0, (2, 3, 4)) for t in TYPICAL]),
}


@pytest.mark.parametrize("case", ALL_WAYS)
def test_reading_age_is_about_eleven_or_less(case):
    """Automated Readability Index (Senter & Smith 1967): 6 is the level of 11-year-olds.

    And the Coleman-Liau index (1975), by another formula. Both count letters and sentences, and so
    need no dictionary of syllables, which textstat would fetch from the network.
    """
    text = sentences(write("client", ALL_WAYS[case]))
    assert textstat.automated_readability_index(text) <= 6
    assert textstat.coleman_liau_index(text) <= 7


@pytest.mark.parametrize("case", ALL_WAYS)
def test_german_is_easy_to_read(case):
    """LIX (Björnsson 1968): words a sentence plus percentage of words over six letters.

    Under 40 is easy to read, newspapers have about 40 to 50. It needs no count of syllables. There
    is no settled scale of ages for it, so none is claimed for German.
    """
    textstat.set_lang("de")
    try:
        assert textstat.lix(sentences(write("client", ALL_WAYS[case], language="de"))) < 40
    finally:
        textstat.set_lang("en")


@pytest.mark.parametrize("case", ALL_WAYS)
def test_german_has_no_moral_words_either(case):
    text = sentences(write("client", ALL_WAYS[case], language="de")).lower()
    bad = r"\b(sicheres? lebensmittel|unbedenklich|schlecht(e|es|er)? (essen|lebensmittel)|verboten"
    bad += r"|erlaubt|sünde|sündigen|gesund(e|es)? lebensmittel|ungesund|schuld an)\b"
    assert not re.search(bad, text)
    assert "keine diagnose" in text or case == "nothing"
    assert "fodmap" not in text


def test_each_reason_for_unclear_is_told_to_the_client():
    letter = write("client", ALL_WAYS["each reason"])
    told = next(b for b in letter.blocks if isinstance(b, Bullets)).items
    # two groups without enough days, two with scattered scores, are told together
    assert [(item.count("(in "), item.split("): ")[1][:28]) for item in told] == [
        (2, "we could not use all of your"),
        (1, "your scores were already up "),
        (1, "you may be able to eat more "),
        (2, "your scores went up and down"),
    ]


@pytest.mark.parametrize("case", ALL_WAYS)
def test_it_has_no_moral_words_and_promises_nothing(case):
    text = sentences(write("client", ALL_WAYS[case])).lower()
    bad = r"\b(safe|unsafe|good|bad food|clean|cheat|naughty|guilty|forbidden|allowed|trigger)\b"
    assert not re.search(bad, text.replace("very bad", ""))
    assert "you are intolerant" not in text
    assert "fodmap" not in text


@pytest.mark.parametrize("case", ["typical", "unclear", "one"])
def test_it_says_what_it_is_not_and_who_decides(case):
    text = sentences(write("client", ALL_WAYS[case]))
    assert "not a diagnosis" in text
    assert "You and your dietitian decide" in text
    assert "see your doctor soon" in text
    assert "Call for help at once" in text
    assert "allergy, coeliac disease" in text or not any(
        isinstance(b, Heading) and b.text == "Foods you can bring back"
        for b in write("client", ALL_WAYS[case]).blocks
    )


def test_each_group_gets_the_advice_that_fits_it():
    letter = write("client", make_analysis())
    table = next(b for b in letter.blocks if isinstance(b, Table))
    advice = {row[0]: row[3] for row in table.rows}
    assert advice["fructans"].startswith("Bring it back, up to 3\u00a0g (1\u00a0clove) of garlic")
    assert advice["fructose"].startswith("Bring it back")
    assert advice["lactose"] == "Leave it for now."
    assert advice["GOS"] == "Test it again."
    assert "glucose" not in str(advice)
    shown = {row[0]: row[2] for row in table.rows}
    assert "stopped" in shown["lactose"]
    text = sentences(letter)
    assert "You also tested glucose" in text
    assert "in 3 to 6 months, between August 2026 and November 2026" in text


def test_a_group_held_up_by_screening_is_never_brought_back():
    analysis = make_analysis()
    why = statement("held-blocked", answer="hereditary-fructose-intolerance")
    letter = write("client", analysis, held={"fructose": why})
    table = next(b for b in letter.blocks if isinstance(b, Table))
    advice = {row[0]: row[3] for row in table.rows}
    assert advice["fructose"] == "Do not eat or test it. Talk to us first."
    back = letter.blocks[letter.blocks.index(Heading(text="Foods you can bring back")) + 1]
    assert not any(item.startswith("fructose") for item in back.items)


def test_nothing_tested_says_so_and_shows_no_table():
    letter = write("client", empty_analysis())
    assert not any(isinstance(b, Table | Picture) for b in letter.blocks)
    assert letter.draft


def test_a_food_never_stands_without_an_amount():
    """A dose logged without its portion is given in grams of the carbohydrate."""
    from dataclasses import replace

    analysis = make_analysis()
    groups = tuple(
        replace(g, doses=tuple(replace(d, portion_g=None) for d in g.doses))
        for g in analysis.groups
    )
    letter = write("client", replace(analysis, groups=groups))
    back = letter.blocks[letter.blocks.index(Heading(text="Foods you can bring back")) + 1]
    assert len(back.items) == 4
    for item in back.items:
        assert re.search(r"up to [\d.]+\u00a0g of this sugar from", item)


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_doctor_comes_first_and_what_is_not_begun_is_named(language):
    analysis = make_analysis(TYPICAL[:1])
    cautions = (
        statement("diary-alarm", dates=(dt.date(2026, 3, 4),)),
        statement("still-to-come", groups=("gos", "glucose")),
    )
    letter = write("client", replace(analysis, cautions=cautions), language=language)
    words = load_words(language)
    first = letter.blocks[0]
    assert isinstance(first, Paragraph)
    assert first.lead == words("client.alarm_lead")
    assert words.date(dt.date(2026, 3, 4)) in first.text
    said = sentences(letter)
    assert words("client.found_in.gos") in said
    # "do not bring foods back" above a table that says "bring it back" would be read either way
    headings = [Heading(text=words(f"client.{name}_heading")) for name in ("back", "again")]
    assert not any(heading in letter.blocks for heading in headings)
    table = next(b for b in letter.blocks if isinstance(b, Table))
    assert {row[3] for row in table.rows} == {words("client.next.waiting")}
    free = write("client", make_analysis(TYPICAL[:1]), language=language)
    assert all(heading in free.blocks for heading in headings)
    assert said.count(words("client.opening_one")) == 1
