"""Drive the page as a person does: press, tap, type; and set the clock that it sees."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
)

# The clock stands at CHALLENGE_CLOCK and then runs on; only "now" is replaced.
_CLOCK = """
(() => {
  const Real = Date, began = Real.now();
  const shift = () => __AT__ + (Real.now() - began);
  class Fixed extends Real {
    constructor(...args) { if (args.length) super(...args); else super(shift()); }
    static now() { return shift(); }
  }
  window.Date = Fixed;
})();
"""


class Browser:
    """A headless Chromium with a profile that outlives it."""

    def __init__(
        self,
        chromium: str,
        driver: str,
        profile: Path,
        downloads: Path | None = None,
        zone: str = "",
    ) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        if downloads is not None:
            downloads.mkdir(parents=True, exist_ok=True)
            options.add_experimental_option(
                "prefs",
                {
                    "download.default_directory": str(downloads),
                    "profile.default_content_setting_values.automatic_downloads": 1,
                },
            )
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        self.downloads = downloads
        self.driver = webdriver.Chrome(options=options, service=Service(driver))
        self.driver.set_script_timeout(20)
        self._running = True
        self._clock: str | None = None

    def quit(self) -> None:
        if self._running:
            self._running = False
            self.driver.quit()

    def hold_back(self) -> None:
        """Let every other process go before the browser's own (not its pages'); Linux only."""
        driver = Path(f"/proc/{self.driver.service.process.pid}/task")
        children = [
            child for task in driver.iterdir() for child in (task / "children").read_text().split()
        ]
        assert children
        for child in children:
            for thread in Path(f"/proc/{child}/task").iterdir():
                os.setpriority(os.PRIO_PROCESS, int(thread.name), 15)

    def cdp(self, command: str, **values: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, values)

    def set_zone(self, zone: str) -> None:
        self.cdp("Emulation.setTimezoneOverride", timezoneId=zone)

    def set_clock(self, wall: str, zone_offset: str = "Z") -> None:
        """Let the page see this time from the next loading on (ISO, with its offset)."""
        self.before_load(_CLOCK.replace("__AT__", f'Real.parse("{wall}:00{zone_offset}")'))

    def before_load(self, script: str) -> None:
        if self._clock is not None:
            self.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=self._clock)
        self._clock = self.cdp("Page.addScriptToEvaluateOnNewDocument", source=script)["identifier"]

    def open(self, page: Path | str) -> None:
        """Load a file, or an address, and wait until the page has drawn its entries."""
        self.driver.get(page if isinstance(page, str) else page.as_uri())
        self.wait_until_drawn()

    def refresh(self) -> None:
        self.driver.refresh()
        self.wait_until_drawn()

    def wait_until_drawn(self) -> None:
        end = time.monotonic() + 20
        while not self.js(
            "return document.readyState === 'complete'"
            " && !document.querySelector('main').hasAttribute('aria-busy')"
        ):
            assert time.monotonic() < end, self.errors()
            time.sleep(0.01)

    def js(self, script: str, *values: Any) -> Any:
        return self.driver.execute_script(script, *values)

    def find(self, css: str) -> WebElement:
        return self.driver.find_element(By.CSS_SELECTOR, css)

    def all(self, css: str) -> list[WebElement]:
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def press(self, css: str) -> None:
        # scripted click: the element may lie under the message at the foot of the window
        self.js("arguments[0].click()", self.find(css))

    def type(self, css: str, text: str) -> None:
        field = self.find(css)
        field.clear()
        field.send_keys(text)

    def set_value(self, css: str, value: str) -> None:
        self.js(
            "const f = arguments[0]; f.value = arguments[1];"
            "for (const e of ['input', 'change']) f.dispatchEvent(new Event(e, {bubbles: true}));",
            self.find(css),
            value,
        )

    def rate(self, scores: dict[str, int], time: str | None = None, note: str = "") -> None:
        self.press("#open-rating")
        for symptom, score in scores.items():
            self.press(f'input[name="score-{symptom}"][value="{score}"]')
        if time is not None:
            self.set_value("#rating-time", time)
        if note:
            self.type("#rating-note", note)
        self.press("form button[type=submit]")

    def said(self) -> str:
        return str(self.js("return document.getElementById('said').textContent"))

    def wrong(self) -> str:
        return str(self.js("return document.querySelector('form .wrong')?.textContent ?? ''"))

    def notices(self) -> str:
        return str(self.js("return document.getElementById('notices').textContent"))

    def entries(self, client: str = "juniper") -> list[dict[str, Any]]:
        texts = self.js(
            "return Object.keys(localStorage).filter(k => k.startsWith(arguments[0]))"
            ".map(k => localStorage.getItem(k))",
            f"challenge/{client}/1/entry/",
        )
        return [json.loads(text) for text in texts]

    def save_files(self) -> dict[str, str]:
        """Press every download link; return what arrived, by kind."""
        assert self.downloads is not None
        for old in self.downloads.glob("*.csv"):
            old.unlink()
        links = self.all("#downloads a")
        for link in links:
            self.js("arguments[0].click()", link)
            time.sleep(0.15)
        end = time.monotonic() + 10
        while len(list(self.downloads.glob("*.csv"))) < len(links):
            assert time.monotonic() < end, list(self.downloads.iterdir())
            time.sleep(0.05)
        found = {}
        for path in self.downloads.glob("*.csv"):
            kind = next(k for k in ("symptoms", "foods", "events") if f"-{k}-" in path.name)
            found[kind] = path.read_bytes().decode("utf-8")
        return found

    def errors(self) -> list[str]:
        """Everything the page complained of since the last call."""
        return [line["message"] for line in self.driver.get_log("browser")]
