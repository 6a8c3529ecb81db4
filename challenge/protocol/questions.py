"""The screening questions in plain words, in the order in which they are asked."""

from __future__ import annotations

from typing import Final

ALARM_QUESTIONS: Final[dict[str, str]] = {
    "weight-loss": "weight lost without meaning to",
    "rectal-bleeding": "bleeding from the bowel",
    "family-bowel-or-ovarian-cancer": "bowel or ovarian cancer in the family",
    "family-inflammatory-bowel-disease": "inflammatory bowel disease in the family",
    "changed-bowel-habit-over-60": "over 60, looser or more frequent stools for over six weeks",
    "anaemia": "anaemia",
    "abdominal-or-rectal-mass": "a lump in the belly or the back passage",
    "raised-inflammatory-markers": "raised inflammatory markers in blood or stool",
    "night-time-symptoms": "symptoms that wake at night",
    "new-onset-over-50": "symptoms that first began after 50",
    "persistent-vomiting": "vomiting that does not stop",
    "jaundice": "jaundice",
    "severe-or-worsening-pain": "severe pain, or pain that gets worse",
}

CONDITION_QUESTIONS: Final[dict[str, dict[str, str]]] = {
    "Metabolism and other illness": {
        "hereditary-fructose-intolerance": "hereditary fructose intolerance, known",
        "lifelong-aversion-to-sweet-food": "a lifelong aversion to sweet food or fruit",
        "family-hereditary-fructose-intolerance": "hereditary fructose intolerance in the family",
        "galactosaemia": "galactosaemia",
        "phenylketonuria": "phenylketonuria",
        "g6pd-deficiency": "G6PD deficiency",
        "sucrase-isomaltase-deficiency": "sucrase-isomaltase deficiency",
        "other-sugar-disorder": "another disorder of sugar metabolism",
        "diabetes": "diabetes",
        "kidney-disease": "kidney disease",
        "gout": "gout",
    },
    "Bowel": {
        "coeliac-disease": "coeliac disease",
        "inflammatory-bowel-disease": "inflammatory bowel disease",
        "bowel-surgery": "bowel surgery",
        "stoma": "a stoma",
        "short-bowel": "a short bowel",
        "stricture": "a narrowing of the bowel",
    },
    "Allergic illness (foods are asked about separately)": {
        "sulphite-asthma": "asthma with sulphite sensitivity",
        "pollen-food-syndrome": "itching mouth from raw fruit (pollen-food syndrome)",
        "latex-allergy": "latex allergy",
    },
    "Eating, life and mind": {
        "eating-disorder": "an eating disorder now",
        "past-eating-disorder": "an eating disorder in the past",
        "food-anxiety": "high anxiety about food",
        "underweight": "underweight",
        "food-insecurity": "not enough money or access for food",
        "uncontrolled-psychiatric-disorder": "a mental illness that is not under control",
        "pregnancy": "pregnancy",
        "breastfeeding": "breastfeeding",
        "under-18": "under 18 years",
    },
    "Now": {
        "fever": "fever",
        "acute-gastroenteritis": "acute gastroenteritis, or less than 7 days since",
        "antibiotics": "antibiotics now or in the last four weeks",
        "new-medicine": "a new medicine in the last four weeks",
        "medicine-with-sorbitol-or-lactose": "a medicine with sorbitol or lactose as filler",
    },
}
