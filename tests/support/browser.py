"""A phone: a real browser without a window, of a phone's size, that is looked at and tapped."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from selenium import webdriver

SMALL, LARGE = (360, 640), (800, 1280)
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-proxy-server",
)
_UNTIL = """
const [happened, done] = [() => %s, arguments[arguments.length - 1]];
if (happened()) return done(true);
new MutationObserver((_, watch) => {
  if (happened()) { watch.disconnect(); done(true); }
}).observe(document, { subtree: true, childList: true, attributes: true, characterData: true });
"""
_HEAR = """
const start = OscillatorNode.prototype.start;
window.notes = [];
OscillatorNode.prototype.start = function (at) {
  notes.push([this.frequency.value, at]);
  document.documentElement.dataset.notes = notes.length;
  return start.call(this, at);
};
"""
_LISTEN = """
const [now, note] = [performance.now.bind(performance), (what) => {
  spoken.push(what);
  document.documentElement.dataset.spoken = spoken.length;
}];
Object.assign(window, { spoken: [], skipped_s: 0, voices: [], uttering: null });
performance.now = () => now() + 1000 * skipped_s;
SpeechSynthesis.prototype.getVoices = () => voices;
SpeechSynthesis.prototype.speak = (utterance) => {
  uttering = utterance;
  note(utterance.text);
};
SpeechSynthesis.prototype.cancel = () => {
  const cut = uttering;
  uttering = null;
  if (!cut) return;
  note(`cut: ${cut.text}`);
  setTimeout(() => cut.onerror());
};
window.finishSaying = () => {
  const done = uttering;
  uttering = null;
  done.onend();
};
"""
"""Notes what is said and cut off; nothing ends before ``finishSaying``, the clock can be put on."""


class Phone:
    """Waits in a thread for the browser, so that the server in this loop can answer it."""

    def __init__(self, profile: Path, size: tuple[int, int] = SMALL) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = shutil.which("chromium")
        for flag in (*_FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        service = webdriver.ChromeService(shutil.which("chromedriver"))
        self.driver = webdriver.Chrome(options, service)
        self.driver.set_script_timeout(15)
        self._devtools("Page.addScriptToEvaluateOnNewDocument", source=_HEAR + _LISTEN)
        self._devtools("Network.enable")
        self.resize(size)

    def _devtools(self, command: str, **arguments: object) -> None:
        self.driver.execute_cdp_cmd(command, arguments)

    def resize(self, size: tuple[int, int]) -> None:
        """Have a screen of so many pixels across and down."""
        width, height = size
        metrics = {"width": width, "height": height, "deviceScaleFactor": 2, "mobile": True}
        self._devtools("Emulation.setDeviceMetricsOverride", **metrics)
        self._devtools("Emulation.setTouchEmulationEnabled", enabled=True)

    def in_light(self, *, light: bool) -> None:
        """Have its owner prefer light colours, or dark ones."""
        value = "light" if light else "dark"
        self._devtools(
            "Emulation.setEmulatedMedia",
            features=[{"name": "prefers-color-scheme", "value": value}],
        )

    @contextmanager
    def begins_with(self, script: str) -> Generator[None, None, None]:
        """Have each page run a script before its own, for as long as this lasts."""
        added = self.driver.execute_cdp_cmd(
            "Page.addScriptToEvaluateOnNewDocument", {"source": script}
        )
        try:
            yield
        finally:
            self._devtools("Page.removeScriptToEvaluateOnNewDocument", **added)

    def picture(self, path: Path) -> None:
        """Save what is on its screen."""
        self.driver.save_screenshot(str(path))

    async def open(self, url: str) -> None:
        """Go to a page and wait until it shows a state."""
        await asyncio.to_thread(self.driver.get, url)
        await self.until("document.getElementById('sentence')?.textContent")

    async def run(self, script: str) -> object:
        """Return the value of a script's ``return``."""
        return await asyncio.to_thread(self.driver.execute_script, script)

    async def until(self, happened: str) -> None:
        """Wait until an expression of the page is true, looking at each change of the page."""
        await asyncio.to_thread(self.driver.execute_async_script, _UNTIL % happened)

    async def text(self, name: str) -> str:
        """Return what is shown in an element, by its id."""
        return str(await self.run(f"return document.getElementById('{name}').innerText"))

    async def tap(self, selector: str) -> None:
        """Tap the middle of an element."""

        def click() -> None:
            self.driver.find_element("css selector", selector).click()

        await asyncio.to_thread(click)

    def close(self) -> None:
        """Put it away."""
        self.driver.quit()
