from __future__ import annotations

import csv
import datetime as dt
import io
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser.conftest import write_page
from tests.browser.driving import Browser

ALL_TWO = dict.fromkeys(("pain", "bloating", "wind", "discomfort", "urgency"), 2)


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))


@pytest.fixture
def page(shared: Browser, tmp_path: Path) -> Browser:
    """A fresh diary, at ten past seven in the evening of the second challenge day."""
    shared.set_zone("Europe/London")
    shared.set_clock("2026-03-09T19:10")
    shared.open(write_page(tmp_path / "diary.html"))
    shared.js("localStorage.clear()")
    shared.open(tmp_path / "diary.html")
    shared.errors()
    return shared


def reopen(browser: Browser) -> None:
    browser.js("for (const button of document.querySelectorAll('form .cancel')) button.click();")
    browser.refresh()


def test_ten_days_survive_restarts_a_correction_and_the_export(
    start_browser: Callable[..., Browser], tmp_path: Path
) -> None:
    file = write_page(tmp_path / "diary.html")
    typed: dict[tuple[str, str], int] = {}
    for day in range(1, 11):
        # a new process each time, with the profile that the last one left on the disk
        if day % 5 == 1:
            browser = start_browser(tmp_path / "profile", tmp_path / "downloads")
            browser.set_zone("Europe/London")
        browser.set_clock(f"2026-03-{day:02d}T21:00")
        browser.open(file)
        for hour, score in (("08:05", day % 11), ("13:10", (day * 3) % 11), ("18:40", 1)):
            time = f"2026-03-{day:02d}T{hour}"
            browser.rate({"pain": score, "bloating": 2}, time)
            assert browser.said().startswith("Saved: pain"), (browser.wrong(), browser.notices())
            typed |= {(time, "pain"): score, (time, "bloating"): 2}
        if day >= 8:
            browser.press("#ate")
            browser.press("form button[type=submit]")
        if day == 9:
            browser.press('button[aria-label^="Correct 08:05"]')
            browser.press('input[name="score-pain"][value="4"]')
            browser.press("form button[type=submit]")
            typed["2026-03-09T08:05", "pain"] = 4
        if day == 5:
            browser.quit()
    files = browser.save_files()
    browser.quit()
    symptoms = rows(files["symptoms"])
    assert {(r["time"], r["symptom"]): int(r["score"]) for r in symptoms} == typed
    assert len(symptoms) == len(typed)
    corrected = [r for r in symptoms if r["note"]]
    assert [r["note"] for r in corrected] == ["[score corrected 2026-03-09T21:00, before: 9]"]
    assert [
        (r["food"], r["portion_g"], r["fodmap_group"], r["fodmap_g"]) for r in rows(files["foods"])
    ] == [
        ("milk", "100", "lactose", "4.9"),
        ("milk", "200", "lactose", "9.8"),
        ("milk", "300", "lactose", "14.7"),
    ]


def test_storage_is_asked_for_only_after_the_browser_has_answered(
    page: Browser, tmp_path: Path
) -> None:
    """Asked for too early, Chromium's storage reads as empty and drops what is written."""
    page.before_load(
        """
        const own = Object.getOwnPropertyDescriptor(window, 'localStorage').get;
        const request = LockManager.prototype.request;
        window.order = [];
        Object.defineProperty(window, 'localStorage', {
            get() { order.push('storage'); return own.call(window); },
        });
        LockManager.prototype.request = async function (...given) {
            const answer = await request.apply(this, given);
            await new Promise((resolve) => { window.answer = resolve; });
            order.push('answered');
            return answer;
        };
        """
    )
    page.driver.get((tmp_path / "diary.html").as_uri())
    page.js("return new Promise((resolve) => setTimeout(resolve, 300))")
    assert page.js("return window.order") == []
    assert not page.find("#open-rating").is_displayed()
    page.js("window.answer()")
    page.wait_until_drawn()
    assert page.js("return window.order")[:2] == ["answered", "storage"]


def test_a_slow_browser_loses_no_entry(
    start_browser: Callable[..., Browser], tmp_path: Path
) -> None:
    """The page's process runs ahead of the browser's, as it may on a busy machine."""
    file = write_page(tmp_path / "diary.html")
    browser = start_browser(tmp_path / "profile")
    browser.set_zone("Europe/London")
    browser.set_clock("2026-03-09T19:10")
    browser.hold_back()
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(2)]
    try:
        for i in range(12):
            browser.open(file)
            assert len(browser.entries()) == i
            browser.rate({"pain": i % 11}, f"2026-03-09T08:{i:02d}")
            assert browser.said().startswith("Saved: pain")
    finally:
        for process in busy:
            process.kill()
            process.wait()
        browser.quit()


def test_two_tabs_lose_and_double_nothing(page: Browser) -> None:
    first = page.driver.current_window_handle
    url = page.driver.current_url
    page.driver.switch_to.new_window("tab")
    second = page.driver.current_window_handle
    page.set_zone("Europe/London")
    page.open(url)
    try:
        for i in range(6):
            page.driver.switch_to.window((first, second)[i % 2])
            page.rate(ALL_TWO | {"pain": i}, f"2026-03-0{i + 1}T08:00")
        assert sorted(entry["scores"]["pain"] for entry in page.entries()) == list(range(6))
        # the same entry opened in both, saved in both: the later one is told, not obeyed
        for handle in (first, second):
            page.driver.switch_to.window(handle)
            page.set_value("#day", "2026-03-01")
            page.press('button[aria-label^="Correct 08:00"]')
        page.press('input[name="score-pain"][value="7"]')
        page.press("form button[type=submit]")
        page.driver.switch_to.window(first)
        page.press('input[name="score-pain"][value="9"]')
        page.press("form button[type=submit]")
        assert "changed in another window. Nothing was overwritten" in page.wrong()
        kept = [e for e in page.entries() if e["time"] == "2026-03-01T08:00"]
        assert [e["scores"]["pain"] for e in kept] == [7]
        page.press("form .cancel")
        assert "pain 7" in page.find("#list").text
    finally:
        page.driver.switch_to.window(second)
        page.driver.close()
        page.driver.switch_to.window(first)


def test_full_storage_keeps_what_was_there_and_what_was_typed(page: Browser) -> None:
    page.rate(ALL_TWO, "2026-03-09T08:00")
    page.js(
        "let n = 1 << 22, i = 0; while (n >= 1) {"
        " try { localStorage.setItem('filler' + i, 'x'.repeat(n)); i += 1; } catch { n >>= 1; } }"
    )
    page.rate(ALL_TWO | {"pain": 6}, "2026-03-09T13:00")
    assert "Not saved: the storage of this browser is full" in page.wrong()
    assert "storage of this browser is full" in page.notices()
    assert len(page.entries()) == 1
    assert page.js("return document.querySelector('[name=score-pain]:checked').value") == "6"
    assert len(rows(page.save_files()["symptoms"])) == 5
    page.js(
        "for (const k of Object.keys(localStorage))"
        " if (k.startsWith('filler')) localStorage.removeItem(k)"
    )
    page.press("form button[type=submit]")
    assert page.said().startswith("Saved")
    assert len(page.entries()) == 2


def test_forbidden_storage_is_said_and_can_still_be_exported(page: Browser, tmp_path: Path) -> None:
    page.before_load(
        "Object.defineProperty(window, 'localStorage',"
        " { get() { throw new DOMException('no', 'SecurityError'); } });"
    )
    page.open(write_page(tmp_path / "forbidden.html"))
    assert "This browser does not keep entries" in page.notices()
    page.rate(ALL_TWO)
    files = page.save_files()
    assert len(rows(files["symptoms"])) == 5
    assert "does not keep entries" in page.notices()


def test_a_clock_put_back_is_told_and_loses_nothing(page: Browser) -> None:
    page.rate(ALL_TWO)
    page.set_clock("2026-03-08T10:00")
    reopen(page)
    assert "Has the clock been put back?" in page.notices()
    page.rate(ALL_TWO | {"pain": 5})
    assert [e["time"] for e in sorted(page.entries(), key=lambda e: e["at"])] == [
        "2026-03-09T19:10",
        "2026-03-08T10:00",
    ]
    assert "Has the clock been put back?" not in page.notices()
    assert len(rows(page.save_files()["symptoms"])) == 10


def test_the_hour_that_comes_twice(page: Browser) -> None:
    """Europe/London, 25 October 2026: 01:59 BST is followed by 01:00 GMT (IANA tz database)."""
    page.set_clock("2026-10-25T01:30", "+01:00")
    reopen(page)
    page.rate(ALL_TWO)
    assert "occurred twice" in page.said()
    page.set_clock("2026-10-25T01:30", "+00:00")
    reopen(page)
    assert "clock been put back" not in page.notices()
    page.rate(ALL_TWO | {"pain": 8})
    assert "kept as 01:31" in page.said()
    found = {
        (r["time"], r["score"])
        for r in rows(page.save_files()["symptoms"])
        if r["symptom"] == "pain"
    }
    assert found == {("2026-10-25T01:30", "2"), ("2026-10-25T01:31", "8")}


def test_the_hour_that_is_left_out(page: Browser) -> None:
    """Europe/London, 29 March 2026: 00:59 GMT is followed by 02:00 BST (IANA tz database)."""
    page.set_clock("2026-03-29T09:00", "+01:00")
    reopen(page)
    page.rate(ALL_TWO, "2026-03-29T01:30")
    assert "did not exist" in page.wrong()
    assert page.entries() == []
    page.set_value("#rating-time", "2026-03-29T02:30")
    page.press("form button[type=submit]")
    assert len(page.entries()) == 1


def test_last_months_page_keeps_everything_and_says_that_it_is_old(
    page: Browser, tmp_path: Path
) -> None:
    page.rate(ALL_TWO)
    newer = write_page(tmp_path / "newer.html", made=dt.datetime(2026, 3, 9, 12, 0))
    page.open(newer)
    assert "older" not in page.notices()
    page.rate(ALL_TWO | {"pain": 1}, "2026-03-09T18:00")
    page.open(tmp_path / "diary.html")
    assert "This page is older than one used before" in page.notices()
    assert len(page.all("#list > li")) == 2
    page.rate(ALL_TWO | {"pain": 9}, "2026-03-09T12:00")
    page.open(newer)
    assert len(page.entries()) == 3
    # entries in a form that this page does not know: it shows and touches nothing
    page.js("localStorage.setItem('challenge/juniper/2/entry/abc', '{\"new\": true}')")
    reopen(page)
    assert "A newer page was used on this device" in page.notices()
    assert not page.find("#today").is_displayed()
    assert (
        page.js("return localStorage.getItem('challenge/juniper/2/entry/abc')") == '{"new": true}'
    )


def test_export_comes_back_without_loss_or_double(page: Browser, tmp_path: Path) -> None:
    odd = '=1+1, "quoted", ünï [x]'
    page.rate(ALL_TWO, "2026-03-09T08:00", note=odd)
    page.press('button[aria-label^="Correct 08:00"]')
    page.press('input[name="score-wind"][value="7"]')
    page.press("form button[type=submit]")
    page.press("#open-food")
    page.set_value("#food-known", "")
    page.type("#food-name", "+rice; plain")
    page.press("form button[type=submit]")
    page.press("#open-event")
    page.press("form button[type=submit]")
    first = page.save_files()
    assert "'=1+1" in first["symptoms"]
    assert "'+rice; plain" in first["foods"]
    paths = sorted(str(path) for path in page.downloads.glob("*.csv"))  # type: ignore[union-attr]
    copies = []
    for path in paths:
        copies.append(tmp_path / Path(path).name)
        copies[-1].write_bytes(Path(path).read_bytes())
    page.find("#import").send_keys("\n".join(map(str, copies)))
    page.driver.implicitly_wait(3)
    assert "already here" in page.find("#imported p").get_attribute("textContent")
    assert len(page.entries()) == 3
    page.js("localStorage.clear()")
    reopen(page)
    assert page.entries() == []
    page.find("#import").send_keys("\n".join(map(str, copies)))
    assert "1 new" in page.find("#imported p").get_attribute("textContent")
    page.driver.implicitly_wait(0)
    assert page.save_files() == first


def test_a_week_without_export_is_told(page: Browser) -> None:
    page.rate(ALL_TWO)
    page.set_clock("2026-03-16T12:00")
    reopen(page)
    assert "Time to send an export" not in page.notices()
    page.set_clock("2026-03-16T20:00")
    reopen(page)
    assert "Time to send an export" in page.notices()
    page.save_files()
    reopen(page)
    assert "Time to send an export" not in page.notices()


def test_wiping_asks_first_and_leaves_other_clients_alone(page: Browser) -> None:
    page.js("localStorage.setItem('challenge/other/1/entry/x', '{}')")
    page.rate(ALL_TWO)
    page.press("#wipe")
    assert "1 of them were never exported" in page.find("#ask-text").text
    page.press("#ask-no")
    assert len(page.entries()) == 1
    page.press("#wipe")
    page.press("#ask-yes")
    page.js("return new Promise(r => setTimeout(r, 100))")
    assert page.js("return Object.keys(localStorage)") == ["challenge/other/1/entry/x"]


def test_mistakes_are_told_beside_the_field(page: Browser) -> None:
    page.press("#open-rating")
    page.press("form button[type=submit]")
    assert "Give at least one score" in page.wrong()
    page.press("form .cancel")
    page.rate(ALL_TWO, "2026-03-10T08:00")
    assert "still to come" in page.wrong()
    page.set_value("#rating-time", "2026-03-09T08:00")
    page.press("form button[type=submit]")
    page.rate(ALL_TWO, "2026-03-09T08:00")
    assert "already such an entry" in page.wrong()
    page.press("form .cancel")
    page.press("#ate")
    page.type("#food-portion", "lots")
    page.press("form button[type=submit]")
    assert "number above 0" in page.wrong()
    assert page.find("#food-portion").get_attribute("aria-invalid") == "true"
    page.type("#food-portion", "62,5")
    page.press("form button[type=submit]")
    assert [e["portion_g"] for e in page.entries() if e["kind"] == "food"] == [62.5]


def test_nothing_is_complained_of_and_nothing_is_fetched(page: Browser) -> None:
    page.rate(ALL_TWO)
    names = page.js("return performance.getEntriesByType('resource').map(e => e.name)")
    assert [name for name in names if not name.startswith("data:")] == []
    assert page.errors() == []
    # the policy holds: an inline handler and a request are both refused
    page.js(
        "document.body.insertAdjacentHTML('beforeend', '<i id=t onclick=\"window.ran = 1\"></i>');"
        "document.getElementById('t').click();"
    )
    assert page.js("return window.ran ?? null") is None
    assert (
        page.js("return fetch('http://127.0.0.1:9/').then(() => 'sent', () => 'refused')")
        == "refused"
    )
    assert any("Content Security Policy" in line for line in page.errors())
