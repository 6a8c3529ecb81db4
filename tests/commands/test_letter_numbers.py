"""Numbers in the letters are those of ``analyse --json``, rounded once: read from the files."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from docx import Document
from typer.testing import CliRunner

import challenge.commands.analyse
import challenge.commands.letter  # noqa: F401
from challenge.commands.app import app
from challenge.foods import find_food
from challenge.wording import load_words

SAMPLES = Path(__file__).parents[2] / "sample_diaries"
EN = load_words()


@pytest.fixture(scope="module", params=["juniper", "rowan", "sorrel", "hazel"])
def told(request, tmp_path_factory):
    """One sample client: the result as JSON, and the rows of each table of both letters."""
    folder = tmp_path_factory.mktemp("letters") / request.param
    shutil.copytree(SAMPLES / request.param, folder)
    analysed = CliRunner().invoke(app, ["analyse", str(folder), "--json"])
    assert analysed.exit_code == 0, analysed.output
    tables = {}
    for to in ("client", "doctor"):
        args = ["letter", str(folder), "--to", to, "--format", "docx", "--date", "2026-06-01"]
        made = CliRunner().invoke(app, args)
        assert made.exit_code == 0, made.output
        document = Document(made.stdout.strip())
        for table in document.tables:
            rows = [[cell.text for cell in row.cells] for row in table.rows]
            tables[to, rows[0][0], rows[0][1]] = rows[1:]
    return json.loads(analysed.stdout), tables


def overall(result, group):
    return next(
        t for t in group["tests"]
        if t["step"] is None and t["symptom"] == result["primary_symptom"]
    )  # fmt: skip


def test_the_table_of_the_doctor(told):
    result, tables = told
    rows = tables["doctor", "Group", "Grams a day; dates"]
    assert len(rows) == len(result["groups"])
    for row, group in zip(rows, result["groups"], strict=True):
        test = overall(result, group)
        assert row[0] == EN(f"groups.{group['fodmap_group']}")
        assert row[2] == f"{test['n_pairs']} ({len(group['days_left_out'])})"
        means = [EN.number(test["baseline_mean"]), EN.number(test["challenge_mean"])]
        assert row[3].split(" → ") == means
        interval = EN.interval(test["low"], test["high"])
        assert row[4] == f"{EN.number(test['difference'], sign=True)} ({interval})"
        assert row[5] == f"{EN.pvalue(test['pvalue'])} ({EN.pvalue(test['min_pvalue'])})"
        shares = [part.split(":\u00a0")[1] for part in row[6].split("; ")] if row[6] != "–" else []
        assert shares == [EN.percent(p) for p in group["probability"].values()]
        if group["suggested_g"]:
            assert EN.grams(group["suggested_g"]) in row[7]


def test_the_annex_of_the_doctor(told):
    result, tables = told
    steps = [row for row in tables["doctor", "Group", "Step"] if row[1] != "0"]
    expected = [step for group in result["groups"] for step in group["steps"]]
    assert [row[3:7] for row in steps] == [
        [
            str(step["n_days"]),
            EN.number(step["rise"], sign=True),
            EN.interval(step["low"], step["high"]),
            EN.percent(step["p_over_margin"]),
        ]
        for step in expected
    ]
    tests = [
        test
        for group in result["groups"]
        for test in group["tests"]
        if test["step"] is None or test["symptom"] == result["primary_symptom"]
    ]
    assert [row[3:] for row in tables["doctor", "Group", "Symptom"]] == [
        [
            f"{test['n_pairs']} ({test['n_missing']})",
            f"{EN.number(test['baseline_mean'])} → {EN.number(test['challenge_mean'])}",
            EN.number(test["difference"], sign=True),
            EN.interval(test["low"], test["high"]),
            EN.pvalue(test["pvalue"]),
            EN.pvalue(test["min_pvalue"]),
            EN.pvalue(test["pvalue_adjusted"]),
        ]
        for test in tests
    ]
    assert [row[1] for row in tables["doctor", "Group", "Changed assumption"]] == [
        other["name"] for group in result["groups"] for other in group["sensitivity"]
    ]


def test_the_table_of_the_client(told):
    result, tables = told
    rows = tables["client", "Group", "What you ate"]
    groups = [group for group in result["groups"] if group["fodmap_group"] != "glucose"]
    assert len(rows) == len(groups)
    for row, group in zip(rows, groups, strict=True):
        step = group["suggested_step"]
        if not step:
            assert "Bring it back" not in row[3]
            continue
        of_step = [d for d in group["doses"] if d["step"] == step and d["portion_g"] is not None]
        portions = {EN.grams(d["portion_g"], find_food(d["food"]).unit) for d in of_step}
        assert any(f"up to {portion}" in row[3] for portion in portions), (row, portions)
        # the odds in words are the probability of what is said, of the JSON
        top = max(d["step"] for d in group["doses"] if d["eaten_g"] is not None)
        beyond = sum(p for k, p in group["probability"].items() if int(k) >= top)
        enough = sum(p for k, p in group["probability"].items() if int(k) >= step)
        chance = beyond if step >= top else enough - beyond
        n, of = map(int, re.search(r"right about (\d+) times in (\d+)", row[2]).groups())
        assert abs(n / of - chance) <= 0.05, (row, chance)
