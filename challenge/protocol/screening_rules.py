"""Which answer stops or holds up which challenge, and why: one table, each row with its source.

Level ``block``: never scheduled, and no option changes that; only another answer does.
Level ``ask``: not scheduled until the dietitian has recorded that the doctor was asked.
Level ``note``: shown, stops nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from challenge.foods.model import Certainty
from challenge.terms import FodmapGroup

Level = Literal["block", "ask", "note"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Rule:
    """What one answer means for which groups and foods.

    A rule that names neither groups nor traits concerns everything.
    """

    level: Level
    reason: str
    source: str
    certainty: Certainty
    groups: tuple[FodmapGroup, ...] = ()
    traits: tuple[str, ...] = ()


_NICE_IBS: Final = "NICE CG61"
_REVIEW: Final = "Lacy & Patel 2017, PMC5704116"
_GENE: Final = "GeneReviews, Hereditary Fructose Intolerance, NBK333439"
_AGA: Final = "AGA Clinical Practice Update 2022, doi 10.1053/j.gastro.2021.12.248"
_CP: Final = "common practice"
_MEMORY: Final = "from memory"

_HFI: Final = (
    Rule(
        level="block",
        groups=("fructose", "sorbitol", "fructans"),
        traits=("fructose-source",),
        reason="Fructose, sorbitol and fructans are dangerous in hereditary fructose intolerance.",
        source=_GENE,
        certainty="V",
    ),
    Rule(
        level="ask",
        groups=("mannitol",),
        reason="Hereditary fructose intolerance, known or suspected: ask the metabolic team.",
        source=_GENE,
        certainty="V",
    ),
    Rule(
        level="ask",
        groups=("gos",),
        reason="GOS of pulses end in a sucrose unit: ask the metabolic team.",
        source=_CP,
        certainty="CP",
    ),
)


def _everything(level: Level, reason: str, source: str, certainty: Certainty) -> tuple[Rule, ...]:
    return (Rule(level=level, reason=reason, source=source, certainty=certainty),)


def _alarm(words: str, source: str, certainty: Certainty) -> tuple[Rule, ...]:
    return _everything("ask", f"Alarm feature: {words}. The doctor must see it.", source, certainty)


RULES: Final[dict[str, tuple[Rule, ...]]] = {
    # ---------------------------------------------------------------- metabolic
    "hereditary-fructose-intolerance": _HFI,
    "lifelong-aversion-to-sweet-food": _HFI,
    "family-hereditary-fructose-intolerance": _HFI,
    "galactosaemia": (
        Rule(
            level="block",
            groups=("lactose",),
            traits=("lactose-source",),
            reason="Lactose is dangerous in galactosaemia.",
            source="EFSA 2010, doi 10.2903/j.efsa.2010.1777",
            certainty="V",
        ),
        Rule(
            level="ask",
            groups=("gos",),
            reason="GOS contains galactose: ask the metabolic team.",
            source="a GOS trial excluded galactosaemia",
            certainty="V",
        ),
    ),
    "phenylketonuria": (
        Rule(
            level="block",
            traits=("aspartame",),
            reason="Aspartame is a source of phenylalanine.",
            source="Regulation (EU) 1169/2011, Annex III, 2.3",
            certainty="V",
        ),
    ),
    "g6pd-deficiency": (
        Rule(
            level="block",
            traits=("broad-bean",),
            reason="Broad beans are dangerous in G6PD deficiency.",
            source=_MEMORY,
            certainty="M",
        ),
    ),
    "sucrase-isomaltase-deficiency": _everything(
        "ask", "Sucrase-isomaltase deficiency: every sugar needs the doctor's word.", _CP, "CP"
    ),
    "other-sugar-disorder": _everything(
        "ask", "A disorder of sugar metabolism: every sugar needs the doctor's word.", _CP, "CP"
    ),
    # ---------------------------------------------------------------- coeliac, allergy
    "coeliac-disease": (
        Rule(
            level="block",
            traits=("gluten",),
            reason="Coeliac disease: no food with gluten.",
            source=_CP,
            certainty="CP",
        ),
    ),
    "coeliac-test-positive": (
        Rule(
            level="ask",
            reason="The coeliac blood test is positive: a specialist settles it first.",
            source="NICE NG20",
            certainty="V",
        ),
        Rule(
            level="block",
            traits=("gluten",),
            reason="The coeliac blood test is positive: no challenge with gluten.",
            source=_CP,
            certainty="CP",
        ),
    ),
    "coeliac-test-missing": _everything(
        "ask",
        "No result of a coeliac blood test. Restriction cuts wheat, so the test comes before.",
        "NICE NG20",
        "V",
    ),
    "coeliac-test-without-gluten": _everything(
        "ask",
        "The coeliac blood test is valid only on a diet with gluten, before the diet is changed.",
        "NICE NG20",
        "V",
    ),
    "sulphite-asthma": (
        Rule(
            level="block",
            traits=("sulphites",),
            reason="Asthma with sulphite sensitivity: no sulphited food.",
            source=_MEMORY,
            certainty="M",
        ),
    ),
    "pollen-food-syndrome": (
        Rule(
            level="block",
            traits=("pollen-fruit", "celery"),
            reason="Pollen-food syndrome: another food is chosen.",
            source=_MEMORY,
            certainty="M",
        ),
    ),
    "latex-allergy": (
        Rule(
            level="block",
            traits=("latex-fruit",),
            reason="Latex allergy: fruit that cross-reacts is not used.",
            source=_MEMORY,
            certainty="M",
        ),
    ),
    # ---------------------------------------------------------------- now ill
    "fever": _everything("block", "Fever: no challenge while it lasts.", _CP, "CP"),
    "acute-gastroenteritis": _everything(
        "block",
        "Acute gastroenteritis: no challenge until seven days without symptoms have passed.",
        _CP,
        "CP",
    ),
    "antibiotics": _everything(
        "block",
        "Antibiotics now or in the last four weeks: the challenges are put off.",
        "exclusion window of the trials, 4 weeks",
        "V",
    ),
    # ---------------------------------------------------------------- who should not restrict
    "eating-disorder": _everything(
        "ask", "Eating disorder: restriction is not suitable; usually the diet is freed.", _AGA, "V"
    ),
    "past-eating-disorder": _everything(
        "ask",
        "An eating disorder in the past.",
        "J Neurogastroenterol Motil 2022;28:343",
        "V",
    ),
    "food-anxiety": _everything(
        "ask", "High anxiety about food.", "J Neurogastroenterol Motil 2022;28:343", "V"
    ),
    "underweight": _everything("ask", "Underweight: restriction is not suitable.", _AGA, "V"),
    "food-insecurity": _everything(
        "ask", "Food insecurity: restriction is not suitable.", _AGA, "V"
    ),
    "uncontrolled-psychiatric-disorder": _everything(
        "ask", "Uncontrolled psychiatric disorder: restriction is not suitable.", _AGA, "V"
    ),
    "pregnancy": _everything("ask", "Pregnancy.", _CP, "CP"),
    "breastfeeding": _everything("ask", "Breastfeeding.", _CP, "CP"),
    "under-18": _everything("ask", "Under 18: this protocol is for adults.", _CP, "CP"),
    # ---------------------------------------------------------------- other illness
    "diabetes": (
        Rule(
            level="ask",
            groups=("fructose",),
            traits=("sugar",),
            reason="Diabetes: pure sugars, honey, agave and juice need the doctor's word.",
            source=_CP,
            certainty="CP",
        ),
    ),
    "inflammatory-bowel-disease": _everything("ask", "Inflammatory bowel disease.", _CP, "CP"),
    "bowel-surgery": _everything("ask", "Bowel surgery.", _CP, "CP"),
    "stoma": _everything("ask", "Stoma.", _CP, "CP"),
    "short-bowel": _everything("ask", "Short bowel.", _CP, "CP"),
    "stricture": _everything("ask", "Narrowing of the bowel.", _CP, "CP"),
    "kidney-disease": (
        Rule(
            level="ask",
            groups=("fructose",),
            traits=("potassium", "fruit"),
            reason="Kidney disease: beans, mushrooms, fruit and fructose need the doctor's word.",
            source=_CP,
            certainty="CP",
        ),
    ),
    "gout": (
        Rule(
            level="ask",
            groups=("fructose",),
            traits=("potassium", "fruit"),
            reason="Gout: beans, mushrooms, fruit and fructose need the doctor's word.",
            source=_CP,
            certainty="CP",
        ),
    ),
    # ---------------------------------------------------------------- the record itself
    "no-diagnosis": _everything(
        "ask", "No doctor's diagnosis of irritable bowel syndrome is recorded.", _NICE_IBS, "V"
    ),
    "restriction-did-not-help": _everything(
        "block",
        "The restriction did not help: it is stopped, and challenges would tell nothing.",
        f"{_AGA}; Whelan 2018, doi 10.1111/jhn.12530",
        "V",
    ),
    "restriction-not-judged": _everything(
        "ask",
        "Not recorded whether the restriction helped; challenges tell only after one that did.",
        "Whelan 2018, doi 10.1111/jhn.12530",
        "V",
    ),
    "restriction-small-change": _everything(
        "note",
        "The IBS-SSS fell by less than 50 points, the smallest reliable improvement.",
        "Francis 1997",
        "V",
    ),
    "restriction-short": _everything(
        "note", "Less than two weeks of restriction: benefit takes 2-6 weeks.", "ACG", "V"
    ),
    "restriction-long": _everything(
        "note",
        "Over eight weeks of restriction: nobody should stay on the strict phase for long.",
        "Tuck & Barrett 2017, doi 10.1111/jgh.13687",
        "V",
    ),
    "new-medicine": _everything("note", "A new medicine in the last four weeks.", _CP, "CP"),
    "medicine-with-sorbitol-or-lactose": (
        Rule(
            level="note",
            groups=("sorbitol", "lactose"),
            reason="A medicine with sorbitol or lactose as filler: keep it unchanged.",
            source=_CP,
            certainty="CP",
        ),
    ),
    "unknown-allergy": _everything(
        "ask",
        "An allergy that the table of foods does not know: ask which foods are excluded.",
        "copy of ASCIA's text: allergy challenges need trained staff",
        "V",
    ),
    "doctor-said-no": _everything("block", "The doctor was asked and advised against.", _CP, "CP"),
    # ---------------------------------------------------------------- alarm features
    "weight-loss": _alarm("unintended weight loss", _NICE_IBS, "V"),
    "rectal-bleeding": _alarm("rectal bleeding", _NICE_IBS, "V"),
    "family-bowel-or-ovarian-cancer": _alarm(
        "bowel or ovarian cancer in the family", _NICE_IBS, "V"
    ),
    "family-inflammatory-bowel-disease": _alarm(
        "inflammatory bowel disease in the family", _REVIEW, "V"
    ),
    "changed-bowel-habit-over-60": _alarm(
        "looser or more frequent stools for over six weeks at over 60", _NICE_IBS, "V"
    ),
    "anaemia": _alarm("anaemia", _NICE_IBS, "V"),
    "abdominal-or-rectal-mass": _alarm("abdominal or rectal mass", _NICE_IBS, "V"),
    "raised-inflammatory-markers": _alarm("raised inflammatory markers", _NICE_IBS, "V"),
    "night-time-symptoms": _alarm("symptoms that wake at night", "review, PMC8473929", "V"),
    "new-onset-over-50": _alarm("new onset over 50", _MEMORY, "M"),
    "persistent-vomiting": _alarm("persistent vomiting", _MEMORY, "M"),
    "jaundice": _alarm("jaundice", _MEMORY, "M"),
    "severe-or-worsening-pain": _alarm("severe or worsening pain", _MEMORY, "M"),
}

ALLERGENS: Final[dict[str, tuple[str, ...]]] = {
    "milk": ("milk",),
    "dairy": ("milk",),
    "casein": ("milk",),
    "whey": ("milk",),
    "cheese": ("milk",),
    "wheat": ("gluten",),
    "gluten": ("gluten",),
    "rye": ("gluten",),
    "barley": ("gluten",),
    "spelt": ("gluten",),
    "cereal": ("gluten",),
    "nut": ("tree-nuts",),
    "almond": ("tree-nuts", "pollen-fruit"),
    "hazelnut": ("tree-nuts",),
    "walnut": ("tree-nuts",),
    "cashew": ("tree-nuts",),
    "pistachio": ("tree-nuts",),
    "peanut": ("legume",),
    "lupin": ("legume",),
    "legume": ("legume",),
    "pulse": ("legume",),
    "chickpea": ("legume",),
    "lentil": ("legume",),
    "bean": ("legume",),
    "pea": ("legume",),
    "soya": ("legume",),
    "soy": ("legume",),
    "celery": ("celery", "pollen-fruit"),
    "sulphite": ("sulphites",),
    "sulfite": ("sulphites",),
    "mushroom": ("mushroom",),
    "onion": ("allium",),
    "garlic": ("allium",),
    "allium": ("allium",),
    "leek": ("allium",),
    "honey": ("bee-product",),
    "bee": ("bee-product",),
    "propolis": ("bee-product",),
    "latex": ("latex-fruit",),
    "mango": ("latex-fruit",),
    "avocado": ("latex-fruit",),
    "banana": ("latex-fruit",),
    "kiwi": ("latex-fruit", "pollen-fruit"),
    "pollen": ("pollen-fruit", "celery"),
    "birch": ("pollen-fruit", "celery"),
    "apple": ("pollen-fruit",),
    "pear": ("pollen-fruit",),
    "peach": ("pollen-fruit",),
    "plum": ("pollen-fruit",),
    "cherry": ("pollen-fruit",),
    "apricot": ("pollen-fruit",),
    "aspartame": ("aspartame",),
    "fruit": ("fruit", "latex-fruit", "pollen-fruit"),
    # on the list of allergens of Regulation (EU) 1169/2011, Annex II, and in no food of the table
    "fish": (),
    "egg": (),
    "crustacean": (),
    "shellfish": (),
    "prawn": (),
    "shrimp": (),
    "crab": (),
    "lobster": (),
    "mussel": (),
    "mollusc": (),
    "sesame": (),
    "mustard": (),
}
"""Words in an allergy, singular, and the traits of food they exclude, cross-reactions included."""

EXCLUSIONS: Final[dict[str, str]] = {
    "vegan": "animal",
    "gluten-free": "gluten",
    "milk-free": "milk",
    "nut-free": "tree-nuts",
    "legume-free": "legume",
    "mushroom-free": "mushroom",
    "allium-free": "allium",
    "celery-free": "celery",
    "sulphite-free": "sulphites",
    "aspartame-free": "aspartame",
    "honey-free": "bee-product",
}
"""Dietary exclusion -> the trait of food it leaves out."""
