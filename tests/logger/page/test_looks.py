"""What every moment looks like: on a phone and on a desk, light and dark, to eyes and to a screen reader."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from logger.guide import Cue, DeviceState, PlanChange, StageCue, Verdict, Water
from tests.logger.page.cues import pouring, waiting

pytest.importorskip("playwright", reason="needs a browser's driver: pip install -e '.[test]'")

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright

from tests.logger.page.background import Background
from tests.logger.page.watching import BROWSER, DESK, PHONE, Watcher, launched

pytestmark = pytest.mark.skipif(BROWSER is None, reason="needs a browser: apt-get install chromium")

PX_PER_MM = 390 / 65
"""Of a common phone: 390 CSS pixels on 65 mm."""

LEGIBLE_MM = 9.6
"""22 minutes of arc at 1.5 m: NUREG-0700 1.3.1-4, preferred character height (20 to 22 minutes)."""

LYING = (844, 390)
DIGITS = ("figure", "clock", "next", "flow")

STAGES = (
    StageCue(1, "bloom", 0.0, 9.0, 0.0, 45.0, 5.0),
    StageCue(2, "pour 1", 40.0, 52.5, 45.0, 120.0, 6.0),
    StageCue(3, "pour 2", 70.0, 80.8, 120.0, 185.0, 6.0, changed=True),
)
KETTLE = Water("kettle", 91.3, 94.0, False, "2.7 °C too cool")
WELL = (DeviceState("scale", "fresh"), DeviceState("kettle", "fresh"))
ALL: dict[str, Any] = {"stages": STAGES, "water": (KETTLE,), "devices": WELL, "end_s": 180.0}
HOT = "Water boils at 95.0 °C here: the 96 °C of the brew cannot be had. It is not counted as a miss."
VERDICT = Verdict(
    "Two of four stages were off: pour 1 ended 4.2 g heavy, pour 3 began 6.4 s late.",
    "Stop pour 1 about 4 g sooner; the next pour then starts from the right weight.",
    "likely",
    "One brew says little about the next.",
)

MOMENTS: dict[str, Cue] = {
    "before": waiting(**ALL, warnings=(HOT,), title="Four pours", total_g=240.0),
    "pour": pouring(44.0, 82.0, **ALL, rate=-0.1),
    "slower": pouring(45.0, 90.0, **ALL, rate=0.9, word="slower", word_text="slower"),
    "stop": pouring(51.0, 118.0, **ALL, rate=0.1, word="stop", word_text="stop"),
    "too much": pouring(52.0, 123.0, **ALL, word="stop", word_text="stop", to_go_g=-3.0),
    "pause": pouring(58.0, 121.0, **ALL, phase="pause", word="wait", word_text="wait", next_in_s=11.6,
                     stage=STAGES[2], change=PlanChange(1, 53.0, "pour 1 ended 3 g high: pour 2 to 185 g.")),
    "drawdown": pouring(120.0, 240.0, **ALL, phase="drawdown", word="wait", word_text="wait", next_in_s=60.0),
    "lost": pouring(44.0, 82.0, **ALL | {"devices": (DeviceState("scale", "lost", 4.0),)}, rate=0.0),
    "done": pouring(180.0, 240.0, **ALL, phase="done", word="done", word_text="done", verdict=VERDICT),
    "between": waiting(**ALL, verdict=VERDICT),
    "shot": pouring(21.0, 23.4, shot=True, stages=(), stage=None, to_go_g=12.6, total_g=36.0, flow_g_s=1.7,
                    word="wait", word_text="wait", rate=0.2, title="House espresso", devices=WELL),
}  # fmt: skip


@dataclass
class Looks:
    """What was found, by moment and by who looks."""

    words: dict[tuple[str, str], str] = field(default_factory=dict)
    px: dict[tuple[str, str, str], float] = field(default_factory=dict)
    overflowing: list[tuple[str, str]] = field(default_factory=list)
    outside: list[tuple[str, str, str]] = field(default_factory=list)
    axe: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    troubles: list[str] = field(default_factory=list)
    shots: Path = Path()


@pytest.fixture(scope="module")
def looks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Looks]:
    found = Looks(shots=tmp_path_factory.mktemp("shots"))
    with Background() as served, sync_playwright() as playwright:
        browser = launched(playwright)
        watchers = {
            "phone": Watcher(browser),
            "phone dark": Watcher(browser, dark=True),
            "lying": Watcher(browser, LYING),
            "desk": Watcher(browser, DESK),
            "coach": Watcher(browser, DESK),
            "coach dark": Watcher(browser, DESK, dark=True),
            "coach phone": Watcher(browser, PHONE),
        }
        for name, watcher in watchers.items():
            watcher.open(served.url + ("bench" if "coach" in name else ""))
        for second in range(1, 44):
            served.do(lambda at=second: served.board.feeds[""].pass_by(pouring(float(at), 2.1 * at)))
        for number, (moment, cue) in enumerate(MOMENTS.items()):
            cue = replace(cue, time_s=100.0 + number)
            served.show(cue)
            for name, watcher in watchers.items():
                if (moment, name) not in LOOKED_AT:
                    continue
                watcher.until(lambda data, at=cue.time_s: data.get("time") == f"{at:g}")
                _look(watcher, moment, name, found)
        browser.close()
    yield found


def _look(watcher: Watcher, moment: str, name: str, found: Looks) -> None:
    page = watcher.page
    found.words[moment, name] = page.inner_text("body")
    if watcher.too_wide():
        found.overflowing.append((moment, name))
    if "coach" not in name:
        for part in ("figure", "clock", "next", "flow", "pace", "result", "warnings"):
            box = page.locator(f"#{part}").bounding_box()
            if box is None or not box["height"] or not page.inner_text(f"#{part}"):
                continue
            if part in DIGITS:
                found.px[moment, name, part] = watcher.digits_px(part)
            if box["x"] < 0 or box["x"] + box["width"] > page.viewport_size["width"]:
                found.outside.append((moment, name, part))
            if box["y"] < 0 or box["y"] + box["height"] > page.viewport_size["height"]:
                found.outside.append((moment, name, part))
    page.screenshot(path=found.shots / f"{moment}, {name}.png")
    if (moment, name) in EXAMINED:
        found.axe[moment, name] = _violations(page)
    found.troubles += watcher.troubles


LOOKED_AT = {
    *product(MOMENTS, ("phone",)),
    *product(("stop", "shot"), ("phone dark",)),
    *product(("slower", "pause", "shot"), ("lying",)),
    *product(("slower", "done"), ("desk",)),
    *product(("before", "pause", "done"), ("coach",)),
    *product(("pause",), ("coach dark", "coach phone")),
}
EXAMINED = {("before", "phone"), ("done", "phone"), ("stop", "phone dark"), ("pause", "coach dark")}


def _violations(page: Any) -> list[str]:
    results = Axe().run(page).response["violations"]
    return [f"{one['id']} ({one['impact']}): {one['nodes'][0]['html']}" for one in results]


def _lines(words: str) -> list[str]:
    """What can be seen; the heading is for the ear."""
    return [line for line in words.splitlines() if line.strip() and line != "Pour guidance"]


def test_while_it_pours_there_are_four_things_and_nothing_else(looks: Looks) -> None:
    assert _lines(looks.words["pour", "phone"]) == ["pour", "38", "g to go", "0:44", "slow", "fast"]


def test_in_a_pause_there_are_the_seconds_and_the_next_weight(looks: Looks) -> None:
    assert _lines(looks.words["pause", "phone"])[:5] == [
        "wait",
        "12",
        "seconds",
        "to 185 g",
        "0:58",
    ]


def test_too_much_is_said_in_words(looks: Looks) -> None:
    assert "3\n" in looks.words["too much", "phone"]
    assert "g too much" in looks.words["too much", "phone"]


def test_afterwards_one_verdict_one_thing_to_change_and_how_sure(looks: Looks) -> None:
    words = looks.words["done", "phone"]
    for part in ("done", "Two of four stages were off", "Stop pour 1 about 4 g sooner", "Likely: One brew"):
        assert part in words
    assert words.count("Change first") == 1
    assert "180" not in words


def test_the_result_stays_until_the_next_brew(looks: Looks) -> None:
    words = looks.words["between", "phone"]
    for part in ("ready", "Two of four stages were off", "Stop pour 1 about 4 g sooner", "Likely: One brew"):
        assert part in words


def test_a_target_that_cannot_be_had_is_said_before_the_brew(looks: Looks) -> None:
    assert HOT in looks.words["before", "phone"]
    assert HOT in looks.words["before", "coach"]
    assert HOT not in looks.words["pour", "phone"]


def test_before_the_brew_it_is_said_whether_the_water_is_ready(looks: Looks) -> None:
    assert "kettle 91.3 °C: 2.7 °C too cool" in looks.words["before", "phone"]
    assert "kettle" not in looks.words["pour", "phone"]


def test_a_lost_scale_is_said_while_it_pours_too(looks: Looks) -> None:
    assert "scale: link lost, 4 s" in looks.words["lost", "phone"]


def test_an_espresso_shows_grams_seconds_and_flow(looks: Looks) -> None:
    words = looks.words["shot", "phone"]
    for part in ("23.4", "of 36 g", "0:21", "1.7 g/s"):
        assert part in words


def test_the_coach_sees_plan_water_devices_and_what_has_changed(looks: Looks) -> None:
    words = looks.words["pause", "coach"]
    for part in (
        "Four pours", "pour 2 (changed)", "185 g", "kettle: 91.3 °C, 2.7 °C too cool", "scale: well",
        "pour 1 ended 3 g high: pour 2 to 185 g.", "corridor of the coming 20 s",
    ):  # fmt: skip
        assert part in words


def test_digits_can_be_read_from_a_metre_and_a_half(looks: Looks) -> None:
    """On a phone, standing or lying; the words' own letters are not digits."""
    on_phones = {key: px for key, px in looks.px.items() if key[1] in ("phone", "phone dark", "lying")}
    assert {("pour", "phone", "figure"), ("pour", "phone", "clock"), ("pause", "phone", "next")} <= set(
        on_phones
    )
    for key, px in on_phones.items():
        assert px / PX_PER_MM >= LEGIBLE_MM, key


def test_nothing_is_cut_off(looks: Looks) -> None:
    assert looks.overflowing == []
    assert looks.outside == []


def test_no_serious_barrier_is_found(looks: Looks) -> None:
    serious = {
        key: [one for one in found if re.search("serious|critical", one)] for key, found in looks.axe.items()
    }
    assert [one for found in serious.values() for one in found] == []
    assert len(serious) == len(EXAMINED)


def test_the_browser_has_nothing_to_complain_of(looks: Looks) -> None:
    assert looks.troubles == []


def test_pictures_were_taken(looks: Looks) -> None:
    for moment, name in LOOKED_AT:
        assert (looks.shots / f"{moment}, {name}.png").stat().st_size > 3000
