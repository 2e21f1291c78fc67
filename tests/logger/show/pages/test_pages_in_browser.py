"""The practice page and the brew's report under a reader's hands: boxes, views, keys, saving, print."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from logger.compare import spread
from logger.curve import Event
from logger.curve.temperature.probe_out import ProbeOut
from logger.show.figures.brew_figure import brew_figure
from logger.show.pages.overlay_page import Overlay, lay_over, overlay_page
from logger.show.pages.report_page import report_page
from tests.logger.show.browsing import (
    BROWSER,
    CUT,
    LAPTOP,
    LEGEND_ON_DATA,
    NO_BROWSER,
    OVERLAPS,
    PHONE,
    a_browser,
    opened,
)
from tests.logger.show.conftest import (
    START_S,
    brew_of,
    four_pours_target,
    hand_made_analysis,
    hand_made_comparison,
    hand_made_temperatures,
    practice_brews,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.skipif(BROWSER is None, reason=NO_BROWSER)

WORDS_IN_FIGURES = ".drawn .annotation-text, .drawn .textpoint text, .drawn .legendtext"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with a_browser() as one:
        yield one


@pytest.fixture(scope="module")
def thirty() -> Overlay:
    """Thirty brews, the kettle measured in each."""
    brews = [replace(brew, temperatures=hand_made_temperatures()) for brew in practice_brews(30)]
    return lay_over(brews, spread(brews, four_pours_target()))


@pytest.fixture(scope="module")
def practice_page(thirty: Overlay, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pages") / "practice.html"
    path.write_text(overlay_page(thirty, UTC), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def laptop(browser: Browser, practice_page: Path) -> Iterator[Page]:
    """The practice page on a laptop in the dark, all its brews to choose from."""
    with opened(browser, practice_page, LAPTOP, color_scheme="dark") as page:
        page.click("text=Choose among all 30 brews")
        yield page


@pytest.fixture(autouse=True)
def as_it_was(request: pytest.FixtureRequest) -> Iterator[None]:
    """After each test the laptop's page is as it was: nothing ticked, the weight shown."""
    yield
    if "laptop" in request.fixturenames:
        page = request.getfixturevalue("laptop")
        page.fill("#seek-brew", "")
        page.click("#no-line")
        page.uncheck("#every-line")
        page.check('input[value="weight"]', force=True)


def _box(brew: int) -> str:
    return f'[data-brew="{brew}"] >> nth=-1'


def _line(page: Page, brew: int | str) -> list[tuple[float, float]]:
    """The points of a brew's line as they are drawn; empty where it is not."""
    path = page.evaluate(f"document.querySelector('[data-line=\"{brew}\"]')?.getAttribute('d') || ''")
    return [(float(x), -float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path)]


def test_a_box_draws_its_brews_line_and_takes_it_away(laptop: Page, thirty: Overlay) -> None:
    assert _line(laptop, 3) == []
    laptop.check(_box(3))
    shown_s, shown_g = np.array(_line(laptop, 3)).T
    weight = thirty.curves[0]
    known_g = np.interp(shown_s, weight.time_s, weight.values[3])
    assert np.nanmax(np.abs(shown_g - known_g)) < 0.2
    box = laptop.locator('[data-line="3"]').bounding_box()
    assert box is not None and 100 < box["height"] < 440
    colour = laptop.locator('[data-line="3"]').evaluate("(one) => getComputedStyle(one).stroke")
    assert colour == "rgb(43, 199, 155)"  # the first of the dark theme
    laptop.uncheck(_box(3))
    assert _line(laptop, 3) == []


def test_views_change_with_the_arrow_keys_and_lines_go_along(laptop: Page) -> None:
    laptop.focus(_box(7))
    laptop.keyboard.press("Space")
    assert max(value for _, value in _line(laptop, 7)) > 250
    laptop.focus('input[name="view-overlay"]:checked')
    for wanted, top in (("off-plan", 60), ("flow", 12), ("kettle", 95)):
        laptop.keyboard.press("ArrowRight")
        assert laptop.get_attribute("#overlay", "data-shown") == wanted
        assert 0 < max(value for _, value in _line(laptop, 7)) < top
    assert "kettle, °C" in laptop.locator("#overlay .annotation-text").all_text_contents()


def _until(page: Page, expression: str, holds: Callable[[list[float]], bool], tries: int = 200) -> bool:
    """Ask the page again and again; it lets nobody evaluate a string by its own means (its policy)."""
    for _ in range(tries):
        if holds(page.evaluate(expression)):
            return True
        page.wait_for_timeout(50)
    return False


def test_a_line_stays_on_its_axes_when_the_figure_is_zoomed(laptop: Page) -> None:
    shown = "(({ x, width }) => [x, width])(document.querySelector('svg.brew-lines').viewBox.baseVal)"
    start, width = laptop.evaluate(shown)
    laptop.locator("#overlay").scroll_into_view_if_needed()
    area = laptop.locator("#overlay .nsewdrag").bounding_box()
    assert area is not None
    middle = area["y"] + area["height"] / 2
    laptop.mouse.move(area["x"] + area["width"] / 4, middle)
    laptop.mouse.down()
    laptop.mouse.move(area["x"] + area["width"] / 2, middle, steps=6)
    laptop.mouse.up()
    assert _until(laptop, shown, lambda at: at[1] < width / 2)
    assert laptop.evaluate(shown) == pytest.approx([start + width / 4, width / 4], abs=0.02 * width)
    ticks = laptop.locator("#overlay .xtick text").all_text_contents()
    assert all(re.fullmatch(r"\d:\d\d", tick) for tick in ticks)
    laptop.mouse.dblclick(area["x"] + area["width"] / 2, middle)
    assert _until(laptop, shown, lambda at: at[1] > 0.99 * width)


def test_the_line_under_the_pointer_is_named(laptop: Page) -> None:
    laptop.check(_box(3))
    laptop.locator("#overlay").scroll_into_view_if_needed()
    at = laptop.evaluate(
        """() => {
          const line = document.querySelector('[data-line="3"]');
          const end = line.getPointAtLength(line.getTotalLength() * 0.97);
          const at = new DOMPoint(end.x, end.y).matrixTransform(line.getScreenCTM());
          return [at.x, at.y];
        }"""
    )
    laptop.mouse.move(*at)
    assert "4 2026-11-04-four-pours" in laptop.inner_text(".told")


def test_brews_are_found_by_their_names(laptop: Page) -> None:
    laptop.fill("#seek-brew", "2026-11-17")
    assert laptop.locator("#all-brews li:visible").count() == 1


def test_every_brew_can_be_drawn_as_a_thin_line(laptop: Page) -> None:
    laptop.check("#every-line")
    assert len({x for x, _ in _line(laptop, "every")}) > 100
    laptop.uncheck("#every-line")
    assert _line(laptop, "every") == []


def test_figures_are_saved_with_the_lines_that_are_shown(laptop: Page, thirty: Overlay) -> None:
    laptop.check(_box(5))
    saved = {}
    for kind in ("png", "svg"):
        with laptop.expect_download() as download:
            laptop.click(f'[data-save="{kind}"][data-figure="overlay"]')
        saved[kind] = Path(download.value.path()).read_bytes()
    assert saved["png"].startswith(b"\x89PNG\r\n")
    assert thirty.names[5].encode() in saved["svg"]


def test_on_paper_a_page_is_light_and_keeps_its_figures_whole(laptop: Page) -> None:
    laptop.check(_box(5))
    laptop.emulate_media(media="print")
    laptop.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert laptop.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert laptop.evaluate("getComputedStyle(document.querySelector('figure')).breakInside") == "avoid"
    assert laptop.evaluate("document.getElementById('overlay').layout.width") == 680
    ink = laptop.locator("#overlay .xtick text").first.evaluate("(one) => getComputedStyle(one).fill")
    assert ink == "rgb(25, 23, 20)"
    assert laptop.locator("button:visible, summary:visible").count() == 0
    laptop.emulate_media(media="screen")
    laptop.evaluate("window.dispatchEvent(new Event('afterprint'))")


@pytest.fixture(scope="module")
def phone(browser: Browser, practice_page: Path) -> Iterator[Page]:
    with opened(browser, practice_page, PHONE) as page:
        yield page


@pytest.mark.parametrize("window", ["phone", "laptop"])
def test_nothing_of_the_practice_page_is_cut_or_covered(request: pytest.FixtureRequest, window: str) -> None:
    page = request.getfixturevalue(window)
    width = (PHONE if window == "phone" else LAPTOP)["width"]
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert page.locator(WORDS_IN_FIGURES).count() > 10
    assert page.evaluate(CUT, WORDS_IN_FIGURES) == []
    assert page.evaluate(OVERLAPS, WORDS_IN_FIGURES) == []
    assert page.evaluate(LEGEND_ON_DATA) == []


def test_the_practice_page_can_be_used_without_sight_or_mouse(phone: Page) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(phone).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found if one["impact"] != "minor"] == []


def test_on_a_phone_the_stages_open_one_by_one_and_paper_has_them_all(phone: Page) -> None:
    rows, heads = phone.locator("table.folds tbody tr:not(.group)"), phone.locator("table.folds button")
    all_rows = rows.count()
    assert rows.filter(visible=True).count() == 0
    heads.nth(1).click()
    opened_rows = rows.filter(visible=True).count()
    assert 0 < opened_rows < all_rows and heads.nth(1).get_attribute("aria-expanded") == "true"
    phone.emulate_media(media="print")
    assert rows.filter(visible=True).count() == all_rows
    phone.emulate_media(media="screen")
    heads.nth(1).click()
    assert rows.filter(visible=True).count() == 0


def _busy_brew() -> str:
    """A long brew in which much happens close together, two pours are far off, and a probe comes out."""
    analysis = hand_made_analysis()
    kinds = ("knock", "stir", "knock", "tare", "knock", "gap", "vessel-off", "vessel-on", "knock", "stir")
    events = tuple(
        Event(kind, START_S + 96.0 + 5 * n, START_S + 97.0 + 5 * n, 0.0) for n, kind in enumerate(kinds)
    )
    analysis = replace(analysis, events=events)
    out = SimpleNamespace(probe=SimpleNamespace(out=(ProbeOut("lifted", 60.0, 75.0, 80.0, 30.0),)))
    brew = brew_of(analysis, hand_made_comparison(hand_made_analysis()), **hand_made_temperatures())
    figure = brew_figure(replace(brew, thermometers={"kettle": out}))  # type: ignore[dict-item]
    page = report_page(brew, UTC)
    made = f'"figure": {{"curve": {figure.to_json()}}}'.replace("<", "\\u003c").replace(">", "\\u003e")
    return re.sub(
        r'(<script type="application/json" id="figure-data">).*?(</script>)',
        lambda found: f"{found[1]}{{{made}}}{found[2]}",
        page,
        flags=re.DOTALL,
    )


@pytest.mark.parametrize("window", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_marks_and_words_of_a_busy_brew_lie_clear_of_each_other(
    browser: Browser, tmp_path: Path, window: dict[str, int]
) -> None:
    path = tmp_path / "busy.html"
    path.write_text(_busy_brew(), encoding="utf-8")
    with opened(browser, path, window) as page:
        assert page.evaluate(CUT, WORDS_IN_FIGURES) == []
        assert page.evaluate(OVERLAPS, WORDS_IN_FIGURES) == []
        assert page.evaluate(LEGEND_ON_DATA) == []
        assert "kettle out of the water" in page.locator("#figure .annotation-text").all_text_contents()
