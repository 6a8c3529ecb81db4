"""Old code pages told by words. The words are everyday ones of each language, from memory."""

from __future__ import annotations

import pytest

from challenge.diary.code_pages import OTHERS, WINDOWS, differing_words, readings
from challenge.diary.decoding import decode

GERMAN = "Käse, Müsli; süße Brötchen; Blähungen; Öl; Größe ½ Tasse; „gut“; Übelkeit; Crème fraîche"
FRENCH = (
    "pâtes à l’ail; crêpes; bœuf; œuf; fenêtre; très fort; ça va; goût; « mal »; août; gêne; n°2"
)
SPANISH = "jalapeño; piña; ¿qué comí? ¡mucho!; puré; hinchazón; pingüino; después; 1.º; plátano"
ENGLISH = "café; jalapeño; crème brûlée; £3; don’t; 20°C; “good”"
POLISH = (
    "mięso; ryż; łosoś; chleb żytni; śliwka; jabłko; tuńczyk; wzdęcia; ból; źle; ćwiczenia; Żurek"
)


@pytest.mark.parametrize("text", [GERMAN, FRENCH, SPANISH, ENGLISH])
@pytest.mark.parametrize("page", ["windows-1252", "cp850", "mac_roman"])
def test_western_diaries_have_one_possible_reading(text, page):
    data = text.encode(page, errors="ignore")
    assert [one.text for one in readings(data) if one.possible] == [data.decode(page)]


@pytest.mark.parametrize("page", ["windows-1250", "cp852", "mac_latin2", "iso-8859-2"])
def test_polish_diaries_have_one_possible_reading(page):
    data = POLISH.encode(page)
    assert [one.text for one in readings(data) if one.possible] == [POLISH]


@pytest.mark.parametrize(
    "word",
    [
        "ryż",
        "łosoś",
        "żytni",
        "śliwka",
        "jabłko",
        "tuńczyk",
        "się",
        "część",
        "już",
        "sól",
        "Żurek",
        "źle",
        "łódź",
        "pół",
        "coś",
    ],
)
def test_one_polish_word_is_enough_where_no_other_language_can_have_it(word):
    decoded = decode(f"food\n{word}\n".encode("windows-1250"), "f.csv")
    assert decoded.text == f"food\n{word}\n"
    assert [problem.code for problem in decoded.problems] == ["encoding-guessed"]


@pytest.mark.parametrize(
    "word",
    [
        "jalapeño",
        "piña",
        "crème",
        "œuf",
        "bœuf",
        "fraîche",
        "à",
        "où",
        "Käse",
        "süß",
        "ça",
        "très",
        "más",
        "¿qué?",
        "goût",
    ],
)
def test_one_western_word_is_enough_where_polish_cannot_have_it(word):
    decoded = decode(f"food\n{word}\n".encode("windows-1252"), "f.csv")
    assert decoded.text == f"food\n{word}\n"
    assert [problem.code for problem in decoded.problems] == ["encoding-guessed"]


@pytest.mark.parametrize(
    ("western", "polish"), [("miêso", "mięso"), ("crêpes", "cręp" + "es"), ("wzdêcia", "wzdęcia")]
)
def test_a_word_possible_in_both_is_asked_about_with_both_readings(western, polish):
    decoded = decode(f"food\n{western}\n".encode("windows-1252"), "f.csv")
    assert decoded.text is None
    (problem,) = decoded.problems
    assert (problem.code, problem.severity) == ("encoding-unsure", "error")
    assert f"{western!r} in windows-1252; {polish!r} in windows-1250" in problem.message
    assert "--encoding windows-1252" in problem.remedy
    assert "--encoding windows-1250" in problem.remedy


@pytest.mark.parametrize(
    ("text", "page"),
    [("Привет, хлеб", "windows-1251"), ("ψωμί, γάλα", "windows-1253"),
     ("ekşi yoğurt, ılık", "windows-1254"), ("příliš žluťoučký kůň", "windows-1250"),
     ("főzelék, tűzön", "windows-1250"), ("smörgås, rødgrød", "windows-1252")],
)  # fmt: skip
def test_languages_we_do_not_know_are_asked_about(text, page):
    decoded = decode(text.encode(page), "f.csv")
    assert decoded.text is None
    assert decoded.problems[0].code == "encoding-unsure"


def test_words_that_broke_in_an_earlier_program_are_no_words():
    # UTF-8 that was read as Windows-1252 and saved again, then cut inside a letter
    decoded = decode("Käse, Müsli".encode() + b" \xe4", "f.csv")
    assert decoded.text is None


def test_every_page_is_one_that_python_and_the_option_know():
    for page, _ in (*WINDOWS, *OTHERS):
        assert decode("a,b\n".encode(page), "f.csv", page).text == "a,b\n"


def test_only_words_that_differ_are_shown():
    one, other = readings("süß crêpes".encode("windows-1252"))[:1] * 2
    assert list(differing_words(one, other)) == []
