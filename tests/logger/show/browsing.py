"""A real browser without network for the pages' tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
NO_BROWSER = "needs a browser: apt-get install chromium"
PHONE = {"width": 390, "height": 844}
LAPTOP = {"width": 1280, "height": 800}
_SWITCHES = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip


@contextmanager
def a_browser() -> Iterator[Browser]:
    """Start one."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as tools:
        browser = tools.chromium.launch(executable_path=BROWSER, args=list(_SWITCHES))
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def opened(browser: Browser, path: Path, window: dict[str, int], **more: Any) -> Iterator[Page]:
    """Open a page; what it logs or fetches from anywhere fails the test."""
    context = browser.new_context(viewport=window, accept_downloads=True, **more)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: said.append(request.url) if request.url.startswith("http") else None)
    try:
        page.goto(path.as_uri())
        page.locator(".drawn .main-svg").first.wait_for(state="attached")
        yield page
    finally:
        context.close()
    assert said == []


OVERLAPS = """
(selector) => {
  const boxes = [...document.querySelectorAll(selector)]
    .filter((one) => one.textContent.trim())
    .map((one) => ({ words: one.textContent, box: one.getBoundingClientRect() }))
    .filter((one) => one.box.width > 0);
  const meets = (a, b) =>
    a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 2 && b.top < a.bottom - 2;
  const found = [];
  boxes.forEach((one, at) => boxes.slice(at + 1).forEach((other) => {
    if (meets(one.box, other.box)) found.push(one.words + " / " + other.words);
  }));
  return found;
}
"""
"""Which texts of a page lie on each other."""

CUT = """
(selector) => [...document.querySelectorAll(selector)]
  .filter((one) => one.textContent.trim())
  .filter((one) => {
    const box = one.getBoundingClientRect();
    return box.width > 0 && (box.left < 0 || box.right > document.documentElement.clientWidth + 0.5);
  })
  .map((one) => one.textContent)
"""
"""Which texts of a page reach over its edge."""

LEGEND_ON_DATA = """
() => [...document.querySelectorAll(".drawn")].filter((figure) => {
  const legend = figure.querySelector(".legend");
  if (!legend) return false;
  const { t, h } = figure._fullLayout._size;
  return figure.getBoundingClientRect().top + t + h > legend.getBoundingClientRect().top + 1;
}).map((figure) => figure.id)
"""
"""Which figures have their legend over their data."""
