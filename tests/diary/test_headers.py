"""Column names as people write them. The variants are everyday ones, from memory."""

from __future__ import annotations

import pytest

from challenge.diary.headers import understand_header
from challenge.diary.table import find_header

VARIANTS = {
    "time": "Date/Time|Time eaten|Datum & Uhrzeit|Zeitstempel|Horodateur|Marca temporal|"
            "Sygnatura czasowa",
    "clock": "Time of day|Uhrzeit|Heure|Hora del día|Godz.",
    "food": "Food/Drink|FOOD EATEN|Lebensmittel/Getränk|Aliment / boisson|Comida/bebida|Posiłek",
    "portion_g": "Portion size (g)|Weight [g]|How much|Menge in g|Menge (Gramm)|Wie viel|"
                 "Quantité (en g)|Peso (g)|Ilość",
    "score": "Symptom severity|Stärke|Intensité|Puntuación (0-10)|Nasilenie",
    "note": "Comments|Bemerkungen|Commentaire|Observaciones|Notatki",
    "entered_at": "Logged at|Eingetragen am|Saisi le|Registrado el|Data wpisu",
    "pain": "Abdo pain|Tummy ache|Pain score|Schmerzen 0-10|Bauchkrämpfe|Mal au ventre|"
            "Dolor de estómago|Ból (0-10)|Bóle brzucha",
    "bloating": "Bloating (0–10)|Bloating score|Blähbauch|Völlegefühl|"
                "Gonflement|Distensión|Wzdęcie",
    "wind": "Flatulence|Blähungen (0-10)|Flatulenz|Flatulences|Gases|Gazy",
    "stool_form": "BSFS|Stool (Bristol)|Bristol-Skala|Échelle de Bristol|Escala de Bristol|"
                  "Skala bristolska",
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "title"), [(n, title) for n, titles in VARIANTS.items() for title in titles.split("|")]
)
def test_usual_names_of_columns_are_known(name, title):
    header = understand_header([title, "Distractor"], "f", 1, mapping={}, declared=())
    # a lone time of day holds the date, too
    expected = "time" if name == "clock" else name
    assert {**header.columns, **header.symptoms} == {expected: 0}
    assert header.unknown == (1,)


def test_no_name_has_two_meanings():
    from challenge.diary import headers

    spelt: dict[str, str] = {}
    for table in (headers._COLUMNS, headers._SYMPTOMS):
        for name, listed in table.items():
            for spelling in {headers.plain(text) for text in listed.split(";")}:
                assert spelt.setdefault(spelling, name) == name, spelling


def test_a_header_as_the_program_writes_it_ends_the_search():
    def known(row):
        seen.append(row)
        header = understand_header(row, "f", 1, mapping={}, declared=())
        return len(header.columns) + len(header.symptoms)

    seen: list[list[str]] = []
    own = "time,symptom,score,note,entered_at\n2026-03-02T08:00,pain,3,food;meal;when,\n"
    assert find_header(own, None, known)[:2] == (",", 0)
    assert len(seen) == 1
    # anybody else's is the best of the first rows, whatever stands above it
    other = "Food diary,Date\nDate,Food,Portion,Pain,Notes\n2026-03-02,milk,200,3,\n"
    assert find_header(other, None, known)[:2] == (",", 1)
