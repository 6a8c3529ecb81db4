from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from challenge.logbook.page import PageSettings, build_page
from challenge.protocol.plan import Plan, PlanDay
from tests.browser.driving import Browser

CHROMIUM = (
    shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
)
DRIVER = shutil.which("chromedriver")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    missing = [n for n, p in (("chromium", CHROMIUM), ("chromedriver", DRIVER)) if p is None]
    for item in items:
        if "browser" not in str(item.path.parent.name):
            continue
        item.add_marker(pytest.mark.browser)
        item.add_marker(pytest.mark.slow)
        if missing:
            reason = f"no {' and no '.join(missing)} on this machine"
            item.add_marker(pytest.mark.skip(reason=reason))


def make_plan(start: dt.date, n_days: int = 40) -> Plan:
    """Seven days of baseline, then three of milk and four of washout, again and again."""
    days = []
    for i in range(n_days):
        date = start + dt.timedelta(days=i)
        place = (i - 7) % 7
        if i >= 7 and place < 3:
            step = place + 1
            days.append(
                PlanDay(
                    date=date,
                    phase="challenge",
                    cycle=1 + (i - 7) // 7,
                    fodmap_group="lactose",
                    step=step,
                    food="milk",
                    portion_g=100.0 * step,
                    fodmap_g=4.9 * step,
                )
            )
        elif i >= 7:
            days.append(PlanDay(date=date, phase="washout", fodmap_group="lactose"))
        else:
            days.append(PlanDay(date=date, phase="baseline"))
    return Plan(tuple(days))


def write_page(
    path: Path,
    start: dt.date = dt.date(2026, 3, 1),
    made: dt.datetime = dt.datetime(2026, 2, 27, 9, 0),
    client: str = "juniper",
) -> Path:
    settings = PageSettings(
        client=client,
        symptoms=("pain", "bloating", "wind", "discomfort", "urgency"),
        ratings=3,
        challenge_ratings=5,
        eat_at="in the morning, at the same time each day",
        made=made,
    )
    path.write_text(build_page(make_plan(start), settings), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def start_browser() -> Iterator[Callable[..., Browser]]:
    started: list[Browser] = []

    def start(profile: Path, downloads: Path | None = None, **options: object) -> Browser:
        assert CHROMIUM is not None
        assert DRIVER is not None
        browser = Browser(CHROMIUM, DRIVER, profile, downloads, **options)
        started.append(browser)
        return browser

    yield start
    for browser in started:
        browser.quit()


@pytest.fixture(scope="module")
def shared(
    start_browser: Callable[..., Browser], tmp_path_factory: pytest.TempPathFactory
) -> Browser:
    """One browser for the tests that wipe its storage themselves."""
    folder = tmp_path_factory.mktemp("shared")
    return start_browser(folder / "profile", folder / "downloads")
