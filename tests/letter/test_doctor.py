from __future__ import annotations

import json
import re

import pytest

from challenge.letter.content import Bullets, Heading, Paragraph, Table
from challenge.wording import load_words
from tests.letter.builders import ALL_UNCLEAR, TYPICAL, empty_analysis, make_analysis
from tests.letter.conftest import write

NUMBER = re.compile(r"[−+]?\d+(?:\.\d+)?")


def numbers(text: str) -> list[float]:
    return [float(found.replace("−", "-")) for found in NUMBER.findall(text)]


def table(letter, caption: str) -> Table:
    return next(
        b
        for b in (*letter.blocks, *letter.annex)
        if isinstance(b, Table) and b.caption.startswith(caption)
    )


def everything(letter) -> str:
    said = []
    for b in (*letter.blocks, *letter.annex):
        if isinstance(b, Paragraph | Heading):
            said.append(getattr(b, "lead", "") + " " + b.text)
        elif isinstance(b, Bullets):
            said += b.items
        elif isinstance(b, Table):
            said += [b.caption, *b.header, *(cell for row in b.rows for cell in row)]
    return "\n".join(said)


def test_its_numbers_are_those_of_the_json_rounded_once():
    analysis = make_analysis()
    told = json.loads(json.dumps(analysis.to_json()))["groups"]
    rows = table(write("doctor", analysis), "Challenges, group by group").rows
    assert len(rows) == len(told)
    for row, group in zip(rows, told, strict=True):
        test = next(t for t in group["tests"] if t["step"] is None)
        assert numbers(row[3]) == [
            round(test["baseline_mean"], 1),
            round(test["challenge_mean"], 1),
        ]
        expected = [test["difference"], test["low"], test["high"]]
        assert numbers(row[4]) == pytest.approx(expected, abs=0.05 + 1e-9)
        assert numbers(row[4]) == [float(f"{value:.1f}") for value in expected]
        assert numbers(row[5]) == [float(f"{test[k]:.3f}") for k in ("pvalue", "min_pvalue")]
        shares = re.findall(r":\u00a0(?:under |over )?(\d+)%", row[6])
        assert len(shares) == len(group["probability"])
        for share, p in zip(shares, group["probability"].values(), strict=True):
            assert abs(float(share) - 100 * p) <= 0.5 + 1e-9 or p < 0.005 or p > 0.995


def test_steps_and_tests_in_the_annex_equal_the_json():
    analysis = make_analysis()
    told = analysis.to_json()["groups"]
    letter = write("doctor", analysis)
    rises = [row[4] for row in table(letter, "Model of the whole diary").rows if row[1] != "0"]
    words = load_words()
    assert rises == [words.number(s["rise"], sign=True) for g in told for s in g["steps"]]
    shown = [row[5] for row in table(letter, "Paired tests").rows]
    assert shown == [words.number(t["difference"], sign=True) for g in told for t in g["tests"]]


def test_what_cannot_be_estimated_is_a_dash_never_nought():
    row = table(write("doctor", make_analysis()), "Model of the whole diary").rows
    lactose_3 = next(r for r in row if r[0] == "lactose" and r[1] == "3")
    assert lactose_3[4:7] == ("–", "–", "–")


@pytest.mark.parametrize(
    "analysis", [make_analysis(), make_analysis(ALL_UNCLEAR), make_analysis(TYPICAL[:1])]
)
def test_it_states_what_a_doctor_needs(analysis):
    text = everything(write("doctor", analysis))
    for needed in (
        "Reason for referral.", "Requests.", "not a diagnosis", "Alarm questions", "Coeliac",
        "Scores given: 93%", "least attainable", "CENT 2015", "Every period", "Every dose",
        "Days left out", "Challenges stopped early", "control",
    ):  # fmt: skip
        assert needed in text
    assert not re.search(r"\bsafe\b", text)


def test_every_period_and_every_dose_is_there():
    analysis = make_analysis(cycles=3)
    letter = write("doctor", analysis)
    doses = [dose for group in analysis.groups for dose in group.doses]
    assert len(table(letter, "What was planned").rows) == len(doses)
    periods = table(letter, "Means of the day values").rows
    assert len(periods) == 1 + 3 * 7 * 2  # baseline, then challenge and washout
    left_out = {left.date for group in analysis.groups for left in group.days_left_out}
    assert len(table(letter, "Days that could not").rows) == len(left_out)


def test_nothing_tested_is_said_plainly():
    letter = write("doctor", empty_analysis())
    text = everything(letter)
    assert "No challenge is on record yet." in text
    assert "No screening is on record:" in text
    assert letter.draft


def test_missing_screening_answers_become_requests():
    from challenge.letter.doctor import build_doctor_letter
    from challenge.letter.people import Background, Recipient, Sender
    from tests.letter.conftest import DATE

    letter = build_doctor_letter(
        make_analysis(), date=DATE, words=load_words(), sender=Sender(),
        recipient=Recipient(), background=Background(),
    )  # fmt: skip
    text = everything(letter)
    assert "coeliac blood test" in text
    assert "none is on record here" in text
    assert "Not on record." in text
