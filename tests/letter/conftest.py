from __future__ import annotations

import datetime as dt

import pytest

from challenge.letter.client import build_client_letter
from challenge.letter.content import Letter
from challenge.letter.doctor import build_doctor_letter
from challenge.letter.people import Background, Recipient, Sender
from challenge.wording import load_words

DATE = dt.date(2026, 5, 4)
SENDER = Sender(
    letterhead=("Invented practice", "1 Sample Street"),
    signature=("A. Sample, dietitian",),
    contact="an invented number",
)


def write(kind: str, analysis, *, language="en", decisions=(), name="Sam Sample", **more) -> Letter:
    words = load_words(language)
    shared = {
        "decisions": decisions, "date": DATE, "words": words, "sender": SENDER,
        "recipient": Recipient(name=name, address=("2 Example Road",)),
    }  # fmt: skip
    if kind == "client":
        return build_client_letter(analysis, **{"picture_alt": "A picture.", **shared, **more})
    return build_doctor_letter(
        analysis,
        background=Background(reason="Bloating.", alarm="Asked, none.", coeliac="Negative."),
        **{
            "picture_alts": {"timeline": "A timeline.", "small_multiples": "Panels."},
            **shared,
            **more,
        },
    )


@pytest.fixture(scope="session")
def drawn():
    """A small picture in both forms, for letters whose pictures do not matter."""
    from challenge.figures.style import new_figure, to_png, to_svg
    from challenge.letter.content import PictureFile

    figure = new_figure(20, 10)
    picture = PictureFile(svg=to_svg(figure), png=to_png(figure, 50))
    return {"timeline": picture, "small_multiples": picture}
