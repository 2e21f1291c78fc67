"""``evencup overlay`` on real recordings: which it takes, what it writes, and what it says when it cannot."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.commands.choosing import day, recordings_of
from logger.target import read_target
from tests.logger.commands.program import ROOT, Evencup
from tests.logger.show.browsing import BROWSER, NO_BROWSER

TUESDAY = ROOT / "recordings" / "tuesday-practice"
FOUR_POURS = ROOT / "recordings" / "four-pours.toml"
ESPRESSO = ROOT / "recordings" / "evening" / "2026-11-24-1830-house-espresso"


@pytest.fixture
def kitchen(evencup: Evencup) -> Evencup:
    """Two brews of four pours, of two coffees on two days, and an espresso."""
    for name in ("2026-11-24-0705-four-pours", "2026-11-24-0716-four-pours"):
        shutil.copytree(TUESDAY / name, evencup.data / name)
    shutil.copytree(ESPRESSO, evencup.data / ESPRESSO.name)
    file = evencup.data / "2026-11-24-0716-four-pours" / "datapackage.json"
    text = file.read_text(encoding="utf-8")
    text = text.replace("washed, light roast", "Natural, light roast").replace(
        "2026-11-24T07:16", "2026-11-26T07:16"
    )
    file.write_text(text, encoding="utf-8")
    return evencup


@pytest.fixture
def utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="elsewhere the zone cannot be chosen")
def test_recordings_are_chosen_by_target_coffee_and_day(kitchen: Evencup, utc: None) -> None:
    target, older, newer = read_target(FOUR_POURS), "2026-11-24-0705-four-pours", "2026-11-24-0716-four-pours"

    def chosen(coffee: str = "", since: str | None = None, until: str | None = None) -> list[str]:
        days = day(since, "--since"), day(until, "--until")
        return [Path(path).name for path in recordings_of(target, kitchen.data, coffee, *days)]

    assert chosen() == [older, newer]
    assert chosen("NATURAL") == [newer]
    assert chosen(since="2026-11-25") == [newer]
    assert chosen(until="2026-11-24") == [older]
    assert chosen(since="2026-11-24", until="2026-11-26") == [older, newer]


def test_recordings_that_are_named_are_put_in_the_order_in_which_they_were_brewed(kitchen: Evencup) -> None:
    names = ["2026-11-24-0716-four-pours", "2026-11-24-0705-four-pours"]
    data = json.loads(kitchen.ok("overlay", FOUR_POURS, *names, "--json").out)
    assert [brew["recording"] for brew in data["brews"]] == sorted(names)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (
            ("--coffee", "geisha"),
            "holds no recording of the target 'Four pours', with 'geisha' in the coffee's name",
        ),
        (("--since", "tomorrow"), "--since: 'tomorrow' is no day. Write it as 2026-11-25."),
        (("2026-11-24-0705-four-pours", "--coffee", "washed"), "Leave out the one or the other."),
    ],
)
def test_what_cannot_be_chosen_is_said(kitchen: Evencup, options: tuple[str, ...], words: str) -> None:
    done = kitchen.run("overlay", FOUR_POURS, *options)
    assert done.code == 2
    assert words in " ".join(done.err.split())


def test_the_second_time_the_same_is_said_from_what_was_kept(kitchen: Evencup) -> None:
    first = kitchen.ok("overlay", FOUR_POURS, "--json").out
    kept = kitchen.here / "cache"
    assert len(list(kept.iterdir())) == 2
    assert kitchen.ok("overlay", FOUR_POURS, "--json").out == first


@pytest.mark.skipif(BROWSER is None, reason=NO_BROWSER)
def test_figures_are_written_as_pictures(kitchen: Evencup) -> None:
    done = kitchen.ok("overlay", FOUR_POURS, "--figures", "pictures")
    written = [Path(line).name for line in done.lines]
    assert written[:4] == [
        "four-pours-overlay-weight.png",
        "four-pours-overlay-weight.svg",
        "four-pours-overlay-off-plan.png",
        "four-pours-overlay-off-plan.svg",
    ]
    folder = kitchen.here / "pictures"
    assert (folder / written[0]).read_bytes().startswith(b"\x89PNG\r\n")
    drawing = (folder / written[1]).read_text(encoding="utf-8")
    assert drawing.startswith("<svg") and "2026-11-24-0705-four-pours" in drawing and "median" not in drawing


def test_where_no_browser_is_the_way_out_is_said(kitchen: Evencup) -> None:
    done = kitchen.run("report", ESPRESSO.name, "--figures", "pictures", EVENCUP_BROWSER="no-such-program")
    assert done.code == 1
    words = " ".join(done.err.split())
    assert "there is no browser to draw them with" in words
    assert "apt-get install chromium" in words and "--html" in words
