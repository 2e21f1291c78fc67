"""The screen stays on where the browser can do that, and the page says so where it cannot."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.logger.page.cues import waiting

pytest.importorskip("playwright", reason="needs a browser's driver: pip install -e '.[test]'")

from playwright.sync_api import sync_playwright

from tests.logger.page.background import Background
from tests.logger.page.watching import BROWSER, Watcher, launched

pytestmark = pytest.mark.skipif(BROWSER is None, reason="needs a browser: apt-get install chromium")

_LOCK = """
window.asked = []; window.held = [];
Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
  const lock = new EventTarget(); asked.push(kind); held.push(lock); return lock;
} } });
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_playwright() as playwright:
        one = launched(playwright)
        yield one
        one.close()


def _opened(browser: Any, served: Background, script: str) -> Watcher:
    watcher = Watcher(browser)
    watcher.page.add_init_script(script)
    watcher.open(served.url)
    served.show(waiting(1.0))
    watcher.until(lambda data: data.get("time") == "1")
    return watcher


def test_the_screen_is_held_and_held_again_after_it_was_let_go(browser: Any) -> None:
    with Background() as served:
        watcher = _opened(browser, served, _LOCK)
        assert watcher.page.evaluate("asked") == ["screen"]
        watcher.page.evaluate("held[0].dispatchEvent(new Event('release'))")
        watcher.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert watcher.page.evaluate("asked") == ["screen", "screen"]
        watcher.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert len(watcher.page.evaluate("asked")) == 2  # it is held: nothing to ask for
        assert "dark" not in watcher.page.inner_text("footer")
        watcher.context.close()


def test_a_browser_that_cannot_says_so(browser: Any) -> None:
    with Background() as served:
        watcher = _opened(browser, served, "delete Navigator.prototype.wakeLock;")
        assert "may let the screen go dark here: set it to stay on" in watcher.page.inner_text("footer")
        watcher.context.close()
