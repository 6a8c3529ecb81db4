"""Who can use the page: keyboard, screen reader rules, narrow windows, large text, no script."""

from __future__ import annotations

import datetime as dt
import http.server
import os
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest
from selenium.webdriver.common.keys import Keys

from challenge.logbook.page import PageSettings, build_hosted_files
from tests.browser.conftest import make_plan, write_page
from tests.browser.driving import Browser

AXE = Path(os.environ.get("AXE_CORE", "axe.min.js"))
START = dt.date(2026, 3, 1)
FULL = dict.fromkeys(("pain", "bloating", "wind", "discomfort", "urgency"), 3)


@pytest.fixture
def page(shared: Browser, tmp_path: Path) -> Iterator[Browser]:
    shared.set_zone("Europe/London")
    shared.set_clock("2026-03-09T19:10")
    shared.open(write_page(tmp_path / "diary.html"))
    shared.js("localStorage.clear()")
    shared.open(tmp_path / "diary.html")
    shared.rate(FULL, "2026-03-09T08:00")
    shared.rate(FULL, "2026-03-08T08:00")
    yield shared
    shared.cdp("Emulation.clearDeviceMetricsOverride")
    shared.cdp("Emulation.setEmulatedMedia", features=[])


@pytest.mark.skipif(not AXE.is_file(), reason="axe-core is absent; AXE_CORE names its axe.min.js")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(page: Browser, scheme: str) -> None:
    """Rules of WCAG 2.0 to 2.2, A and AA, and best practices, by axe-core (Deque, MPL-2.0)."""
    page.cdp(
        "Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}]
    )
    page.js("for (const d of document.querySelectorAll('main details')) d.open = true")
    page.js(AXE.read_text("utf-8"))
    for opener in ("open-rating", "open-food", "open-stool", "open-event", "wipe"):
        page.press(f"#{opener}")
        if opener == "open-rating":
            page.press("form button[type=submit]")  # with its mistake shown
        found = page.driver.execute_async_script(
            "const done = arguments[0]; axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a',"
            " 'wcag21aa', 'wcag22aa', 'best-practice']}).then(done)"
        )
        told = [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found["violations"]]
        assert told == [], opener
        assert len(found["passes"]) > 10
    page.press("#ask-no")


@pytest.mark.parametrize("width", [320, 390, 1280])
@pytest.mark.parametrize("text", [100, 200])
def test_nothing_is_cut_off(page: Browser, width: int, text: int) -> None:
    page.cdp(
        "Emulation.setDeviceMetricsOverride",
        width=width,
        height=640,
        deviceScaleFactor=1,
        mobile=False,
    )
    page.js(f"document.documentElement.style.fontSize = '{text}%'")
    for form in ("rating", "food", "stool", "event"):
        page.press(f"#open-{form}")
        too_wide = page.js(
            "const w = document.documentElement.clientWidth;"
            "return [...document.querySelectorAll('main *')].filter((e) => !e.closest('.wide, svg')"
            " && e.getBoundingClientRect().right > w + 1).map((e) => e.outerHTML.slice(0, 90))"
        )
        assert too_wide == []
        assert page.js("return document.documentElement.scrollWidth") <= width


def test_targets_are_large_enough(page: Browser) -> None:
    """44 CSS pixels each way, above the 24 of WCAG 2.2 success criterion 2.5.8."""
    page.cdp(
        "Emulation.setDeviceMetricsOverride",
        width=320,
        height=640,
        deviceScaleFactor=1,
        mobile=False,
    )
    page.press("#open-rating")
    small = page.js(
        "return [...document.querySelectorAll('button, a.button, .scale span, select, summary,"
        " input:not([type=radio])')].filter((e) => e.checkVisibility()).map((e) => ["
        "e.outerHTML.slice(0, 80), e.getBoundingClientRect()]).filter(([, r]) => r.height < 43.9"
        " || r.width < 40).map(([t, r]) => `${t} ${r.width}x${r.height}`)"
    )
    assert small == []


def test_a_rating_by_keyboard_alone(page: Browser) -> None:
    page.js("document.getElementById('open-rating').focus()")
    active = page.driver.switch_to
    active.active_element.send_keys(Keys.ENTER)
    assert active.active_element.text == "How are you now?"
    active.active_element.send_keys(Keys.TAB)
    for _ in range(5):
        # the radio group stands on "not given"; one step right wraps round to 0, the next is 1
        active.active_element.send_keys(Keys.ARROW_RIGHT)
        active.active_element.send_keys(Keys.ARROW_RIGHT)
        active.active_element.send_keys(Keys.TAB)
    page.find("#rating-note").send_keys(Keys.ENTER)
    assert page.said().startswith("Saved: pain 1, bloating 1, wind 1, discomfort 1, urgency 1")
    assert active.active_element.get_attribute("id") == "open-rating"


def test_the_picture_says_what_was_written_and_no_verdict(page: Browser) -> None:
    text = page.find("#picture").get_attribute("textContent")
    assert "08:00: 3" in text
    marks = page.all("#drawing circle")
    assert len(marks) == 2
    assert len({mark.get_attribute("class") for mark in marks}) == 1
    for word in ("baseline", "challenge", "average", "mean", "better", "worse", "reacted"):
        assert word not in text.casefold()


def test_without_scripts_the_page_says_that_it_cannot_run(
    start_browser: Callable[..., Browser], tmp_path: Path
) -> None:
    browser = start_browser(tmp_path / "profile")
    browser.cdp("Emulation.setScriptExecutionDisabled", value=True)
    browser.open(write_page(tmp_path / "diary.html"))
    text = browser.find("main").text
    assert "This page cannot run here" in text
    assert "Rate symptoms" not in text
    browser.quit()


def test_hosted_it_opens_without_a_network(page: Browser, tmp_path: Path) -> None:
    settings = PageSettings(
        client="juniper",
        symptoms=("pain",),
        ratings=3,
        challenge_ratings=3,
        eat_at="in the morning",
        made=dt.datetime(2026, 2, 27, 9, 0),
    )
    for name, text in build_hosted_files(make_plan(START), settings).items():
        (tmp_path / name).write_text(text, encoding="utf-8")

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *args: object) -> None: ...

    server = http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), partial(Quiet, directory=str(tmp_path))
    )
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}/index.html"
    try:
        page.errors()
        page.open(address)
        page.js("return navigator.serviceWorker.ready.then(() => true)")
        page.rate({"pain": 4}, "2026-03-09T08:00")
        assert page.errors() == []
        told = page.cdp("Page.getAppManifest")
        assert told["errors"] == []
        assert page.cdp("Page.getInstallabilityErrors")["installabilityErrors"] in (
            [],
            [{"errorId": "in-incognito", "errorArguments": []}],
        )
    finally:
        server.shutdown()
        server.server_close()
    page.open(address)
    assert "pain 4" in page.find("#list").text
