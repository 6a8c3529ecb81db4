"""Which column is which: names in any order and case, with the variants people use."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Final, Literal

from challenge.problems import Problem
from challenge.terms import GROUPS_AND_CONTROL, STOOL_FORM, SYMPTOMS

Kind = Literal["foods", "symptoms", "events"]

# English, German, French, Spanish and Polish, without accents and in lower case.
_COLUMNS: Final[dict[str, str]] = {
    "time": """time; date time; datetime; date and time; date & time; timestamp; when; eaten at;
        date/time; time eaten; datum uhrzeit; datum und uhrzeit; datum & uhrzeit; datum/uhrzeit;
        zeitpunkt; zeitstempel; horodateur; date heure; date et heure; horodatage; date/heure;
        fecha hora; fecha y hora; fecha/hora; marca temporal; data godzina; data i godzina;
        data/godzina; znacznik czasu; sygnatura czasowa""",
    "date": "date; day; datum; tag; jour; fecha; dia; data; dzien",
    "clock": """time of day; clock; clock time; hour; uhrzeit; zeit; heure; hora; godzina; czas;
        start time; hora del dia; godz""",
    "food": """food; foods; meal; item; what; eaten; what eaten; what i ate; food eaten; food
        item; food or drink; food/drink; lebensmittel; lebensmittel/getraenk; aliment/boisson;
        comida/bebida; speise; essen; mahlzeit; nahrungsmittel; gericht; aliment; aliments;
        nourriture; repas; plat; alimento; alimentos; comida; produkt; zywnosc; jedzenie; posilek;
        pokarm""",
    "portion_g": """portion g; portion; portion grams; portion ml; portion g or ml; amount; amount
        g; amount eaten; grams; quantity; quantity g; weight; weight g; serving; serving g;
        portion size; portion size g; menge in g; menge; menge g; menge g oder ml; gewicht; gramm;
        portionsgroesse; quantite; quantite g; poids; poids g; grammes; cantidad; cantidad g;
        peso; gramos; porcion; porcion g; racion; ilosc; ilosc g; porcja; porcja g; gramy; waga;
        masa; how much; wie viel; wieviel; combien; cuanto; ile""",
    "fodmap_group": """fodmap group; fodmap; group; carbohydrate group; carbohydrate; gruppe;
        fodmap gruppe; kohlenhydratgruppe; groupe; groupe fodmap; groupe de fodmap; grupo; grupo
        fodmap; grupa; grupa fodmap""",
    "fodmap_g": """fodmap g; fodmap grams; carbohydrate g; carbohydrate grams; grams of fodmap;
        fodmap gramm; gramm fodmap; kohlenhydrat g; fodmap grammes; grammes de fodmap; fodmap
        gramos; gramos de fodmap; fodmap gramy; gramy fodmap""",
    "symptom": "symptom; symptoms; symptom name; complaint; beschwerde; symptome; sintoma; objaw",
    "score": """score; symptom score; severity; symptom severity; rating; value; points;
        intensity; score 0 10; nrs; wert; punkte; staerke; bewertung; intensitaet; auspraegung;
        intensite; note 0 10; valeur; severite; puntuacion; intensidad; valor; gravedad; puntos;
        ocena; wynik; nasilenie; punkty; wartosc""",
    "note": """note; notes; comment; comments; remark; remarks; notiz; notizen; bemerkung;
        bemerkungen; anmerkung; kommentar; remarque; remarques; commentaire; commentaires; nota;
        notas; comentario; comentarios; observaciones; uwaga; uwagi; notatka; notatki; komentarz""",
    "entered_at": """entered at; entered; written at; recorded at; entry time; logged at;
        eingetragen; eingetragen am; erfasst; erfasst am; saisi le; saisie; note le; introducido;
        introducido el; registrado el; wpisano; data wpisu""",
    "start": "start; start date; from; begin; beginn; von; debut; du; inicio; desde; poczatek; od",
    "end": "end; end date; to; until; ende; bis; fin; au; hasta; koniec; do",
    "event": """event; disturbance; what happened; ereignis; stoerung; vorfall; evenement; evento;
        suceso; zdarzenie; wydarzenie""",
}

_SYMPTOMS: Final[dict[str, str]] = {
    "pain": """pain; abdominal pain; stomach pain; belly pain; tummy pain; cramp; cramps; abdo
        pain; tummy ache; stomach ache; belly ache; bauchweh; bauchkraempfe; schmerz; schmerzen;
        bauchschmerz; bauchschmerzen; douleur; douleurs; douleur abdominale; douleurs abdominales;
        mal de ventre; mal au ventre; crampes; dolor; dolor abdominal; dolor de barriga; dolor de
        estomago; colicos; bol; bol brzucha; bole brzucha; skurcze""",
    "bloating": """bloating; bloated; distension; blaehbauch; voellegefuehl; ballonnement;
        ballonnements; gonflement; gonflements; hinchazon; distension abdominal; wzdecia;
        wzdecie""",
    "wind": """wind; flatulence; flatulenz; gas; flatus; blaehungen; winde; gaz; flatulences;
        gases; flatulencia; flatulencias; gazy""",
    "discomfort": """discomfort; abdominal discomfort; unwohlsein; unbehagen; inconfort; gene;
        malestar; incomodidad; molestias; dyskomfort""",
    "urgency": """urgency; urge; stuhldrang; urgence; besoin pressant; urgencia; parcie; nagla
        potrzeba""",
    STOOL_FORM: """stool form; stool; stool type; bristol; bristol type; bristol stool form;
        bristol stool type; bristol stool scale; bsfs; bristol skala; stuhlgang; stuhlform; stuhl;
        stuhltyp; bristol typ; forme des selles; selles; type bristol; type de selles; forma de
        las heces; heces; tipo bristol; tipo de heces; escala de bristol; deposiciones; echelle de
        bristol; type de bristol; skala bristolska; skala bristol; forma stolca; stolec; typ
        stolca; typ bristol""",
}

_GROUPS: Final[dict[str, str]] = {
    "fructans": """fructans; fructan; fruktane; fruktan; fructanes; fructane; fructanos; fructano;
        fruktany; inulin; fos""",
    "fructose": """fructose; excess fructose; free fructose; fruktose; fruchtzucker; fructosa;
        fruktoza""",
    "lactose": "lactose; laktose; milchzucker; lactosa; laktoza",
    "gos": """gos; galacto oligosaccharides; galactooligosaccharides; galactans;
        galaktooligosaccharide; galacto oligosaccharides gos; galactooligosacaridos;
        galaktooligosacharydy""",
    "sorbitol": "sorbitol; sorbit",
    "mannitol": "mannitol; mannit; manitol",
    "glucose": "glucose; dextrose; glukose; traubenzucker; glucosa; glukoza; control",
}

_UNIT: Final = re.compile(r"[\(\[]\s*([^)\]]*)\s*[\)\]]")
_SCALE: Final = re.compile(r" (?:0 10|score)$")
_GERMAN: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "ł": "l"})
MAPPABLE: Final = (*_COLUMNS, *_SYMPTOMS)


@lru_cache(maxsize=4096)  # cells of any file come here, and an audit reads thousands
def plain(name: str) -> str:
    """Reduce a name to what its usual spellings share: no case, accents, signs or units."""
    text = unicodedata.normalize("NFC", name).casefold().replace("_", " ").translate(_GERMAN)
    decomposed = unicodedata.normalize("NFKD", text)
    text = "".join(char for char in decomposed if not unicodedata.combining(char))
    return " ".join(re.sub(r"[^a-z0-9&]+", " ", text).split())


def _spellings(table: Mapping[str, str]) -> dict[str, str]:
    return {
        plain(spelling): name for name, listed in table.items() for spelling in listed.split(";")
    }


@cache
def _column_names() -> dict[str, str]:
    return _spellings(_COLUMNS)


@cache
def _symptom_names() -> dict[str, str]:
    return _spellings(_SYMPTOMS)


@cache
def _group_names() -> dict[str, str]:
    return _spellings(_GROUPS)


def symptom_named(name: str, declared: Iterable[str]) -> str | None:
    """Return the symptom that a written name means, or None."""
    text = name.strip()
    if text in SYMPTOMS or text == STOOL_FORM:
        return text
    key = plain(text)
    for symptom in declared:
        if plain(symptom) == key:
            return symptom
    return _symptom_names().get(key) or _symptom_names().get(plain(_UNIT.sub("", text)))


def group_named(name: str) -> str | None:
    """Return the carbohydrate group that a written name means, or None; empty stays empty."""
    text = name.strip()
    if not text or text in GROUPS_AND_CONTROL:
        return text
    return _group_names().get(plain(text))


@dataclass(frozen=True, kw_only=True, slots=True)
class Header:
    """What each column of a sheet holds.

    Attributes
    ----------
    columns
        Name of the contract (``clock``: a time of day beside ``date``) -> index.
    symptoms
        Symptom -> index, in the wide form.
    kinds
        What the rows are: foods, symptoms, events; foods and symptoms may share a sheet.
    unknown
        Indices of columns that mean nothing to us, those for reading only aside.
    problems
        Columns named twice, and the like.
    """

    columns: Mapping[str, int]
    symptoms: Mapping[str, int]
    kinds: tuple[Kind, ...]
    unknown: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = field(default=())


def understand_header(
    cells: Sequence[str],
    file: str,
    line: int,
    *,
    mapping: Mapping[str, str],
    declared: Iterable[str],
) -> Header:
    """Say what each column holds.

    Parameters
    ----------
    cells
        The header as typed.
    file, line
        Where it stands.
    mapping
        Column names of the client's own -> names of the contract; they go first.
    declared
        Further symptoms that may be columns of their own.
    """
    own = {plain(key): value for key, value in mapping.items()}
    found: dict[str, int] = {}
    symptoms: dict[str, int] = {}
    unknown: list[int] = []
    problems: list[Problem] = []
    for index, cell in enumerate(cells):
        name, is_symptom = _meaning(cell, own, tuple(declared))
        if name is None:
            if cell.strip() and not for_reading_only(cell):
                unknown.append(index)
            continue
        target = symptoms if is_symptom else found
        if name in target:
            problems.append(_twice(file, line, cell, name))
            continue
        target[name] = index
    _settle_time(found)
    return Header(
        columns=found,
        symptoms=symptoms,
        kinds=_kinds(found, symptoms),
        unknown=tuple(unknown),
        problems=tuple(problems),
    )


def is_of_contract(cells: Sequence[str]) -> bool:
    """Say whether a row holds nothing but names of columns exactly as this program writes them."""
    return all(cell in _COLUMNS or cell in SYMPTOMS for cell in cells)


def for_reading_only(name: str) -> bool:
    """Say whether a column or sheet shows something and takes no entry: its name is in brackets."""
    text = name.strip()
    return text.startswith("(") and text.endswith(")")


def _meaning(
    cell: str, own: Mapping[str, str], declared: tuple[str, ...]
) -> tuple[str | None, bool]:
    key = plain(cell)
    if key in own:
        name = own[key]
        return name, name not in _COLUMNS
    without_unit = plain(_UNIT.sub("", cell))
    for text in (key, without_unit):
        if text in _column_names():
            return _column_names()[text], False
    symptom = symptom_named(cell, declared) or symptom_named(_SCALE.sub("", key), declared)
    return symptom, symptom is not None


def _settle_time(found: dict[str, int]) -> None:
    """``Time`` beside ``Date`` is the time of day; a lone ``clock`` or ``date`` holds both."""
    if "date" in found and "time" in found and "clock" not in found:
        found["clock"] = found.pop("time")
    elif "time" not in found and ("date" in found) != ("clock" in found):
        found["time"] = found.pop("date", found.pop("clock", 0))


def _kinds(found: Mapping[str, int], symptoms: Mapping[str, int]) -> tuple[Kind, ...]:
    kinds: list[Kind] = []
    has_time = "time" in found or "date" in found
    if has_time and "food" in found:
        kinds.append("foods")
    if has_time and (symptoms or {"symptom", "score"} <= set(found)):
        kinds.append("symptoms")
    if "event" in found and ("start" in found or has_time) and not kinds:
        kinds.append("events")
    return tuple(kinds)


def _twice(file: str, line: int, cell: str, name: str) -> Problem:
    return Problem(
        code="column-twice",
        severity="error",
        file=file,
        line=line,
        column=cell,
        message=f"Two columns are both read as {name}.",
        remedy="Rename or remove one of them.",
    )
