"""What a letter says, as plain values: numbers already written out, no markup, no layout.

Both renderers walk this one model, so that the PDF and the editable copy carry the same text.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any, ClassVar, Literal

Kind = Literal["client", "doctor"]
Paper = Literal["a4", "us-letter"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heading:
    """A heading; level 1 is below the title."""

    kind: ClassVar[str] = "heading"
    text: str
    level: int = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Paragraph:
    """A paragraph, with an optional lead-in in bold."""

    kind: ClassVar[str] = "paragraph"
    text: str
    lead: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Bullets:
    """A list."""

    kind: ClassVar[str] = "bullets"
    items: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """A table with a caption and one header row.

    Attributes
    ----------
    widths
        Share of the text width of each column; sums to 1.
    small
        Set in the size of an annex.
    """

    kind: ClassVar[str] = "table"
    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    small: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Picture:
    """A figure, named; its bytes travel beside the letter."""

    kind: ClassVar[str] = "picture"
    name: str
    alt: str
    caption: str


@dataclass(frozen=True, kw_only=True, slots=True)
class NewPage:
    """What follows begins a page."""

    kind: ClassVar[str] = "new_page"


Block = Heading | Paragraph | Bullets | Table | Picture | NewPage


@dataclass(frozen=True, kw_only=True, slots=True)
class PictureFile:
    """One drawn figure in the two forms that the renderers need."""

    svg: bytes = field(repr=False)
    png: bytes = field(repr=False)


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A whole letter.

    Attributes
    ----------
    kind, language, paper
        To whom, in which language code, on which paper.
    title
        First heading and title of the document.
    letterhead, recipient, signature
        Lines of text; any of them may be empty.
    reference
        Lines under the recipient: date, client code, what it is about.
    draft
        What stands on every page of a draft; empty on a signed letter.
    running
        What the head of every page says: client code and date.
    page_label
        ``Page {page} of {total}`` with these two gaps left open.
    salutation, closing
        First and last words; may be empty.
    blocks
        Title to closing.
    annex
        What follows the signature, on pages of its own.
    """

    kind: Kind
    language: str
    paper: Paper
    title: str
    letterhead: tuple[str, ...] = field(repr=False)
    recipient: tuple[str, ...] = field(repr=False)
    reference: tuple[str, ...]
    draft: str
    running: str
    page_label: str
    salutation: str = field(repr=False)
    blocks: tuple[Block, ...] = field(repr=False)
    closing: str
    signature: tuple[str, ...] = field(repr=False)
    annex: tuple[Block, ...] = field(default=(), repr=False)

    def tail(self) -> int:
        """Return the place of the first block that stays on one page with the signature.

        A client's letter keeps its last section whole, a doctor's its last paragraph, so that no
        page holds a signature and a line or two.
        """
        headings = [n for n, block in enumerate(self.blocks) if isinstance(block, Heading)]
        if self.kind == "client" and headings:
            return headings[-1]
        return max(len(self.blocks) - 1, 0)

    def pictures(self) -> tuple[Picture, ...]:
        """Return the pictures in the order in which they stand."""
        return tuple(b for b in (*self.blocks, *self.annex) if isinstance(b, Picture))


def to_plain(value: Any) -> Any:
    """Return a letter or a part of it as dictionaries, lists and text, for a template."""
    if is_dataclass(value) and not isinstance(value, type):
        plain = {f.name: to_plain(getattr(value, f.name)) for f in fields(value)}
        kind = getattr(type(value), "kind", None)
        return {"kind": kind, **plain} if isinstance(kind, str) else plain
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    return value
