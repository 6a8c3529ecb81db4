from __future__ import annotations

import datetime as dt
import re
import tomllib
from importlib import resources

import pytest

from challenge.errors import ChallengeError
from challenge.wording import languages, load_words


def flat(table, head=""):
    for key, value in table.items():
        if isinstance(value, dict):
            yield from flat(value, f"{head}{key}.")
        else:
            yield f"{head}{key}", value


def load(language):
    text = (resources.files("challenge.wording") / f"{language}.toml").read_text("utf-8")
    return dict(flat(tomllib.loads(text)))


@pytest.mark.parametrize("language", languages())
def test_each_language_has_the_same_sentences_and_gaps(language):
    english, other = load("en"), load(language)
    other = {
        key: value for key, value in other.items() if not key.startswith(("measures.", "foods."))
    }
    assert set(other) == set(english)
    for key, value in english.items():
        gaps = [set(re.findall(r"{\w+(?::\w+)?}", str(text))) for text in (value, other[key])]
        assert gaps[0] == gaps[1], key
        assert isinstance(other[key], type(value))
        if isinstance(value, list):
            assert len(value) == len(other[key])


def test_numbers_are_written_as_the_language_does():
    en, de = load_words("en"), load_words("de")
    assert en.number(-0.04) == "0.0"
    assert en.number(-1.25, 2, sign=True) == "−1.25"
    assert de.number(1.5) == "1,5"
    assert en.number(None) == "–"
    assert en.percent(0.999) == "over 99%"
    assert en.percent(0.001) == "under 1%"
    assert en.percent(1.0) == "100%"
    assert en.pvalue(0.0001) == "<\u00a00.001"
    assert de.grams(2.5) == "2,5\u00a0g"


def test_a_stretch_of_days_names_the_years_where_they_differ():
    en, de = load_words("en"), load_words("de")
    first = dt.date(2026, 3, 9)
    assert en.span(first, dt.date(2026, 3, 11)).replace(" ", " ") == "9–11 Mar"
    assert en.span(first, dt.date(2026, 6, 5)).replace(" ", " ") == "9 Mar – 5 Jun"
    assert en.span(first, dt.date(2027, 6, 5)).replace(" ", " ") == "9 Mar 2026 – 5 Jun 2027"
    assert de.span(first, dt.date(2027, 6, 5)).replace(" ", " ") == "9. März 2026 – 5. Juni 2027"


def test_an_unknown_language_names_those_there_are():
    with pytest.raises(ChallengeError, match="en, de"):
        load_words("xx")
