from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC
from html.parser import HTMLParser

import pytest
from plotly.offline import get_plotlyjs

from logger.compare import Brew, Comparison
from logger.curve import Pour
from logger.recording import Recording
from logger.show.pages.report_page import curve_caption, report_page
from tests.logger.show.conftest import ranged


class _Page(HTMLParser):
    """The page as a reader gets it: its tags, its words, and the scripts apart."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: dict[str, str] = {}
        self._words: list[str] = []
        self._inside = ""
        self._script = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag
        self._script = dict(attrs).get("id") or ""

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts[self._script] = self.scripts.get(self._script, "") + data
        elif self._inside != "style":
            self._words.append(data)

    @property
    def words(self) -> str:
        return " ".join(" ".join(self._words).split())


def _shown(brew: Brew) -> _Page:
    return _Page(report_page(brew, UTC))


def _with_meta(brew: Brew, **facts: object) -> Brew:
    recording = brew.recording
    meta = replace(recording.meta, **facts)  # type: ignore[arg-type]  # names given by the test
    return replace(brew, recording=Recording(recording.path, meta, recording.problems, recording.readings))


def test_the_verdict_comes_first_then_the_change_then_how_sure(brew: Brew) -> None:
    words = _shown(brew).words
    order = [
        words.index("Two of four stages were off"),
        words.index("Change this next"),
        words.index("How sure?"),
        words.index("Against the target"),
        words.index("About this recording"),
    ]
    assert order == sorted(order)
    assert (
        "25 November 2026, 06:47 · pour-over · Example Farm, washed · dose 18.0 g · grind 24 clicks" in words
    )


def test_each_figure_has_wanted_actual_difference_and_result_in_words(brew: Brew) -> None:
    words = _shown(brew).words
    assert "weight 140.0 g ±3 144.2 g 4.2 g heavy ✗ outside" in words
    assert "start 0:45 ±3 0:46.3 1.3 s late ✓ inside" in words
    assert "water 90.0 °C ±2 not measured ? cannot be told no temperature during this pour" in words


def test_the_page_needs_nothing_from_anywhere(brew: Brew) -> None:
    page = _shown(brew)
    fetching = [
        name for tag, attrs in page.tags for name in attrs if name in ("src", "href", "srcset", "action")
    ]
    assert fetching == []
    policies = [attrs["content"] for tag, attrs in page.tags if attrs.get("http-equiv")]
    assert policies == [
        "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:"
    ]


def test_the_page_is_small_besides_its_drawing_library(brew: Brew) -> None:
    assert len(report_page(brew).encode()) - len(get_plotlyjs().encode()) < 500_000


@pytest.mark.parametrize("fact", ["title", "coffee", "grind", "notes"])
def test_what_the_brewer_wrote_is_shown_as_text_and_never_run(brew: Brew, fact: str) -> None:
    nasty = '</script><script>alert(1)</script><img src=x onerror="alert(2)"> & "q"'
    before = len([tag for tag, _ in _shown(brew).tags])
    page = _shown(_with_meta(brew, **{fact: nasty}))
    assert len([tag for tag, _ in page.tags]) == before
    assert nasty in page.words
    assert json.loads(page.scripts["evencup-data"])["brewer_notes" if fact == "notes" else fact] == nasty


def test_nasty_names_of_stages_and_channels_stay_text(brew: Brew) -> None:
    nasty = "<img src=x onerror=alert(1)>"
    assert brew.comparison is not None
    first = brew.comparison.stages[0]
    renamed = replace(first, stage=replace(first.stage, name=nasty))
    comparison = replace(brew.comparison, stages=(renamed, *brew.comparison.stages[1:]))
    page = _shown(replace(brew, comparison=comparison, temperatures={nasty: brew.temperatures["kettle"]}))
    assert not [tag for tag, _ in page.tags if tag == "img"]
    assert nasty not in page.scripts["figure-data"]


def test_the_pages_data_is_strict_json(brew: Brew) -> None:
    def refuse(constant: str) -> None:
        raise AssertionError(constant)

    data = json.loads(_shown(brew).scripts["evencup-data"], parse_constant=refuse)
    assert data["stages"][1]["name"] == "pour 1"


def test_without_a_target_pours_are_shown_and_nothing_is_judged(untargeted_brew: Brew) -> None:
    words = _shown(untargeted_brew).words
    assert "298.8 g water, 4 pours, done after 3:04." in words
    assert "No target was given for this brew, so nothing is judged." in words
    assert "Against the target" not in words
    assert "2 0:46.3 1:00.5 90.6 g 144.2 g 6.4 g/s" in words


def test_without_a_brew_the_page_says_so_plainly(no_brew: Brew) -> None:
    page = _shown(no_brew)
    assert "No brew was found in this recording." in page.words
    assert "Change this next" not in page.words
    assert "figure-data" in page.scripts


def test_a_recording_that_was_cut_off_says_so_before_the_verdict(brew: Brew) -> None:
    recording = Recording(
        brew.recording.path, brew.recording.meta, ("cut off: the last line is torn",), brew.recording.readings
    )
    words = _shown(replace(brew, recording=recording)).words
    assert words.index("cut off: the last line is torn") < words.index("Two of four stages were off")


def test_extra_pours_and_stages_that_ran_together_are_named(brew: Brew) -> None:
    comparison = brew.comparison
    assert comparison is not None
    merged = replace(comparison.stages[2], finding="merged", deviations=())
    missing = replace(comparison.stages[3], finding="missing", pours=(), deviations=())
    extra = Pour(172.0, 174.0, 298.8, 306.0, 7.2, 3.6, 4.0)
    changed = replace(comparison, stages=(*comparison.stages[:2], merged, missing), extra=(extra,))
    words = _shown(replace(brew, comparison=changed)).words
    assert "pour 2 ran together with another pour" in words
    assert "pour 3 no pour found" in words
    assert "Poured without a stage for it 7.2 g at 2:40, done at 2:42" in words


def test_a_shot_is_reported_by_its_yield(shot: Brew) -> None:
    words = _shown(shot).words
    assert "yield 36.0 g ±3 37.2 g 1.2 g heavy ✓ inside" in words
    assert "first drip 0:06.5 ±1.5 not measured ? cannot be told the pump's start was not recorded" in words
    assert "from the first drop in the cup, the extraction shaded" in words


def test_hot_water_is_cautioned_about(brew: Brew) -> None:
    assert "scald" in _shown(brew).words


def test_a_brew_that_is_inside_has_nothing_to_change(brew: Brew) -> None:
    assert brew.comparison is not None
    fine: Comparison = replace(brew.comparison, change="", verdict="All stages inside.")
    words = _shown(replace(brew, comparison=fine)).words
    assert "Change this next" not in words
    assert re.search(r"All stages inside\. How sure\?", words)


def test_devices_are_told_in_words_and_without_what_the_driver_counts(brew: Brew) -> None:
    devices = (
        {
            "name": "bench",
            "address": "serial:/dev/ttyUSB0",
            "channels": ["server"],
            "driver": "serial",
            "steps": {"server": 0.1},
            "outages": [{"since_s": 3.0, "until_s": 4.0, "why": "gone", "attempts": 2}],
        },
        {"address": "modbus:/dev/ttyUSB1", "channels": ["kettle", "slurry"], "baud": 9600},
    )
    words = _shown(_with_meta(brew, devices=devices)).words
    about = words[words.index("About this recording") :]
    assert "Device: bench at serial:/dev/ttyUSB0, channel server." in about
    assert "Device: modbus:/dev/ttyUSB1, channels kettle, slurry." in about
    assert "{" not in about and "9600" not in about


def test_beside_starts_ends_and_grams_stands_how_far_they_may_be_off(brew: Brew) -> None:
    words = _shown(ranged(brew)).words.replace("\u00a0", " ")
    assert "0:46.3 ±0.2 1:00.5 ±0.4 90.6 g ±0.3 144.2 g" in words
    assert "± is give or take: nine times in ten it was no further off" in words
    assert "give or take" not in _shown(brew).words


def test_the_caption_says_what_to_see_with_units_and_uncertainty_in_one_sentence(
    brew: Brew, untargeted_brew: Brew, no_brew: Brew
) -> None:
    for one in (brew, untargeted_brew, no_brew):
        caption = curve_caption(one)
        assert caption.count(".") - len(re.findall(r"\d\.\d", caption)) == 1
        assert "one recording" in caption and "g/s" in caption and "±0.1" in caption
    assert curve_caption(brew).startswith("Where the thick line leaves the band")
