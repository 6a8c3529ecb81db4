"""Sachet labels that tell nothing, and the list for the one person who fills the sachets."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Literal

from challenge.protocol.blinding import Key, Trial
from challenge.typesetting import typeset
from challenge.wording import Words

Paper = Literal["a4", "us-letter"]


@dataclass(frozen=True, kw_only=True)
class Printing:
    """How labels and list are printed: for which client, in which language, on which paper."""

    client: str
    words: Words
    paper: Paper = "a4"


def render_labels(trial: Trial, printing: Printing) -> bytes:
    """Return the labels as PDF/UA-1: one per sachet, in the order in which they are given.

    They are made from what everybody may know; the key is not at hand here.
    """
    words = printing.words
    said = {
        "title": words("blinded.labels_title", client=printing.client),
        "client": words("letter.client_code", client=printing.client),
        "lines": words.many(
            "blinded.label_lines", group=_name(trial, words), control=_control(trial, words)
        ),
        "codes": [
            f"{sachet.letter}{sachet.step}"
            for sachet in trial.sachets()
            for _ in range(trial.sachets_per_step)
        ],
    }
    return _typeset("labels.typ", said, trial, printing)


def render_filling_list(trial: Trial, key: Key, printing: Printing) -> bytes:
    """Return the list for the person who fills the sachets, which tells everything.

    Its first page warns whoever comes across it, and tells nothing yet.
    """
    words = printing.words
    rows = []
    for sachet in trial.sachets():
        group = sachet.letter in key.holding
        portion = trial.portions[trial.steps.index(sachet.step)]
        rows.append(
            [
                f"{sachet.letter}{sachet.step}",
                words.get(
                    f"blinded.powders.{trial.fodmap_group if group else trial.control}",
                    trial.powders[0 if group else 1],
                ),
                words.grams(portion),
                str(trial.sachets_per_step),
                "",
            ]
        )
    said = {
        "title": words("blinded.filling_title", client=printing.client),
        "warning": words("blinded.filling_warning"),
        "warning_lines": words.many("blinded.filling_warning_lines", client=printing.client),
        "lines": words.many("blinded.filling_lines"),
        "caption": words("blinded.filling_caption"),
        "header": words.many("blinded.filling_header"),
        "rows": rows,
        "taste_heading": words("blinded.taste_heading"),
        "taste": taste_lines(trial, words),
    }
    return _typeset("filling.typ", said, trial, printing)


def taste_lines(trial: Trial, words: Words) -> tuple[str, ...]:
    """Return what to mind so that taste and look do not give the powder away."""
    return (
        words(f"blinded.taste_of.{trial.fodmap_group}"),
        *words.many("blinded.taste", group=_name(trial, words), control=_control(trial, words)),
    )


def _name(trial: Trial, words: Words) -> str:
    return words.get(f"blinded.powders.{trial.fodmap_group}", trial.fodmap_group)


def _control(trial: Trial, words: Words) -> str:
    return words.get(f"blinded.powders.{trial.control}", trial.control)


def _typeset(template: str, said: Mapping[str, object], trial: Trial, printing: Printing) -> bytes:
    folder = resources.files("challenge.logbook").joinpath("data", "labels")
    data = {**said, "language": printing.words.language, "paper": printing.paper}
    files = {
        "main.typ": folder.joinpath(template).read_bytes(),
        "labels.json": json.dumps(data, ensure_ascii=False).encode(),
    }
    return typeset(files, date=trial.drawn_on)
