"""What the files of the corpus say: one invented diary, in five languages and six settings.

The days are chosen to catch: the 4th and 5th of March can be read either way round, the 13th
cannot; ten past midnight and a quarter past noon are where 12-hour clocks go wrong.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

SYMPTOMS = ("pain", "bloating", "wind", "stool_form")


@dataclass(frozen=True)
class Setting:
    """A language with its usual spreadsheet settings.

    ``names``: column names by name of the contract, symptoms among them. ``words``: group names,
    foods, notes. ``stamp`` writes a moment as the spreadsheet shows it.
    """

    code: str
    page: str
    separator: str
    comma: bool
    names: dict[str, str]
    groups: dict[str, str]
    foods: tuple[str, str, str]
    notes: tuple[str, str, str]
    stamp: Callable[[dt.datetime], str]

    def number(self, value: float | None) -> str:
        text = "" if value is None else f"{value:g}"
        return text.replace(".", ",") if self.comma else text


def _us(t: dt.datetime) -> str:
    return f"{t.month}/{t.day}/{t.year} {t.hour}:{t:%M}"


def _spanish(t: dt.datetime) -> str:
    return f"{t:%d/%m/%Y} {t.hour}:{t:%M}"


def _names(text: str) -> dict[str, str]:
    return dict(pair.split("=") for pair in text.split("; "))


SETTINGS = {
    setting.code: setting
    for setting in (
        Setting(
            "en-GB", "cp1252", ",", False,
            _names("time=Date and time; date=Date; clock=Time; pain=Abdominal pain; "
                   "bloating=Bloating; wind=Wind; stool_form=Bristol stool type; note=Notes; "
                   "symptom=Symptom; score=Score (0-10); food=Food; portion_g=Portion (g); "
                   "fodmap_group=Group; fodmap_g=Carbohydrate (g)"),
            {"lactose": "Lactose", "sorbitol": "Sorbitol"},
            ("semi-skimmed milk", "apricots, fresh", "crème brûlée"),
            ("slept badly", "after midnight – couldn’t sleep", "better; no “cramps”"),
            lambda t: f"{t:%d/%m/%Y %H:%M}",
        ),
        Setting(
            "en-US", "cp1252", ",", False,
            _names("time=Timestamp; date=Date; clock=Time; pain=Stomach pain; bloating=Bloating; "
                   "wind=Gas; stool_form=Stool Form; note=Comments; symptom=Symptom; "
                   "score=Severity; food=Food Item; portion_g=Amount (g); "
                   "fodmap_group=FODMAP Group; fodmap_g=FODMAP (g)"),
            {"lactose": "lactose", "sorbitol": "sorbitol"},
            ("2% milk", "apricots, fresh", "jalapeño cornbread"),
            ("slept badly", "after midnight - couldn't sleep", 'better, no "cramps"'),
            _us,
        ),
        Setting(
            "de", "cp1252", ";", True,
            _names("time=Datum/Uhrzeit; date=Datum; clock=Uhrzeit; pain=Bauchschmerzen; "
                   "bloating=Blähbauch; wind=Blähungen; stool_form=Stuhlform; note=Bemerkung; "
                   "symptom=Symptom; score=Stärke; food=Lebensmittel; portion_g=Menge (g); "
                   "fodmap_group=Gruppe; fodmap_g=FODMAP (g)"),
            {"lactose": "Laktose", "sorbitol": "Sorbit"},
            ("Vollmilch", "Aprikosen, frisch", "Reisküchlein mit Käse"),
            ("schlecht geschlafen", "nach Mitternacht – nicht eingeschlafen", "besser; „Ruhe“"),
            lambda t: f"{t:%d.%m.%Y %H:%M}",
        ),
        Setting(
            "fr", "cp1252", ";", True,
            _names("time=Date et heure; date=Date; clock=Heure; pain=Douleur abdominale; "
                   "bloating=Ballonnements; wind=Gaz; stool_form=Forme des selles; "
                   "note=Remarques; symptom=Symptôme; score=Intensité; food=Aliment; "
                   "portion_g=Quantité (g); fodmap_group=Groupe; fodmap_g=FODMAP (g)"),
            {"lactose": "Lactose", "sorbitol": "Sorbitol"},
            ("lait demi-écrémé", "abricots, frais", "crêpes à la farine de riz"),
            ("mal dormi", "après minuit – pas dormi", "ça va mieux ; « rien »"),
            lambda t: f"{t:%d/%m/%Y %H:%M}",
        ),
        Setting(
            "es", "cp1252", ";", True,
            _names("time=Fecha y hora; date=Fecha; clock=Hora; pain=Dolor abdominal; "
                   "bloating=Hinchazón; wind=Gases; stool_form=Tipo Bristol; "
                   "note=Observaciones; symptom=Síntoma; score=Puntuación; food=Alimento; "
                   "portion_g=Cantidad (g); fodmap_group=Grupo; fodmap_g=FODMAP (g)"),
            {"lactose": "Lactosa", "sorbitol": "Sorbitol"},
            ("leche semidesnatada", "albaricoques, frescos", "piña con jamón"),
            ("dormí mal", "después de medianoche; ¿café?", "mejor, sin «nada» más"),
            _spanish,
        ),
        Setting(
            "pl", "cp1250", ";", True,
            _names("time=Data i godzina; date=Data; clock=Godzina; pain=Ból brzucha; "
                   "bloating=Wzdęcia; wind=Gazy; stool_form=Typ stolca; note=Uwagi; "
                   "symptom=Objaw; score=Nasilenie; food=Produkt; portion_g=Ilość (g); "
                   "fodmap_group=Grupa; fodmap_g=FODMAP (g)"),
            {"lactose": "Laktoza", "sorbitol": "Sorbitol"},
            ("mleko półtłuste", "morele, świeże", "łosoś z ryżem"),
            ("źle spałam", "po północy – nie śpię", "już lepiej; „spokój”"),
            lambda t: f"{t:%d.%m.%Y %H:%M}",
        ),
    )
}  # fmt: skip

Moment = dt.datetime
Scored = tuple[Moment, tuple[int | None, ...], int | None]
"""When, scores in the order of ``SYMPTOMS``, number of the note."""

SCORED: tuple[Scored, ...] = (
    (Moment(2026, 3, 4, 8, 5), (2, 3, 1, 4), 0),
    (Moment(2026, 3, 4, 20, 45), (5, 6, None, None), None),
    (Moment(2026, 3, 5, 0, 10), (0, 1, 2, None), 1),
    (Moment(2026, 3, 5, 12, 15), (10, 0, 3, 6), None),
    (Moment(2026, 3, 13, 8, 0), (1, None, 4, None), 2),
)

Eaten = tuple[Moment, int, float, str, float | None, int | None]
"""When, number of the food, grams, group, grams of it, number of the note."""

EATEN: tuple[Eaten, ...] = (
    (Moment(2026, 3, 4, 7, 30), 0, 250, "lactose", 12.5, None),
    (Moment(2026, 3, 5, 12, 15), 1, 62.5, "sorbitol", 1.25, 2),
    (Moment(2026, 3, 13, 19, 0), 2, 180, "", None, 0),
)


def iso(moment: Moment) -> str:
    return f"{moment:%Y-%m-%dT%H:%M}"


def scores(code: str, rows: tuple[Scored, ...] = SCORED) -> list[tuple[str, ...]]:
    """Rows of scores that a reader must find; a row's note stands with its first score."""
    found = []
    for moment, values, note in rows:
        text = "" if note is None else SETTINGS[code].notes[note]
        for symptom, value in zip(SYMPTOMS, values, strict=True):
            if value is not None:
                found.append((iso(moment), symptom, str(value), text, ""))
                text = ""
    return sorted(found)


def foods(code: str, rows: tuple[Eaten, ...] = EATEN) -> list[tuple[str, ...]]:
    """Rows of foods that a reader must find."""
    setting = SETTINGS[code]
    return sorted(
        (
            iso(moment),
            setting.foods[food],
            f"{grams:g}",
            group,
            "" if carbohydrate is None else f"{carbohydrate:g}",
            "" if note is None else setting.notes[note],
            "",
        )
        for moment, food, grams, group, carbohydrate, note in rows
    )
