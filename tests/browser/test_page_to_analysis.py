"""The whole chain: ten days written on the page, exported and added, against the same days typed.

The analysis must not be able to tell ``challenge add`` of the page's files from ``challenge log``.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from challenge.files.reading import read_diary
from tests.browser.driving import Browser
from tests.commands.folders import run
from tests.commands.logging_client import SCREENED, make_client

SYMPTOMS = ("pain", "bloating", "wind", "discomfort", "urgency")
CLOCKS = ("08:10", "13:05", "20:30")
DAYS = range(2, 12)
DOSES = {6: 60, 7: 120, 8: 200}
"""Day of March -> what was drunk [mL]; on the last day less than the 245 mL planned."""
SETTINGS = SCREENED.replace("baseline_days = 3", "baseline_days = 4")
STOPPED = LATE = 8
"""The evening rating of this day is given after midnight."""


def scores_at(day: int, place: int) -> dict[str, int]:
    """Invented: restless at baseline, worse in the hours after the larger doses."""
    rise = max(0, day - 6) * (place > 0) if day in DOSES else 0
    return {
        symptom: min(10, 1 + (day * 3 + place * 2 + i) % 3 + rise * (2 if i < 2 else 1))
        for i, symptom in enumerate(SYMPTOMS)
    }


def time_of(day: int, place: int) -> str:
    if (day, place) == (LATE, 2):
        return f"2026-03-{day + 1:02d}T00:20"
    return f"2026-03-{day:02d}T{CLOCKS[place]}"


@pytest.fixture
def written(start_browser: Callable[..., Browser], tmp_path: Path, monkeypatch, capsys) -> Path:
    """The client's folder after the page's export was added."""
    (tmp_path / "page").mkdir()
    folder = make_client(tmp_path / "page", SETTINGS, SETTINGS)
    code, _, _ = run(monkeypatch, capsys, "page", folder, now="2026-03-01T09:00")
    assert code == 0
    page = folder / "diary-juniper.html"
    browser = None
    for day in DAYS:
        if browser is None or day in {5, 8, 10}:
            if browser is not None:
                browser.quit()
            browser = start_browser(tmp_path / "profile", tmp_path / "downloads")
            browser.set_zone("Europe/London")
        browser.set_clock(f"2026-03-{day + 1:02d}T00:30")
        browser.open(page)
        for place in range(3):
            browser.rate(scores_at(day, place), time_of(day, place))
            assert browser.said().startswith("Saved"), browser.wrong()
        if day in DOSES:
            browser.press("#ate")
            browser.set_value("#food-time", f"2026-03-{day:02d}T08:30")
            browser.type("#food-portion", str(DOSES[day]))
            browser.press("form button[type=submit]")
            assert browser.said().startswith("Saved"), browser.wrong()
        if day == 5:
            browser.press("#open-event")
            browser.set_value("#event-kind", "stress")
            browser.press("form button[type=submit]")
            browser.press("#open-stool")
            browser.press('input[name="form"][value="4"]')
            browser.set_value("#stool-time", "2026-03-05T07:00")
            browser.press("form button[type=submit]")
        if day == 7:
            browser.press('button[aria-label^="Correct 13:05"]')
            browser.press('input[name="score-pain"][value="9"]')
            browser.press("form button[type=submit]")
            browser.press('button[aria-label^="Correct 08:30"]')
            browser.type("#food-portion", "100")
            browser.press("form button[type=submit]")
            assert browser.said().startswith("Saved"), browser.wrong()
    assert browser is not None
    browser.save_files()
    assert browser.errors() == []
    browser.quit()
    files = sorted((tmp_path / "downloads").glob("*.csv"))
    code, _, err = run(monkeypatch, capsys, "add", folder, *files, now="2026-03-12T09:00")
    assert code == 0, err
    return folder


@pytest.fixture
def typed(tmp_path: Path, monkeypatch, capsys) -> Path:
    """The same days, typed at the prompt."""
    (tmp_path / "typed").mkdir()
    folder = make_client(tmp_path / "typed", SETTINGS, SETTINGS)

    def log(now: str, *words: str) -> None:
        code, _, err = run(monkeypatch, capsys, "log", folder, *words, now=now)
        assert code == 0, err

    for day in DAYS:
        now = f"2026-03-{day + 1:02d}T00:30"
        for place in range(3):
            given = [f"--score={s}={n}" for s, n in scores_at(day, place).items()]
            log(now, *given, "--at", time_of(day, place)[11:])
        if day == STOPPED:
            # symptoms had risen, so it was not due any more; what was eaten counts all the same
            log(now, "--food", f"cow's milk={DOSES[day]}", "--at", "08:30")
        elif day in DOSES:
            log(now, "--ate", "--amount", str(DOSES[day]), "--at", "08:30")
        if day == 5:
            log(now, "--event", "stress")
            log(now, "--stool", "4", "--at", "07:00")
        if day == 7:
            log(now, "--score", "pain=9", "--at", "13:05", "--correct")
            log(now, "--ate", "--amount", "100", "--at", "08:30", "--correct")
    return folder


def analysed(folder: Path, monkeypatch, capsys) -> dict:
    code, out, err = run(monkeypatch, capsys, "analyse", folder, "--json", now="2026-03-12T09:00")
    assert code == 0, err
    return json.loads(out)


def test_ten_days_on_the_page_give_the_numbers_of_the_same_days_typed(
    written: Path, typed: Path, monkeypatch, capsys
) -> None:
    ours, theirs = read_diary(written), read_diary(typed)
    assert len(ours.symptoms) == 10 * 3 * 5 + 1
    for table, columns in (
        ("symptoms", ["time", "symptom", "score", "entered_at"]),
        ("foods", ["time", "food", "portion_g", "fodmap_group", "fodmap_g", "entered_at"]),
        ("events", ["start", "end", "event"]),
    ):
        left, right = getattr(ours, table)[columns], getattr(theirs, table)[columns]
        assert left.to_dict("records") == right.to_dict("records")
    # 120 mL hold 6 g, so the 100 mL that were drunk hold 5 g
    assert ours.foods["fodmap_g"].tolist() == [3, 5, round(12 / 245 * 200, 3)]
    result = analysed(written, monkeypatch, capsys)
    assert result == analysed(typed, monkeypatch, capsys)
    (lactose,) = result["groups"]
    assert sum(lactose["probability"].values()) == pytest.approx(1)
    assert any(test["n_pairs"] for test in lactose["tests"])
