"""What the letters say of blinded challenges: which part was blinded, and whether it held."""

from __future__ import annotations

from challenge.analysis.result import Analysis, BlindedResult
from challenge.letter.content import Paragraph
from challenge.wording import Words


def client_paragraphs(analysis: Analysis, words: Words) -> list[Paragraph]:
    """Return what the client reads, one paragraph per blinded challenge."""
    return [
        Paragraph(
            lead=words("blinded.letter.lead"),
            text=words(
                "blinded.letter.client" if result.as_fixed else "blinded.letter.client_changed",
                group=_group(result, words),
            ),
        )
        for result in analysis.blinded
    ]


def doctor_paragraphs(analysis: Analysis, words: Words) -> list[Paragraph]:
    """Return what the doctor reads: design, result, whether it was fixed before the opening."""
    return [
        Paragraph(lead=words("blinded.letter.lead"), text=_report(result, words))
        for result in analysis.blinded
    ]


def _report(result: BlindedResult, words: Words) -> str:
    test = result.test
    said = words(
        "blinded.letter.doctor",
        group=_group(result, words),
        control=words(f"groups.{result.control}"),
        n=len(result.letters),
        block=result.block,
        drawn=words.date(result.drawn_on),
        fixed=words.date(result.fixed_at.date()),
        opened=words.date(result.opened_at.date()),
        symptom=_capital(words.get(f"symptoms.{test.symptom}", test.symptom)),
        difference=words.number(test.difference, sign=True),
        interval=words.interval(test.low, test.high),
        pvalue=words.pvalue(test.pvalue),
        least=words.pvalue(test.min_pvalue),
        orders=result.n_orders,
    )
    more = [_capital(said)]
    if not result.as_fixed:
        more.append(words("blinded.letter.doctor_changed"))
    if result.ended_early:
        more.append(words("blinded.letter.doctor_early", why=result.ended_early))
    more.append(words("blinded.letter.doctor_open"))
    return " ".join(more)


def order_drawn(analysis: Analysis, words: Words) -> str:
    """Return how the order of blinded periods came about; empty without any."""
    return " ".join(
        words(
            "blinded.letter.order",
            group=_group(result, words),
            control=words(f"groups.{result.control}"),
            n=len(result.letters),
            block=result.block,
            orders=result.n_orders,
        )
        for result in analysis.blinded
    )


def who_was_blind(analysis: Analysis, words: Words) -> str:
    """Return who did not know what; empty when all challenges were open."""
    groups = [_group(result, words) for result in analysis.blinded]
    return words("blinded.letter.masking", group=words.join(groups)) if groups else ""


def _group(result: BlindedResult, words: Words) -> str:
    return words(f"groups.{result.fodmap_group}")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
