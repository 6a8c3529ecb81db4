"""The words of letters and figures, one file per language, and how numbers are written in it."""

from __future__ import annotations

from challenge.wording.statements import Statement, statement
from challenge.wording.words import Words, languages, load_words

__all__ = ["Statement", "Words", "languages", "load_words", "statement"]
