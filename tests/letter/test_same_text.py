"""PDF and .docx carry the same text, word for word."""

from __future__ import annotations

import shutil

import pytest

from challenge.letter.docx import render_docx
from challenge.letter.pdf import render_pdf
from tests.letter.builders import ALL_UNCLEAR, TYPICAL, empty_analysis, make_analysis
from tests.letter.conftest import DATE, write
from tests.letter.texts import docx_text, pdf_text, squeeze

pytestmark = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext (poppler) is not installed"
)

CASES = {
    "typical": make_analysis(),
    "nothing": empty_analysis(),
    "all unclear": make_analysis(ALL_UNCLEAR),
    "one group": make_analysis(TYPICAL[:1]),
    "twelve cycles": make_analysis(TYPICAL[:6], cycles=12),
}


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("kind", ["client", "doctor"])
@pytest.mark.parametrize("case", CASES)
def test_pdf_and_docx_say_the_same(case, kind, language, drawn, tmp_path):
    letter = write(kind, CASES[case], language=language)
    pdf = pdf_text(render_pdf(letter, drawn, date=DATE), letter, tmp_path)
    assert pdf == docx_text(render_docx(letter, drawn, date=DATE))


def test_the_text_is_that_of_the_model(drawn, tmp_path):
    letter = write("client", CASES["typical"])
    text = pdf_text(render_pdf(letter, drawn, date=DATE), letter, tmp_path)
    for block in letter.blocks:
        for said in (getattr(block, "text", ""), *getattr(block, "items", ())):
            assert squeeze(said) in text
