"""The text of a letter, taken from its files by other programs than those that wrote them."""

from __future__ import annotations

import io
import re
import subprocess
from pathlib import Path

from docx import Document
from docx.table import Table
from docx.text.paragraph import Paragraph

from challenge.letter.content import Letter


def squeeze(text: str) -> str:
    """Leave only what is not white space: line breaks differ between the formats."""
    return re.sub(r"\s+", "", text)


def docx_text(content: bytes) -> str:
    document = Document(io.BytesIO(content))
    parts = []
    for item in document.iter_inner_content():
        if isinstance(item, Table):
            parts += [cell.text for row in item.rows for cell in row.cells]
        elif isinstance(item, Paragraph):
            parts.append(item.text)
    return squeeze(" ".join(parts))


def pdf_text(content: bytes, letter: Letter, tmp_path: Path) -> str:
    """Text of the PDF without heads and feet of pages, repeated table heads and bullets."""
    file = tmp_path / "letter.pdf"
    file.write_bytes(content)
    raw = subprocess.run(
        ["pdftotext", "-raw", "-enc", "UTF-8", str(file), "-"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    pages = [squeeze(page) for page in raw.split("\f") if page.strip()]
    head = squeeze(f"{letter.draft}{letter.running}")
    # a long table repeats its head on each new page
    heads = [
        squeeze("".join(b.header)) for b in (*letter.blocks, *letter.annex) if hasattr(b, "rows")
    ]
    said = []
    for number, page in enumerate(pages, start=1):
        foot = squeeze(letter.page_label.format(page=number, total=len(pages)))
        assert page.startswith(head), (page[:80], head)
        assert page.endswith(foot), (page[-80:], foot)
        body = page[len(head) : len(page) - len(foot)]
        if number > 1:
            body = next((body[len(h) :] for h in heads if body.startswith(h)), body)
        said.append(body)
    return "".join(said).replace("•", "")
