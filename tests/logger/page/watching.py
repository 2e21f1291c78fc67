"""A browser that looks at a page and writes down what it shows and says, frame by frame."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Browser, Page, Playwright

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
PHONE, DESK = (390, 844), (1280, 800)

_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=user-gesture-required",
)

WITNESS = """
window.seen = []; window.spoken = []; window.tones = [];
const text = (id) => document.getElementById(id)?.textContent ?? "";
addEventListener("DOMContentLoaded", () => {
  new MutationObserver(() => {
    const { time, phase, word, link } = document.body.dataset;
    const [said, figure, caption, next, clock] = ["word", "figure", "caption", "next", "clock"].map(text);
    const shown = { phase, word, link, said, figure, caption, next, clock };
    seen.push({ wall_ms: Date.now(), time_s: Number(time), ...shown });
  }).observe(document.body, { attributes: true, attributeFilter: ["data-time"] });
});
const now = () => Number(document.body.dataset.time ?? -1);
const speak = SpeechSynthesis.prototype.speak;
SpeechSynthesis.prototype.speak = function (words) {
  if (words.text) spoken.push({ time_s: now(), text: words.text, volume: words.volume, lang: words.lang });
  return speak.call(this, words);
};
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (when) {
  tones.push({ time_s: now(), hertz: this.frequency.value, when_s: when });
  return start.call(this, when);
};
"""

_DIGITS_PX = """(id) => {
  const style = getComputedStyle(document.getElementById(id));
  const pen = document.createElement("canvas").getContext("2d");
  pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  return pen.measureText("0").actualBoundingBoxAscent;
}"""


def launched(playwright: Playwright, *flags: str) -> Browser:
    return playwright.chromium.launch(executable_path=BROWSER, args=[*_FLAGS, *flags])


class Watcher:
    """One page in a browser of its own, not opened yet."""

    def __init__(self, browser: Browser, size: tuple[int, int] = PHONE, *, dark: bool = False) -> None:
        self.context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce" if dark else "no-preference",
        )
        self.troubles: list[str] = []
        self.page: Page = self.context.new_page()
        self.page.add_init_script(WITNESS)
        self.page.on("pageerror", lambda error: self.troubles.append(str(error)))
        self.page.on("console", lambda line: self.troubles.append(line.text))
        self.asked: list[str] = []
        self.page.on("request", lambda request: self.asked.append(request.url))

    def open(self, url: str) -> None:
        self.page.goto(url, wait_until="commit")

    def __getattr__(self, name: str) -> Any:
        """What the page has written down: ``seen``, ``spoken``, ``tones``."""
        if name not in ("seen", "spoken", "tones"):
            raise AttributeError(name)
        return self.page.evaluate(name)

    def until(self, true: Callable[[dict[str, str]], bool], timeout_s: float = 60.0) -> None:
        """Wait until something is true of what the body says of the moment.

        Asked from outside: the page's policy forbids Playwright's own way, which evaluates text in the page.
        """
        deadline_s = time.monotonic() + timeout_s
        while not true(data := dict(self.page.evaluate("({...document.body?.dataset})"))):
            assert time.monotonic() < deadline_s, data
            self.page.wait_for_timeout(15)

    def data(self, name: str) -> Any:
        return self.page.evaluate(f"document.body?.dataset.{name} ?? null")

    def time_s(self) -> float:
        """The moment that is shown, on the readings' axis."""
        return float(self.data("time") or 0.0)

    def digits_px(self, name: str) -> float:
        """How high a digit is that stands in an element."""
        return float(self.page.evaluate(_DIGITS_PX, name))

    def too_wide(self) -> bool:
        return bool(self.page.evaluate("document.documentElement.scrollWidth > innerWidth"))

    def shown(self) -> set[str]:
        """The text that can be seen on the page."""
        lines = self.page.inner_text("body").splitlines()
        return {line.strip() for line in lines if line.strip()}
