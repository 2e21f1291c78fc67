"""What the page says aloud: each call once, at its time or not at all, as the target wants it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

import pytest

from logger.guide import Call, Sound
from tests.logger.page.cues import pouring, waiting

pytest.importorskip("playwright", reason="needs a browser's driver: pip install -e '.[test]'")

from playwright.sync_api import sync_playwright

from tests.logger.page.background import Background
from tests.logger.page.sleeper import Sleeper
from tests.logger.page.watching import BROWSER, Watcher, launched

pytestmark = pytest.mark.skipif(BROWSER is None, reason="needs a browser: apt-get install chromium")


class Ear:
    """A phone that was touched once, and the page that it looks at."""

    def __init__(self, served: Background, watcher: Watcher) -> None:
        self.served, self.watcher = served, watcher
        self._time_s = itertools.count(10.0, 0.5)

    def show(self, *calls: Call, wait: bool = True, **more: Any) -> float:
        """Show a moment in which calls are due; give its time."""
        time_s = next(self._time_s)
        due = tuple(Call(call.id, call.time_s or time_s, call.kind, call.text) for call in calls)
        self.served.show(pouring(time_s, 50.0, time_s=time_s, calls=due, **more))
        if wait:
            self.watcher.until(lambda data: data.get("time") == f"{time_s:g}")
        return time_s

    @property
    def said(self) -> list[str]:
        return [words["text"] for words in self.watcher.spoken]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_playwright() as playwright:
        one = launched(playwright)
        yield one
        one.close()


@pytest.fixture
def ear(browser: Any) -> Iterator[Ear]:
    with Background() as served:
        watcher = Watcher(browser)
        watcher.open(served.url)
        watcher.until(lambda data: data.get("link") == "live")
        watcher.page.mouse.click(195, 5)
        yield Ear(served, watcher)
        watcher.context.close()


def due(number: int, text: str, kind: Any = "next") -> Call:
    return Call(number, 0.0, kind, text)


def test_a_call_is_given_once_however_often_it_is_seen(ear: Ear) -> None:
    first = Call(1, ear.show(), "next", "to one ninety")
    for _ in range(3):
        ear.show(first)
    ear.show(first, due(2, "stop", "stop"))
    assert ear.said == ["to one ninety", "stop"]
    assert {tone["hertz"] for tone in ear.watcher.tones} == {523.0, 1319.0}


def test_each_brew_counts_its_calls_anew(ear: Ear) -> None:
    ear.show(due(1, "pour", "start"), brew=1)
    ear.show(due(1, "pour", "start"), brew=2)
    assert ear.said == ["pour", "pour"]


def test_words_language_and_volume_are_the_targets(ear: Ear) -> None:
    ear.show(due(1, "auf hundertneunzig"), sound=Sound(volume=0.3, language="de-AT", tones=False))
    (words,) = ear.watcher.spoken
    assert (words["text"], words["lang"]) == ("auf hundertneunzig", "de-AT")
    assert words["volume"] == pytest.approx(0.3)
    assert ear.watcher.tones == []


def test_tones_alone_and_nothing_at_all(ear: Ear) -> None:
    ear.show(due(1, "pour", "start"), sound=Sound(speech=False))
    ear.show(due(2, "stop", "stop"), sound=Sound(volume=0.0))
    assert ear.said == []
    assert [tone["hertz"] for tone in ear.watcher.tones] == [660.0, 990.0]


def test_what_was_called_while_the_page_slept_stays_unsaid(ear: Ear) -> None:
    sleeper = Sleeper(ear.watcher.context.browser, ear.watcher.page)
    sleeper.open(ear.served.url)
    ear.show()
    sleeper.until("document.body?.dataset.time !== undefined")
    sleeper.freeze(True)
    ear.show(due(1, "to one ninety"))
    ear.watcher.page.wait_for_timeout(1500)  # asleep for longer than a call is news
    now_s = ear.show(due(2, "stop", "stop"))
    sleeper.freeze(False)
    sleeper.until(f"Number(document.body.dataset.time) === {now_s}")
    assert ear.said == ["to one ninety", "stop"]
    assert sleeper.said == ["stop"]


def test_who_opens_the_page_is_not_told_what_is_over(ear: Ear) -> None:
    ear.watcher.page.close()
    late = Watcher(ear.watcher.context.browser)
    ear.served.show(pouring(60.0, 100.0, time_s=60.0, calls=(Call(1, 58.0, "start", "pour"),)))
    late.open(ear.served.url)
    late.until(lambda data: data.get("time") == "60")
    assert late.spoken == []
    late.context.close()


def test_sound_is_offered_until_the_page_was_touched_once_and_not_while_it_pours(browser: Any) -> None:
    with Background() as served:
        watcher = Watcher(browser)
        watcher.open(served.url)
        offer = watcher.page.locator("#sound")
        served.show(waiting(1.0))
        watcher.until(lambda data: data.get("time") == "1")
        assert offer.is_visible()
        served.show(pouring(1.0, 2.0, time_s=2.0))
        watcher.until(lambda data: data.get("time") == "2")
        assert not offer.is_visible()
        served.show(waiting(3.0))
        watcher.until(lambda data: data.get("time") == "3")
        offer.click()
        watcher.page.wait_for_timeout(200)
        assert not offer.is_visible()
        watcher.context.close()


def test_a_silent_target_offers_no_sound(browser: Any) -> None:
    with Background() as served:
        watcher = Watcher(browser)
        watcher.open(served.url)
        served.show(waiting(1.0, sound=Sound(volume=0.0)))
        watcher.until(lambda data: data.get("time") == "1")
        assert not watcher.page.locator("#sound").is_visible()
        watcher.context.close()
