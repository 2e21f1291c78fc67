from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC

import pytest
from rich.console import Console

from logger.compare import Brew
from logger.recording import Recording
from logger.show.terminal.summary import print_summary
from tests.logger.show.conftest import ranged


def _printed(brew: Brew, encoding: str = "utf-8", width: int = 80, **options: object) -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    print_summary(brew, Console(file=file, width=width, **options), UTC)  # type: ignore[arg-type]  # options by name
    file.flush()
    return raw.getvalue().decode(encoding).replace("\u00a0", " ")


def test_the_verdict_is_read_first(brew: Brew) -> None:
    lines = _printed(brew).splitlines()
    assert lines[0] == "Morning practice, brew 4"
    assert lines[4].startswith("✗ Two of four stages were off: pour 1 ended 4.2 g heavy")
    assert lines[6].startswith("Change this next: Stop pour 1 about 4 g sooner")


def test_eighty_columns_hold_every_line_and_every_row_stays_one_line(brew: Brew) -> None:
    lines = _printed(brew).splitlines()
    assert max(len(line) for line in lines) <= 80
    assert "            weight  140.0 g ±3    144.2 g  4.2 g heavy   ✗ outside" in [
        line.rstrip() for line in lines
    ]
    assert "            water   90.0 °C ±2    -                      ? cannot be told" in lines


def test_a_pipe_gets_no_colours(brew: Brew) -> None:
    assert "\x1b" not in _printed(brew)


def test_colour_is_left_out_where_it_is_not_wanted(brew: Brew, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")  # no-color.org
    monkeypatch.setenv("TERM", "xterm-256color")
    printed = _printed(brew, force_terminal=True)
    assert "\x1b[1m" in printed
    assert "38;5" not in printed


def test_a_terminal_without_unicode_gets_ascii(brew: Brew) -> None:
    printed = _printed(brew, encoding="ascii")
    assert "! Two of four stages were off" in printed
    assert "= inside" in printed
    assert "93.0 C +-2" in printed


def test_what_the_brewer_wrote_is_neither_markup_nor_control(brew: Brew) -> None:
    meta = replace(brew.recording.meta, title="[red]x[/red]\x1b[2J :coffee:")
    recording = Recording(brew.recording.path, meta, (), brew.recording.readings)
    assert _printed(replace(brew, recording=recording)).splitlines()[0] == "[red]x[/red] [2J :coffee:"


def test_without_a_target_the_pours_are_listed(untargeted_brew: Brew) -> None:
    printed = _printed(untargeted_brew)
    assert "No target was given for this brew, so nothing is judged." in printed
    assert (
        "2      0:46.3   1:00.5   90.6 g   144.2 g" in printed
        or "2     0:46.3  1:00.5  90.6 g  144.2 g" in printed
    )


def test_beside_a_figure_stands_how_far_it_may_be_off(untargeted_brew: Brew) -> None:
    printed = _printed(ranged(untargeted_brew))
    assert "2     0:46.3 ±0.2  1:00.5 ±0.4  90.6 g ±0.3  144.2 g" in printed
    assert "± is give or take: nine times in ten" in printed


def test_where_that_is_too_wide_it_is_said_below_and_every_row_stays_one_line(
    untargeted_brew: Brew, brew: Brew
) -> None:
    printed = _printed(ranged(replace(untargeted_brew, temperatures=brew.temperatures)))
    assert max(len(line) for line in printed.splitlines()) <= 80
    assert "2     0:46.3  1:00.5  90.6 g  144.2 g" in printed
    assert "A pour's start is good to about ±0.2 s" in printed


def test_without_a_brew_there_is_no_chart_and_no_table(no_brew: Brew) -> None:
    printed = _printed(no_brew)
    assert "No brew was found in this recording." in printed
    assert "│" not in printed


def test_what_stops_the_figures_from_being_told_is_said(brew: Brew, shot: Brew) -> None:
    assert "pour 3, water: no temperature during this pour." in _printed(brew)
    assert "first drip: the pump's start was not recorded." in _printed(shot)


@pytest.mark.parametrize("width", [30, 60, 200])
def test_any_width_works(brew: Brew, width: int) -> None:
    assert max(len(line) for line in _printed(brew, width=width).splitlines()) <= width
