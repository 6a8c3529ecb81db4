"""The report in a browser: screen reader rules, narrow windows, nothing from outside."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

import challenge.commands.report  # noqa: F401
from challenge.commands.app import app
from tests.browser.driving import Browser
from tests.browser.test_page_for_everyone import AXE

SAMPLES = Path(__file__).parents[2] / "sample_diaries"


@pytest.fixture(scope="module")
def browser(
    start_browser: Callable[..., Browser], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Browser]:
    """A browser of its own, so that what it complains of comes from the report alone."""
    yield start_browser(tmp_path_factory.mktemp("report") / "profile")


@pytest.fixture
def report(browser: Browser, tmp_path: Path) -> Callable[[str, str], Browser]:
    def show(name: str, language: str) -> Browser:
        folder = tmp_path / name
        shutil.copytree(SAMPLES / name, folder)
        made = CliRunner().invoke(app, ["report", str(folder), "--language", language])
        assert made.exit_code == 0, made.output
        browser.errors()
        browser.open(folder / "report.html")
        browser.js("for (const d of document.querySelectorAll('details')) d.open = true")
        return browser

    return show


@pytest.mark.skipif(not AXE.is_file(), reason="axe-core is absent; AXE_CORE names its axe.min.js")
@pytest.mark.parametrize(("name", "language"), [("juniper", "en"), ("hazel", "de")])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing(report, name: str, language: str, width: int) -> None:
    """Rules of WCAG 2.0 to 2.2, A and AA, and best practices, by axe-core (Deque, MPL-2.0)."""
    page = report(name, language)
    page.cdp(
        "Emulation.setDeviceMetricsOverride",
        width=width, height=800, deviceScaleFactor=1, mobile=False,
    )  # fmt: skip
    page.js(AXE.read_text("utf-8"))
    found = page.driver.execute_async_script(
        "const done = arguments[0]; axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a',"
        " 'wcag21aa', 'wcag22aa', 'best-practice']}).then(done)"
    )
    told = [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found["violations"]]
    assert told == []
    assert len(found["passes"]) > 15
    # the page itself never moves sideways; only its figures and tables do, within themselves
    assert page.js("return document.documentElement.scrollWidth <= window.innerWidth")
    page.cdp("Emulation.clearDeviceMetricsOverride")


def test_the_policy_holds_and_blocks_nothing_of_the_page(report) -> None:
    page = report("rowan", "en")
    assert page.errors() == []  # a style or image refused by the policy would be told here
    assert page.js("return [...document.images].every(i => i.complete && i.naturalWidth > 0)")
    assert page.js("return getComputedStyle(document.body).color") == "rgb(26, 26, 26)"
    assert page.js("return document.scripts.length") == 0
    loaded = page.js("return performance.getEntriesByType('resource').map(entry => entry.name)")
    assert [name for name in loaded if not name.startswith("data:")] == []
    # what somebody put in would be stopped
    page.js(
        "document.body.append(Object.assign(document.createElement('img'),"
        "{src: 'https://example.org/x.png'}))"
    )
    assert any("Content Security Policy" in message for message in page.errors())
