"""The files themselves: the same bytes twice, accessible, every script drawn right or refused."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from docx import Document

from challenge.errors import ChallengeError
from challenge.letter.content import Heading
from challenge.letter.docx import render_docx
from challenge.letter.pdf import render_pdf
from tests.letter.builders import make_analysis
from tests.letter.conftest import DATE, write
from tests.letter.texts import docx_text, squeeze

LONG = "Bartholomäa-Wilhelmine von und zu Musterhausen-Beispielfelde-Nord"
NAMES = {
    "Greek": "Αθηνά Παπαδοπούλου",
    "Vietnamese": "Nguyễn Thị Minh Khai",
    "Arabic": "محمد الأحمد",
    "Polish": "Łukasz Żółć",
    "long": LONG,
    "markup": '#panic("x") $a$ *b* <script>',
}


@pytest.mark.parametrize("kind", ["client", "doctor"])
def test_the_same_letter_gives_the_same_bytes(kind, drawn):
    letter = write(kind, make_analysis())
    assert render_pdf(letter, drawn, date=DATE) == render_pdf(letter, drawn, date=DATE)
    assert render_docx(letter, drawn, date=DATE) == render_docx(letter, drawn, date=DATE)


def test_another_process_gives_the_same_bytes(tmp_path):
    """Order of sets, seeds of hashes and the clock must not matter."""
    script = (
        "import sys, hashlib\n"
        "from tests.letter.builders import make_analysis\n"
        "from tests.letter.conftest import DATE, write\n"
        "from challenge.commands.letter import draw_picture\n"
        "from challenge.letter.docx import render_docx\n"
        "from challenge.letter.pdf import render_pdf\n"
        "from challenge.wording import load_words\n"
        "a = make_analysis(); l = write('client', a)\n"
        "p = {'small_multiples': draw_picture('small_multiples', a, load_words())}\n"
        "for made in (p['small_multiples'].svg, p['small_multiples'].png,\n"
        "             render_pdf(l, p, date=DATE), render_docx(l, p, date=DATE)):\n"
        "    print(hashlib.sha256(made).hexdigest())\n"
    )
    root = Path(__file__).parents[2]
    runs = [
        subprocess.run(
            [sys.executable, "-c", script],
            cwd=root,
            env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin", "PYTHONPATH": str(root)},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]
    assert len(runs[0].split()) == 4


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
def test_names_are_drawn_right(name, drawn, tmp_path):
    letter = write("client", make_analysis(), name=name)
    file = tmp_path / "letter.pdf"
    file.write_bytes(render_pdf(letter, drawn, date=DATE))
    text = subprocess.run(
        ["pdftotext", "-enc", "UTF-8", str(file), "-"], check=True, capture_output=True, text=True
    ).stdout
    # marks of direction are put in around right-to-left text
    text = re.sub("[\u200e\u200f\u202a-\u202e\u2066-\u2069]", "", text)
    line = text.split("1 Sample Street")[1].split("2 Example Road")[0]
    if name == NAMES["Arabic"]:
        # pdftotext turns the two letters of a right-to-left ligature round; all must be there
        letters = [sign for sign in line if "\u0600" <= sign <= "\u06ff"]
        assert sorted(letters) == sorted(squeeze(name))
    else:
        assert squeeze(line) == squeeze(name)
    assert squeeze(name) in docx_text(render_docx(letter, drawn, date=DATE))


def test_a_name_that_no_font_can_draw_is_refused_with_a_remedy(drawn):
    letter = write("client", make_analysis(), name="王小明")
    with pytest.raises(ChallengeError, match=r"--format docx.*--font-dir") as caught:
        render_pdf(letter, drawn, date=DATE)
    assert "王" in caught.value.message
    assert squeeze("王小明") in docx_text(render_docx(letter, drawn, date=DATE))


def test_the_pdf_is_tagged_and_says_so(drawn):
    """ISO 14289-1: an identifier in the metadata, a structure tree, a language, a title."""
    made = render_pdf(write("client", make_analysis()), drawn, date=DATE)
    assert b"pdfuaid:part" in made
    assert b"/MarkInfo" in made
    assert b"/Marked true" in made
    assert re.search(rb"/Lang\s*\(en", made)
    assert b"/DisplayDocTitle true" in made


@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="pdfinfo is not installed")
def test_the_structure_has_headings_table_heads_and_alternative_text(drawn, tmp_path):
    file = tmp_path / "letter.pdf"
    file.write_bytes(render_pdf(write("client", make_analysis()), drawn, date=DATE))
    tree = subprocess.run(
        ["pdfinfo", "-struct", str(file)], check=True, capture_output=True, text=True
    ).stdout
    for tag in ("H1", "H2", "Table", "THead", "TH", "TD", "Figure", "Caption", "L ", "LI"):
        assert re.search(rf"^\s*{tag}", tree, re.MULTILINE), tag


def test_the_docx_has_real_headings_header_rows_and_alternative_text(drawn):
    letter = write("doctor", make_analysis())
    content = render_docx(letter, drawn, date=DATE)
    document = Document(io.BytesIO(content))
    titles = [p.text for p in document.paragraphs if p.style.name.startswith("Heading")]
    model = [b.text for b in (*letter.blocks, *letter.annex) if isinstance(b, Heading)]
    assert titles == [letter.title, *model]
    for table in document.tables:
        assert table.rows[0]._tr.trPr.xpath("w:tblHeader")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        body = archive.read("word/document.xml").decode()
        styles = archive.read("word/styles.xml").decode()
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert body.count('descr="') == len(letter.pictures())
    assert 'descr="A timeline."' in body
    assert '<w:lang w:val="en-GB"' in styles
    assert document.core_properties.title == letter.title


def test_draft_code_date_and_page_stand_on_every_page(drawn):
    document = Document(io.BytesIO(render_docx(write("client", make_analysis()), drawn, date=DATE)))
    section = document.sections[0]
    head = section.header.paragraphs[0].text
    assert "DRAFT" in head
    assert "juniper" in head
    assert "4\u00a0May\u00a02026" in head
    xml = section.footer._element.xml
    assert "NUMPAGES" in xml
    assert 'w:instr="PAGE"' in xml


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("us-letter", (612, 792))])
@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="pdfinfo is not installed")
def test_paper_size(paper, points, drawn, tmp_path):
    from dataclasses import replace

    letter = replace(write("client", make_analysis()), paper=paper)
    file = tmp_path / "letter.pdf"
    file.write_bytes(render_pdf(letter, drawn, date=DATE))
    told = subprocess.run(["pdfinfo", str(file)], check=True, capture_output=True, text=True).stdout
    width, height = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", told).groups()
    assert (round(float(width)), round(float(height))) == points


@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="pdfinfo is not installed")
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
@pytest.mark.parametrize("language", ["en", "de"])
def test_the_doctors_letter_proper_fits_one_page(language, drawn, tmp_path):
    letter = write("doctor", make_analysis(), language=language)
    file = tmp_path / "letter.pdf"
    file.write_bytes(render_pdf(letter, drawn, date=DATE))
    first = subprocess.run(
        ["pdftotext", "-l", "1", str(file), "-"], check=True, capture_output=True, text=True
    ).stdout
    assert letter.signature[0] in first
