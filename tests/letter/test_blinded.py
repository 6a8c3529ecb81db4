"""What letters and report say of a challenge that was blinded, and when it was not as fixed."""

import datetime as dt
from dataclasses import replace

import pytest

from challenge.analysis import result as results
from challenge.letter.content import Paragraph, Table
from challenge.wording import statement

from .builders import make_analysis
from .conftest import write

TEST = results.TestResult(
    symptom="bloating",
    step=None,
    n_pairs=4,
    n_missing=0,
    baseline_mean=2.0,
    challenge_mean=4.1,
    difference=2.1,
    low=1.3,
    high=2.9,
    confidence=0.9,
    method=statement("method-randomisation", orders=16),
    statistic=2.1,
    pvalue=0.125,
    min_pvalue=0.125,
    pvalue_adjusted=None,
)
RESULT = results.BlindedResult(
    fodmap_group="lactose",
    control="glucose",
    letters=tuple("ABCDEFGH"),
    holding=tuple("ADFG"),
    block=2,
    n_orders=16,
    drawn_on=dt.date(2026, 3, 14),
    fixed_at=dt.datetime(2026, 5, 10, 9),
    opened_at=dt.datetime(2026, 5, 12, 9),
    ended_early="",
    as_fixed=True,
    test=TEST,
    tests=(TEST,),
)


def said(kind, language="en", **changes):
    analysis = replace(make_analysis(), blinded=(replace(RESULT, **changes),))
    return write(kind, analysis, language=language)


def paragraph(letter, lead):
    found = [b for b in letter.blocks if isinstance(b, Paragraph) and b.lead == lead]
    assert len(found) == 1
    return found[0].text.replace("\u00a0", " ")


def test_the_doctor_reads_design_result_and_when_it_was_fixed():
    text = paragraph(said("doctor"), "Blinded part.")
    assert text.startswith("Lactose was tested blinded against glucose (control): 8 periods")
    assert "drawn at random on 14 March 2026, blocks of 2" in text
    assert "The analysis was fixed on 10 May 2026, the order opened on 12 May 2026." in text
    assert "Bloating: +2.1 points (+1.3 to +2.9)" in text
    assert "randomisation test p 0.125 (least attainable 0.125, 16 orders)" in text
    assert text.endswith("All other challenges were open.")
    assert "NOT" not in text


def test_the_annex_names_order_and_masking():
    design = next(b for b in said("doctor").annex if isinstance(b, Table))
    rows = dict(design.rows)
    assert "drawn at random: lactose against glucose" in rows["Order and allocation (8–10)"]
    assert "Blinded in part: lactose." in rows["Blinding (11)"]
    open_design = next(b for b in write("doctor", make_analysis()).annex if isinstance(b, Table))
    assert dict(open_design.rows)["Blinding (11)"] == "Open unless stated."


def test_the_client_reads_which_test_was_blinded():
    text = paragraph(said("client"), "Blinded part.")
    assert text.startswith("Part of your test of lactose was blinded.")
    assert "All other tests were open" in text
    assert not any(
        isinstance(b, Paragraph) and b.lead == "Blinded part."
        for b in write("client", make_analysis()).blocks
    )


@pytest.mark.parametrize(
    ("kind", "words"),
    [("doctor", "this is NOT the analysis fixed beforehand"), ("client", "counts as an open test")],
)
def test_what_was_changed_after_the_opening_is_not_called_blinded(kind, words):
    assert words in paragraph(said(kind, as_fixed=False), "Blinded part.")


def test_an_early_end_is_told_with_its_reason():
    text = paragraph(said("doctor", ended_early="moved away"), "Blinded part.")
    assert "It ended early: moved away." in text


def test_in_german_too():
    text = paragraph(said("doctor", "de"), "Verblindeter Teil.")
    assert "Laktose wurde verblindet gegen Glukose (Kontrolle) getestet" in text
    assert "Winde" not in text and "+2,1 Punkte (+1,3 bis +2,9)" in text
    client = paragraph(said("client", "de"), "Verblindeter Teil.")
    assert client.startswith("Ein Teil Ihres Tests mit Laktose war verblindet.")


def test_the_client_is_told_of_a_food_and_never_of_a_sachet_to_bring_back():
    analysis = make_analysis()
    groups = []
    for group in analysis.groups:
        later = tuple(
            replace(dose, food=f"sachet H{dose.step}", date=dose.date + dt.timedelta(days=60))
            for dose in group.doses
        )
        groups.append(replace(group, doses=(*group.doses, *later)))
    text = str(write("client", replace(analysis, groups=tuple(groups))).blocks)
    assert "Bring it back" in text
    assert "sachet" not in text
