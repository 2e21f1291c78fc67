"""``evencup page``: recorders come and go, a killed one too, and all are seen side by side."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("playwright", reason="needs a browser's driver: pip install -e '.[test]'")

from playwright.sync_api import sync_playwright

from tests.logger.commands import small_brew
from tests.logger.page.brew_at_eight import Recorder
from tests.logger.page.watching import BROWSER, DESK, Watcher, launched

pytestmark = pytest.mark.skipif(BROWSER is None, reason="needs a browser: apt-get install chromium")


@pytest.fixture
def recorders() -> Iterator[list[Recorder]]:
    running: list[Recorder] = []
    yield running
    for one in running:
        one.kill()


def _target(here: Path, title: str) -> Path:
    path = here / f"{title}.toml"
    path.write_text(small_brew.TARGET.replace("Two small pours", title), encoding="utf-8")
    return path


def test_every_recorder_is_seen_until_it_ends(tmp_path: Path, recorders: list[Recorder]) -> None:
    def record(title: str) -> Recorder:
        target = _target(tmp_path, title)
        device = f"simulated:{target}?seed=4&level=easy"
        recorders.append(Recorder(tmp_path, "record", target, "--scale", device))
        return recorders[-1]

    recorders.append(Recorder(tmp_path, "page"))
    stations = recorders[0]
    left, right = record("Left bench"), record("Right bench")
    with sync_playwright() as playwright:
        browser = launched(playwright)
        watcher = Watcher(browser, DESK)
        watcher.open(stations.url)
        cards = watcher.page.locator("article")
        cards.nth(1).wait_for()
        shown = watcher.page.inner_text("main")
        assert "Left bench" in shown
        assert "Right bench" in shown
        assert not watcher.too_wide()

        # From a card to the coach's view of that station alone.
        watcher.page.get_by_role("link", name="Left bench").click()
        watcher.until(lambda data: data.get("time") is not None)
        assert watcher.page.inner_text("#title") == "Left bench"
        watcher.page.click("#other-view")
        watcher.until(lambda data: data.get("time") is not None)
        watcher.page.goto(stations.url)
        cards.nth(1).wait_for()

        right.process.kill()  # it can tidy nothing up
        right.process.wait()
        cards.nth(1).wait_for(state="detached")
        assert "Right bench" not in watcher.page.inner_text("main")
        files = list((tmp_path / "run").iterdir())
        assert len(files) == 1
        left.interrupt()
        cards.nth(0).wait_for(state="detached")
        assert "No recorder with a page runs" in watcher.page.inner_text("main")
        assert list((tmp_path / "run").iterdir()) == []
        assert [words for words in watcher.troubles if "net::ERR_" not in words] == []
        browser.close()
    code, _, err = stations.interrupt()
    assert (code, err) == (0, "")
