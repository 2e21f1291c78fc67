"""Every number that a page shows is in the line of JSON, as a number or within one of its sentences."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from logger.compare import assess, spread
from logger.recording import Recording
from logger.show.pages.overlay_page import Overlay, lay_over, overlay_json, overlay_page
from logger.show.pages.report_page import report_page
from logger.show.plain_data.json_line import report_json
from logger.target import read_target
from tests.logger.show.page_text import shown_text, without_captions

RECORDINGS = Path("recordings")
TUESDAY = sorted((RECORDINGS / "tuesday-practice").iterdir())
EVENING = sorted((RECORDINGS / "evening").iterdir())

_CLOCK = re.compile(r"-?(?:\d+:)?\d+:\d\d(?:\.\d)?")
_NUMBER = re.compile(r"±?\d+(?:\.\d+)?(?:e-?\d+)?")
_MOMENT = re.compile(r"\d{1,2} [A-Z][a-z]+ \d{4}, \d\d:\d\d")
_SIGNS = "+-−±✓✗?–"
CERTAINTY = {"2", "90", "95"}
"""How sure an interval is meant to be, and the name of a scale's own arithmetic: no results."""


class _Known:
    """The numbers and the sentences of a line of JSON."""

    def __init__(self, data: Any) -> None:
        self.numbers: list[float] = []
        self.texts: list[str] = []
        for one in _leaves(json.loads(json.dumps(data, allow_nan=False))):
            (self.texts if isinstance(one, str) else self.numbers).append(one)
        self.array = np.abs(np.array(self.numbers, dtype=np.float64))
        self.joined = "\n".join(self.texts).replace("\u00a0", " ")

    def has(self, value: float, decimals: int, scales: tuple[float, ...] = (1.0, 100.0)) -> bool:
        """Whether a number of these, or its hundredfold as a percentage, is shown as this one."""
        half = 0.5000001 * 10.0**-decimals
        half += 6e-5 if decimals < 4 else 6e-7  # what rounding for the JSON takes
        return any(bool((np.abs(self.array * scale - value) <= half).any()) for scale in scales)


def _leaves(value: Any) -> Iterator[float | str]:
    if isinstance(value, dict):
        for key, one in value.items():
            yield key
            if key != "curves":  # of so many points one would always fit
                yield from _leaves(one)
            if "_between_" in key and one is not None:  # shown as give or take
                was = value[key.replace("_between_", "_")]
                yield max(one[1] - was, was - one[0])
    elif isinstance(value, list):
        yield float(len(value))  # "9 brews", "1 round"
        for place, one in enumerate(value, 1):
            yield float(place)
            yield from _leaves(one)
    elif isinstance(value, bool) or value is None:
        return
    elif isinstance(value, str):
        yield value
    else:
        yield float(value)


def _seconds(clock: str) -> float:
    total = 0.0
    for part in clock.lstrip("-").split(":"):
        total = 60 * total + float(part)
    return total


def missing(page: str, data: Any) -> list[str]:
    """The numbers on a page that its JSON does not have, with the words around them."""
    known, found = _Known(data), []
    for line in shown_text(without_captions(page)).splitlines():
        line = line.strip()
        if not line or line in known.joined or line.strip(_SIGNS + ". ") in known.joined:
            continue
        left = _MOMENT.sub("", line)
        clocks = _CLOCK.findall(left)
        found += [f"{clock} in {line!r}" for clock in clocks if not _is_known_time(clock, known)]
        left = _CLOCK.sub("", left)
        for text in known.texts:
            if len(text) > 3 and any(letter.isdigit() for letter in text):
                left = left.replace(text.replace("\u00a0", " "), "")
        found += [f"{number} in {line!r}" for number in _NUMBER.findall(left) if not _is_known(number, known)]
    return found


def _is_known_time(clock: str, known: _Known) -> bool:
    return known.has(_seconds(clock), 1 if "." in clock else 0)


def _is_known(number: str, known: _Known) -> bool:
    """Whether a number is in the JSON; after ± stands twice the standard uncertainty that the JSON has."""
    decimals = len(number.partition(".")[2])
    scales = (1.0, 2.0) if number.startswith("±") else (1.0, 100.0)
    return number in CERTAINTY or known.has(float(number.lstrip("±")), decimals, scales)


@pytest.fixture(scope="module")
def tuesday() -> tuple[Overlay, str]:
    """The practice set of a morning, and its page."""
    target = read_target(RECORDINGS / "four-pours.toml")
    brews = [assess(Recording.open(path), target=target) for path in TUESDAY]
    laid = lay_over(brews, spread(brews, target))
    return laid, overlay_page(laid, UTC)


def test_every_number_of_the_practice_page_is_in_its_json(tuesday: tuple[Overlay, str]) -> None:
    laid, page = tuesday
    assert missing(page, overlay_json(laid)) == []


def test_the_page_itself_carries_them_too(tuesday: tuple[Overlay, str]) -> None:
    _, page = tuesday
    carried = re.search(r'id="evencup-data">(.*?)</script>', page, re.DOTALL)
    assert carried is not None
    assert missing(page, json.loads(carried[1])) == []


@pytest.mark.parametrize("path", [TUESDAY[0], *EVENING], ids=lambda path: path.name)
def test_every_number_of_a_brews_report_is_in_its_json(path: Path) -> None:
    brew = assess(Recording.open(path))
    assert missing(report_page(brew, UTC), report_json(brew)) == []


def test_every_number_of_a_page_of_espressos_is_in_its_json() -> None:
    target = read_target(RECORDINGS / "house-espresso.toml")
    brews = [assess(Recording.open(path), target=target) for path in EVENING if "espresso" in path.name]
    laid = lay_over(brews, spread(brews, target))
    assert missing(overlay_page(laid, UTC), overlay_json(laid)) == []


def test_a_number_that_is_not_in_the_json_is_found() -> None:
    assert missing("<p>poured 47.3 g at 0:51.8</p>", {"to_g": 47.4, "at_s": 51.8}) == [
        "47.3 in 'poured 47.3 g at 0:51.8'"
    ]
