"""A letter as an editable .docx with real headings, table headers and alternative texts."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from challenge.letter.content import (
    Block,
    Bullets,
    Heading,
    Letter,
    NewPage,
    Paragraph,
    Picture,
    PictureFile,
    Table,
)

if TYPE_CHECKING:
    from docx.document import Document

_PAPER_MM: Final = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
_SIDE_MM: Final = 22.5
_FONT: Final = "Arial"
_LANGUAGE: Final = {"en": "en-GB", "de": "de-DE"}
_EARLIEST: Final = (1980, 1, 1, 0, 0, 0)


def render_docx(letter: Letter, pictures: Mapping[str, PictureFile], *, date: dt.date) -> bytes:
    """Return the letter as .docx; the same bytes for the same letter.

    Parameters
    ----------
    letter
        What it says.
    pictures
        The figures it names.
    date
        Date written into the file's properties, so that they do not depend on the clock.
    """
    import docx

    document = docx.Document()
    _prepare(document, letter, date)
    _lines(document, letter.letterhead, bold_first=True)
    _lines(document, letter.recipient)
    _lines(document, letter.reference)
    document.add_heading(letter.title, level=1)
    document.add_paragraph(letter.salutation)
    for block in letter.blocks[: letter.tail()]:
        _add(document, block, letter, pictures)
    before = len(document.paragraphs)
    for block in letter.blocks[letter.tail() :]:
        _add(document, block, letter, pictures)
    for paragraph in document.paragraphs[before:]:
        paragraph.paragraph_format.keep_with_next = True
    closing = document.add_paragraph(letter.closing)
    closing.paragraph_format.keep_with_next = True
    _lines(document, letter.signature)
    for block in letter.annex:
        _add(document, block, letter, pictures)
    held = io.BytesIO()
    document.save(held)
    return _fixed_times(held.getvalue())


def _prepare(document: Document, letter: Letter, date: dt.date) -> None:
    from docx.shared import Mm, Pt

    section = document.sections[0]
    width, height = _PAPER_MM[letter.paper]
    section.page_width, section.page_height = Mm(width), Mm(height)
    section.left_margin = section.right_margin = Mm(_SIDE_MM)
    section.top_margin, section.bottom_margin = Mm(25), Mm(20)
    _plain_caption(document)
    sizes = {"Normal": 9 if letter.kind == "doctor" else 11}
    sizes |= {f"Heading {n}": sizes["Normal"] + extra for n, extra in ((1, 5), (2, 2), (3, 1))}
    for name, size in sizes.items():
        style = document.styles[name]
        style.font.size = Pt(size)
        _set_font(style)
    normal = document.styles["Normal"]
    normal.paragraph_format.space_after = Pt(5)
    normal.paragraph_format.line_spacing = 1.0
    for name in sizes:
        if name != "Normal":
            document.styles[name].paragraph_format.space_before = Pt(8)
            document.styles[name].paragraph_format.space_after = Pt(2)
    _set_language(normal, _LANGUAGE.get(letter.language, letter.language))
    told = document.core_properties
    told.title, told.author, told.comments = letter.title, "", ""
    told.language = _LANGUAGE.get(letter.language, letter.language)
    told.created = told.modified = dt.datetime.combine(date, dt.time(12))
    head = section.header.paragraphs[0]
    if letter.draft:
        head.add_run(letter.draft).bold = True
        head.add_run("\n")
    head.add_run(letter.running)
    _page_numbers(section.footer.paragraphs[0], letter.page_label)


def _plain_caption(document: Document) -> None:
    from docx.shared import Pt

    style = document.styles["Caption"]
    style.font.size, style.font.bold, style.font.italic = Pt(9), False, True
    style.paragraph_format.space_before = Pt(4)
    style.paragraph_format.space_after = Pt(3)
    _set_font(style)


def _set_font(style: Any) -> None:
    from docx.oxml.ns import qn
    from docx.shared import RGBColor

    style.font.name = _FONT
    style.font.color.rgb = RGBColor(0, 0, 0)
    fonts = style.element.get_or_add_rPr().get_or_add_rFonts()
    for name in list(fonts.attrib):
        if name.endswith("Theme"):
            del fonts.attrib[name]
    for script in ("w:ascii", "w:hAnsi", "w:cs", "w:eastAsia"):
        fonts.set(qn(script), _FONT)


def _set_language(style: Any, language: str) -> None:
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    element = OxmlElement("w:lang")
    element.set(qn("w:val"), language)
    style.element.get_or_add_rPr().append(element)


def _page_numbers(paragraph: Any, label: str) -> None:
    """Write ``Page x of y`` with fields that the word processor fills in."""
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    paragraph.alignment = WD_ALIGN_PARAGRAPH.CENTER
    before, _, rest = label.partition("{page}")
    middle, _, after = rest.partition("{total}")
    for text, field in ((before, "PAGE"), (middle, "NUMPAGES"), (after, "")):
        if text:
            paragraph.add_run(text)
        if field:
            element = OxmlElement("w:fldSimple")
            element.set(qn("w:instr"), field)
            paragraph._p.append(element)


def _lines(document: Document, lines: tuple[str, ...], *, bold_first: bool = False) -> None:
    if not lines:
        return
    paragraph = document.add_paragraph()
    paragraph.paragraph_format.keep_together = True
    for place, line in enumerate(lines):
        run = paragraph.add_run(line)
        run.bold = True if bold_first and place == 0 else None
        if place + 1 < len(lines):
            run.add_break()


def _add(
    document: Document, block: Block, letter: Letter, pictures: Mapping[str, PictureFile]
) -> None:
    from docx.enum.text import WD_BREAK

    if isinstance(block, Heading):
        document.add_heading(block.text, level=block.level + 1)
    elif isinstance(block, Paragraph):
        paragraph = document.add_paragraph()
        if block.lead:
            paragraph.add_run(block.lead).bold = True
            paragraph.add_run(" ")
        paragraph.add_run(block.text)
    elif isinstance(block, Bullets):
        for item in block.items:
            document.add_paragraph(item, style="List Bullet")
    elif isinstance(block, Table):
        _add_table(document, block, letter)
    elif isinstance(block, Picture):
        _add_picture(document, block, letter, pictures[block.name])
    elif isinstance(block, NewPage):
        document.add_paragraph().add_run().add_break(WD_BREAK.PAGE)


def _text_width_mm(letter: Letter) -> float:
    return _PAPER_MM[letter.paper][0] - 2 * _SIDE_MM


def _caption(document: Document, text: str, *, before: bool) -> None:
    paragraph = document.add_paragraph(style="Caption")
    paragraph.add_run(text)
    paragraph.paragraph_format.keep_with_next = before


def _add_table(document: Document, block: Table, letter: Letter) -> None:
    from docx.shared import Mm, Pt

    _caption(document, block.caption, before=True)
    table = document.add_table(rows=1 + len(block.rows), cols=len(block.header))
    table.style = "Table Grid"
    table.autofit = False
    _narrow_cells(table)
    widths = [Mm(share * _text_width_mm(letter)) for share in block.widths]
    size = Pt(7.5) if block.small else Pt(10)
    for column, width in zip(table.columns, widths, strict=True):
        column.width = width
    # rows of cells by hand: table.cell() walks the whole table for every cell
    for place, (row, texts) in enumerate(zip(table.rows, (block.header, *block.rows), strict=True)):
        _mark_row(row, header=place == 0)
        for cell, text, width in zip(row.cells, texts, widths, strict=True):
            cell.width = width
            paragraph = cell.paragraphs[0]
            paragraph.paragraph_format.space_after = Pt(1)
            run = paragraph.add_run(text)
            run.font.size = size
            run.bold = True if place == 0 else None
    gap = document.add_paragraph()  # a word processor joins tables that touch
    gap.paragraph_format.space_after = Pt(0)
    gap.paragraph_format.line_spacing = Pt(6)


def _narrow_cells(table: Any) -> None:
    """Leave a millimetre at the sides of each cell, so that ten columns fit a page."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    margins = OxmlElement("w:tblCellMar")
    for side in ("left", "right"):
        element = OxmlElement(f"w:{side}")
        element.set(qn("w:w"), "57")
        element.set(qn("w:type"), "dxa")
        margins.append(element)
    # the schema wants the margins before tblLook
    table._tbl.tblPr.insert_element_before(margins, "w:tblLook", "w:tblCaption")


def _mark_row(row: Any, *, header: bool) -> None:
    from docx.oxml import OxmlElement

    properties = row._tr.get_or_add_trPr()
    properties.append(OxmlElement("w:cantSplit"))
    if header:
        properties.append(OxmlElement("w:tblHeader"))


def _add_picture(document: Document, block: Picture, letter: Letter, picture: PictureFile) -> None:
    from docx.shared import Mm

    # as in the PDF
    share = 1.0 if letter.kind == "doctor" and block.name == "timeline" else 0.84
    shape = document.add_picture(io.BytesIO(picture.png), width=Mm(share * _text_width_mm(letter)))
    document.paragraphs[-1].paragraph_format.keep_with_next = True
    properties = shape._inline.docPr
    properties.set("descr", block.alt)
    properties.set("name", block.name)
    _caption(document, block.caption, before=False)


def _fixed_times(made: bytes) -> bytes:
    """Rewrite the archive with one date for every member; python-docx writes the clock's."""
    held = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(made)) as old,
        zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in sorted(old.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            member = zipfile.ZipInfo(name, _EARLIEST)
            member.compress_type = zipfile.ZIP_DEFLATED
            member.create_system = 0
            new.writestr(member, old.read(name))
    return held.getvalue()
