"""A letter in another language holds no sentence of the first one, whatever the diary was like."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import challenge
from challenge.figures.alt import describe_group, describe_small_multiples, describe_timeline
from challenge.files.reading import read_settings
from challenge.foods import foods
from challenge.letter.background import background_from
from challenge.letter.client import build_client_letter
from challenge.letter.content import to_plain
from challenge.letter.doctor import build_doctor_letter
from challenge.letter.holds import held_up
from challenge.letter.people import Recipient
from challenge.letter.report import render_report
from challenge.letter.story import tell
from challenge.protocol.questions import ALARM_QUESTIONS, CONDITION_QUESTIONS
from challenge.protocol.screening_rules import RULES
from challenge.protocol.settings import ScreeningSettings
from challenge.wording import languages, load_words
from tests.letter.builders import ALL_UNCLEAR, TYPICAL, make_analysis
from tests.letter.conftest import DATE, SENDER
from tests.letter.test_wording import load

SAMPLES = Path(__file__).parents[2] / "sample_diaries"


def pieces(language: str) -> set[str]:
    """Every stretch of three words or more between two gaps of the language's sentences."""
    found = set()
    for key, value in load(language).items():
        for text in value if isinstance(value, list) else [str(value)]:
            for piece in re.split(r"\{[^}]*\}", text):
                if len(re.findall(r"[^\W\d_]{2,}", piece)) >= 3 and not key.startswith("measures"):
                    found.add(" ".join(piece.split()).strip(" .:;,()"))
    return found


def said(value) -> str:
    if isinstance(value, dict):
        return " ".join(said(item) for item in value.values())
    if isinstance(value, list):
        return " ".join(said(item) for item in value)
    return str(value)


def both_letters(analysis, answers, words) -> str:
    held = held_up(analysis, answers)
    shared = {
        "date": DATE, "words": words, "sender": SENDER, "recipient": Recipient(), "held": held,
    }  # fmt: skip
    small = describe_small_multiples(analysis, words)
    letters = (
        build_client_letter(analysis, picture_alt=small, **shared),
        build_doctor_letter(
            analysis,
            background=background_from(answers, words),
            picture_alts={
                "timeline": describe_timeline(analysis, words), "small_multiples": small,
            },
            **shared,
        ),
    )  # fmt: skip
    return " ".join(said(to_plain(letter)) for letter in letters).replace("\u00a0", " ")


@pytest.fixture(scope="module")
def english():
    """What must not be there: sentences, answers of the screening, and names of foods."""
    german = said(list(load("de").values()))
    names = {food.name for food in foods()} | set(load_words("en").table["conditions"].values())
    return {
        text for text in pieces("en") | names if text not in german and len(text) > 4
    }  # fmt: skip


ILL = ScreeningSettings(
    asked_on="2026-01-05",
    diagnosed_by_doctor=False,
    coeliac_test="negative",
    coeliac_test_on_gluten=False,
    restriction_helped=True,
    restriction_weeks=5,
    restriction_measure="IBS-SSS",
    restriction_change=-80,
    conditions=("galactosaemia", "gout", "pollen-food-syndrome"),
    alarm_features=("night-time-symptoms",),
    allergies=("Pilze",),
)


@pytest.mark.parametrize("name", ["juniper", "rowan", "sorrel", "hazel"])
def test_letters_on_the_samples_are_german_throughout(name, english):
    folder = SAMPLES / name
    settings = read_settings(folder)
    analysis = challenge.analyse(
        challenge.read_diary(folder), challenge.read_plan(folder / "plan.csv"), settings
    )
    text = both_letters(analysis, settings.screening, load_words("de"))
    assert "Sehr geehrte" in text
    assert {piece for piece in english if piece in text} == set()


@pytest.mark.parametrize("told", [TYPICAL, ALL_UNCLEAR], ids=["typical", "all unclear"])
def test_screening_foods_and_disturbances_are_german(told, english):
    text = both_letters(make_analysis(told), ILL, load_words("de"))
    assert "Galaktosämie, daher weder essen noch testen" in text
    assert "Beschwerden, die nachts wecken" in text
    assert {piece for piece in english if piece in text} == set()


def test_the_search_for_english_finds_english(english):
    text = both_letters(make_analysis(), ILL, load_words("en"))
    assert len({piece for piece in english if piece in text}) > 100


@pytest.mark.parametrize("language", languages())
def test_every_answer_of_the_screening_has_a_name(language):
    asked = {code for questions in CONDITION_QUESTIONS.values() for code in questions}
    assert {*RULES, *ALARM_QUESTIONS, *asked} <= set(load_words(language).table["conditions"])


@pytest.mark.parametrize("language", [code for code in languages() if code != "en"])
def test_every_food_of_the_table_has_a_name(language):
    assert {food.name for food in foods()} == set(load_words(language).table["foods"])


def test_the_report_is_german_throughout(english):
    words, analysis = load_words("de"), make_analysis(ALL_UNCLEAR)
    letter = build_doctor_letter(
        analysis, date=DATE, words=words, sender=SENDER, recipient=Recipient(),
        background=background_from(ILL, words),
    )  # fmt: skip
    figures = {group.fodmap_group: (b"", describe_group(analysis, group, words))
               for group in analysis.groups}  # fmt: skip
    figures["timeline"] = (b"", describe_timeline(analysis, words))
    page = render_report(analysis, letter, tell(analysis, ()), figures, words).decode()
    text = page.split("<body>")[1].replace("\u00a0", " ")
    assert 'lang="de"' in page
    assert "Nächster Schritt" in text
    assert {piece for piece in english if piece in text} == set()
