"""The PDF read by libraries that did not write it: what ISO 14289-1 (PDF/UA-1) asks for.

veraPDF, the reference validator, could not be had from the package registries at hand. So the
structure is read with pikepdf, and outloud, an independent checker of the Matterhorn Protocol 1.1,
is run where it is installed (``pip install outloud``; OUTLOUD names the program).
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from itertools import pairwise

import pikepdf
import pytest

from challenge.figures.alt import describe_small_multiples, describe_timeline
from challenge.letter.content import Table
from challenge.letter.pdf import render_pdf
from challenge.wording import load_words
from tests.letter.builders import ALL_UNCLEAR, TYPICAL, make_analysis
from tests.letter.conftest import DATE, write
from tests.letter.texts import squeeze

OUTLOUD = os.environ.get("OUTLOUD") or shutil.which("outloud")
CASES = {
    "typical": make_analysis(),
    "unclear": make_analysis(ALL_UNCLEAR),
    "12 cycles": make_analysis(TYPICAL[:6], cycles=12),
}


@pytest.fixture(params=["client-en", "client-de", "doctor-en", "doctor-de"])
def made(request, drawn):
    kind, language = request.param.split("-")
    letter = write(kind, CASES["12 cycles" if kind == "doctor" else "typical"], language=language)
    return letter, pikepdf.open(io.BytesIO(render_pdf(letter, drawn, date=DATE)))


def elements(node: pikepdf.Object, above: tuple[str, ...] = ()) -> Iterator[tuple]:
    """Every element of the structure with the tags above it."""
    if isinstance(node, pikepdf.Array):
        for child in node:
            yield from elements(child, above)
    elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
        tag = str(node.S).lstrip("/")
        yield tag, node, above
        if "/K" in node:
            yield from elements(node.K, (*above, tag))


def attribute(element: pikepdf.Object, name: str) -> str | None:
    given = element.get("/A", pikepdf.Array())
    for item in given if isinstance(given, pikepdf.Array) else [given]:
        if isinstance(item, pikepdf.Dictionary) and name in item:
            return str(item[name])
    return None


def test_the_document_says_what_it_is(made):
    """Clauses 5 and 7.1: identifier, tags, language, a title that is shown."""
    letter, pdf = made
    assert pdf.Root.MarkInfo.Marked
    assert not pdf.Root.MarkInfo.get("/Suspects", False)
    assert str(pdf.Root.Lang).startswith(letter.language)
    assert pdf.Root.ViewerPreferences.DisplayDocTitle
    with pdf.open_metadata() as about:
        assert about["pdfuaid:part"] == "1"
        assert about["dc:title"] == letter.title
    assert not pdf.is_encrypted


def test_headings_descend_by_one_and_start_at_one(made):
    """Clause 7.4.2."""
    _, pdf = made
    levels = [
        int(tag[1]) for tag, _, _ in elements(pdf.Root.StructTreeRoot.K)
        if re.fullmatch(r"H[1-6]", tag)
    ]  # fmt: skip
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_every_table_has_header_cells_with_a_scope(made):
    """Clause 7.5."""
    letter, pdf = made
    tables = [b for b in (*letter.blocks, *letter.annex) if isinstance(b, Table)]
    found = list(elements(pdf.Root.StructTreeRoot.K))
    assert sum(tag == "Table" for tag, _, _ in found) == len(tables)
    heads = [element for tag, element, _ in found if tag == "TH"]
    assert len(heads) == sum(len(table.header) for table in tables)
    assert {attribute(head, "/Scope") for head in heads} == {"/Column"}
    cells = sum(tag == "TD" for tag, _, _ in found)
    assert cells == sum(len(row) for table in tables for row in table.rows)
    for tag, _, above in found:
        if tag in ("TH", "TD"):
            assert above[-1] == "TR"
            assert "Table" in above


def test_every_figure_has_its_alternative_text(made):
    """Clause 7.3."""
    letter, pdf = made
    figures = [e for tag, e, _ in elements(pdf.Root.StructTreeRoot.K) if tag == "Figure"]
    assert [str(figure.Alt) for figure in figures] == [p.alt for p in letter.pictures()]


def test_all_content_is_tagged_or_an_artifact_and_fonts_are_embedded(made):
    """Clauses 7.1 and 7.21: every text operator stands in marked content."""
    _, pdf = made
    for page in pdf.pages:
        assert page.obj.Tabs == "/S" or "/Annots" not in page.obj
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("BDC", "BMC"):
                depth += 1
            elif name == "EMC":
                depth -= 1
            elif name in ("Tj", "TJ", "'", '"', "Do"):
                assert depth > 0, operands
    fonts = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary)
             and o.get("/Type") == "/FontDescriptor"]  # fmt: skip
    assert fonts
    for font in fonts:
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(font.keys())


@pytest.mark.skipif(OUTLOUD is None, reason="outloud, a checker of PDF/UA-1, is not installed")
@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("kind", ["client", "doctor"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_an_independent_checker_finds_nothing(case, kind, language, drawn, tmp_path):
    words = load_words(language)
    analysis = CASES[case]
    small = describe_small_multiples(analysis, words)
    more = (
        {"picture_alt": small} if kind == "client"
        else {"picture_alts": {"timeline": describe_timeline(analysis, words),
                               "small_multiples": small}}
    )  # fmt: skip
    letter = write(kind, analysis, language=language, **more)
    file = tmp_path / "letter.pdf"
    file.write_bytes(render_pdf(letter, drawn, date=DATE))
    told = subprocess.run(
        [str(OUTLOUD), "--json", "-", str(file)], capture_output=True, text=True, check=False
    ).stdout
    report = json.loads(told)
    assert findings_that_count(report, letter) == []


def findings_that_count(report, letter) -> list:
    """All but table heads repeated on a new page, which are artifacts by ISO 32000-1, 14.8.2.2."""
    heads = {
        squeeze("".join(b.header)) for b in (*letter.blocks, *letter.annex) if isinstance(b, Table)
    }
    (checked,) = report["results"]
    assert checked["error"] is None
    assert checked["stats"]["elements"] > 50
    found = []
    for finding in checked["findings"]:
        # a header of several lines is told line by line, the first words of each column
        repeated = finding["rule"] == "TAG-002" and all(
            any(squeeze(line)[:8] in head for head in heads)
            for line in finding["evidence"].split("; ")
        )
        if not repeated:
            found.append(finding)
    return found
