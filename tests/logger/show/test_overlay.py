from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC

import numpy as np
import pytest
from plotly.offline import get_plotlyjs
from rich.console import Console

from logger.compare import Brew, Spread, spread
from logger.show.overlay_figure import overlay_figure
from logger.show.overlay_page import overlay_json, overlay_page
from logger.show.overlay_rows import distances
from logger.show.overlay_summary import print_overlay
from logger.target import Target


@pytest.fixture
def practice(practice_set) -> tuple[list[Brew], Spread, Target]:
    return practice_set(9)


def _page(practice: tuple[list[Brew], Spread, Target]) -> str:
    return overlay_page(*practice, UTC)


def test_every_brew_has_a_curve_and_a_box_that_hides_it(practice: tuple[list[Brew], Spread, Target]) -> None:
    brews, evenness, _ = practice
    page = _page(practice)
    figure = overlay_figure(evenness, [brew.recording.name for brew in brews])
    keys = {
        trace.legendgroup
        for trace in figure.data
        if trace.legendgroup and trace.legendgroup.startswith("brew")
    }
    assert len(keys) == 9
    assert all(f'data-curve="{key}"' in page for key in keys)


def test_curves_lie_on_their_first_weight(practice: tuple[list[Brew], Spread, Target]) -> None:
    brews, evenness, _ = practice
    figure = overlay_figure(evenness, [brew.recording.name for brew in brews])
    curves = [trace for trace in figure.data if trace.legendgroup and trace.legendgroup.startswith("brew")]
    assert {float(curve.x[0]) for curve in curves} == {0.0}
    assert all(curve.y[0] < 1.0 for curve in curves)


def test_the_band_holds_half_of_the_brews(practice: tuple[list[Brew], Spread, Target]) -> None:
    # numpy's quartiles as the outside measure; the band is drawn from the spread's
    _, evenness, _ = practice
    at = int(np.searchsorted(evenness.time_s, 70.0))
    figure = overlay_figure(evenness, [str(n) for n in range(9)])
    edges = [trace for trace in figure.data if trace.legendgroup == "middle" and trace.x[0] == 0.0]
    drawn = [float(np.interp(evenness.time_s[at], edge.x, edge.y)) for edge in edges[:2]]
    assert drawn == pytest.approx(np.nanquantile(evenness.weight_g[:, at], (0.25, 0.75)), abs=0.1)


def test_three_brews_are_never_called_even(practice_set) -> None:
    page = overlay_page(*practice_set(3), UTC)
    assert "too few" in page


def test_each_figure_has_its_count_mean_and_scatter(practice: tuple[list[Brew], Spread, Target]) -> None:
    brews, evenness, _ = practice
    weights_g = [brew.analysis.pours[1].to_g for brew in brews]
    data = json.loads(json.dumps(overlay_json(brews, evenness), allow_nan=False))
    figure = data["stages"][1]["figures"]["to_g"]
    assert figure["n"] == 9
    # numpy as the outside check of mean and sample standard deviation
    assert figure["mean"] == pytest.approx(np.mean(weights_g), abs=1e-3)
    assert figure["sd"] == pytest.approx(np.std(weights_g, ddof=1), abs=1e-3)
    assert f"{np.mean(weights_g):.1f}\u00a0g" in _page(practice)


def test_a_brew_unlike_the_others_is_named(practice: tuple[list[Brew], Spread, Target]) -> None:
    _, evenness, _ = practice
    odd = evenness.weight_g.copy()
    odd[4] += 60.0
    apart = [distance.stands_apart for distance in distances(replace(evenness, weight_g=odd))]
    assert apart.index(True) == 4
    assert apart.count(True) == 1


def test_with_few_brews_none_is_called_unlike(practice_set) -> None:
    _, evenness, _ = practice_set(4)
    odd = evenness.weight_g.copy()
    odd[0] += 60.0
    assert not any(distance.stands_apart for distance in distances(replace(evenness, weight_g=odd)))


def test_recordings_without_a_brew_are_named_as_left_out(
    practice: tuple[list[Brew], Spread, Target], no_brew: Brew
) -> None:
    brews, evenness, target = practice
    page = overlay_page([*brews, no_brew], evenness, target, UTC)
    assert f"no brew was found in them: {no_brew.recording.name}." in page


def test_nothing_at_all_to_overlay_is_a_page_too(no_brew: Brew, practice_set) -> None:
    _, _, target = practice_set(1)
    page = overlay_page([no_brew], spread([no_brew], target), target, UTC)
    assert "0 brews" in page
    assert 'id="figure"' not in page


def test_thirty_brews_still_make_a_small_page(practice_set) -> None:
    page = overlay_page(*practice_set(30), UTC)
    assert len(page.encode()) - len(get_plotlyjs().encode()) < 500_000


def test_the_terminal_shows_the_same(practice: tuple[list[Brew], Spread, Target], no_brew: Brew) -> None:
    brews, evenness, _ = practice
    file = io.StringIO()
    print_overlay([*brews, no_brew], evenness, Console(file=file, width=80))
    printed = file.getvalue()
    assert max(len(line) for line in printed.splitlines()) <= 80
    assert printed.startswith("Four pours: 9 brews")
    assert "The median brew in the target's corridor:" in printed
    assert f"no brew was found in them: {no_brew.recording.name}." in printed.replace("\n", " ")


def test_that_brews_are_too_few_is_said_once(practice_set) -> None:
    brews, few, target = practice_set(3)
    words = "3 brews are too few to say how even the cups are"
    assert overlay_page(brews, few, target, UTC).split("<script")[0].count(words) == 1
    out = io.StringIO()
    print_overlay(brews, few, Console(file=out, width=100))
    assert " ".join(out.getvalue().split()).count(words) == 1


def test_what_enough_brews_can_say_stands_beside_the_verdict(
    practice: tuple[list[Brew], Spread, Target],
) -> None:
    assert "9 brews: each figure" in _page(practice)
