from __future__ import annotations

import re
from pathlib import Path

from typer.testing import CliRunner

import challenge.commands.report  # noqa: F401
from challenge.commands.app import app

SAMPLE = Path(__file__).parents[2] / "sample_diaries" / "juniper"


def test_one_page_without_network_or_script_the_same_twice(tmp_path):
    made = []
    for name in ("a.html", "b.html"):
        out = tmp_path / name
        result = CliRunner().invoke(app, ["report", str(SAMPLE), "--out", str(out)])
        assert result.exit_code == 0, result.output
        made.append(out.read_text("utf-8"))
    assert made[0] == made[1]
    page = made[0]
    assert "default-src 'none'" in page
    assert not re.search(r"<script|https?://|<link|javascript:", page)
    images = re.findall(r"<img [^>]*>", page)
    assert len(images) == 8
    assert all(re.search(r'alt="[^"]{40,}"', image) for image in images)
    assert page.count("<caption>") == page.count("<table>") >= 6
    assert page.count("<h1>") == 1
    assert page.count("<details>") == 14  # the data behind 8 figures, secondary tests of 6 groups
    assert "Every day: mean of each symptom" in page
    assert page.count("pairs of days, ") >= 6
    assert page.count("secondary tests, ") >= 6
    assert "Hodges-Lehmann" in page and "two one-sided t tests" in page
    assert re.search(r"Over \d+ reference days wind changed by", page)
    for needed in ("Next:", "under changed assumptions", "Days that could not be used"):
        assert needed in page
