"""What the analysis says: every code has a sentence in every language, and no word is left over."""

from __future__ import annotations

import ast
import datetime as dt
import re
import string
from pathlib import Path

import pytest

import challenge
from challenge.practice.unclear import KINDS
from challenge.wording import languages, load_words, statement

PACKAGE = Path(challenge.__file__).parent
ENGLISH = load_words("en").table["said"]
SAMPLES = {
    "points": 1.26, "signed": -0.34, "fine": 0.456, "short": 2.0, "percent": 0.126,
    "pvalue": 0.0312, "grams": 2.5, "date": dt.date(2026, 3, 4), "days": 2, "pairs": 1,
    "symptom": "pain", "event": "illness", "condition": "gout", "group": "lactose",
    "list": (statement("paired-test"),), "groups": ("lactose", "gos"),
    "dates": (dt.date(2026, 3, 4), dt.date(2026, 3, 5)), "": 3,
}  # fmt: skip


def texts(node: ast.AST) -> set[str]:
    """Patterns of every text within a piece of code; a gap in it stands for anything."""
    if isinstance(node, ast.JoinedStr):
        parts = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
        return {"".join(r"[\w-]+" if part is None else re.escape(part) for part in parts)}
    if isinstance(node, ast.Constant):
        return {re.escape(node.value)} if isinstance(node.value, str) else set()
    return set().union(*(texts(child) for child in ast.iter_child_nodes(node)))


def modules() -> list[ast.Module]:
    return [
        ast.parse(path.read_text("utf-8"))
        for folder in ("analysis", "letter")
        for path in (PACKAGE / folder).glob("*.py")
    ]


def test_every_statement_has_a_sentence():
    calls = [
        node
        for module in modules()
        for node in ast.walk(module)
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "statement"
    ]
    patterns = set().union(*(texts(call.args[0]) for call in calls))
    assert len(patterns) > 40
    missing = {p for p in patterns if not any(re.fullmatch(p, code) for code in ENGLISH)}
    assert not missing


def test_no_sentence_is_left_over():
    # a pattern without any fixed letters would fit every code
    patterns = {p for module in modules() for p in texts(module) if re.match(r"[a-z]", p)}
    left = {code for code in ENGLISH if not any(re.fullmatch(p, code) for p in patterns)}
    assert not left


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("code", ENGLISH)
def test_each_sentence_can_be_said_in_each_language(language, code):
    words = load_words(language)
    gaps = [(name, form) for _, name, form, _ in string.Formatter().parse(ENGLISH[code]) if name]
    said = words.tell(statement(code, **{name: SAMPLES[form or ""] for name, form in gaps}))
    assert said and "{" not in said
    if language != "en" and re.search(r"[a-z]{3}", re.sub(r"{.*?}", "", ENGLISH[code])):
        assert words.table["said"][code] != ENGLISH[code]


def test_numbers_are_rounded_where_they_are_said():
    told = statement("unsettled", rise=2.46, day=dt.date(2026, 3, 4))
    assert "2.5 points" in str(told)
    assert "2,5 Punkte" in load_words("de").tell(told)
    assert "4. März 2026" in load_words("de").tell(told).replace("\u00a0", " ")
    assert told.as_data() == {
        "code": "unsettled", "values": {"rise": 2.46, "day": "2026-03-04"},
    }  # fmt: skip


def test_statements_stand_inside_statements():
    chosen = statement("spread", first=statement("chance-step", step=2, p=0.45),
                       second=statement("chance-none", step=0, p=0.3))  # fmt: skip
    assert str(chosen).endswith("(step 2: 45%; none: 30%).")
    assert chosen.as_data()["values"]["first"] == {
        "code": "chance-step", "values": {"step": 2, "p": 0.45},
    }  # fmt: skip


def test_every_kind_of_unclear_has_a_sentence():
    assert set(KINDS) <= set(ENGLISH)
