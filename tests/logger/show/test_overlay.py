from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from plotly.offline import get_plotlyjs
from rich.console import Console

from logger.compare import Brew, Spread, compare, spread
from logger.compare.standing_apart import generalised_esd, standing_apart
from logger.curve import Analysis
from logger.recording import Recording
from logger.show.curves.overlay_curves import Curves, overlay_curves, pointwise_quantiles
from logger.show.curves.overlay_lines import MOST_POINTS_IN_ALL, packed, thinned_alike, unpacked
from logger.show.figures.overlay_figure import LOOKS, overlay_figure
from logger.show.pages.overlay_page import Overlay, lay_over, overlay_json, overlay_page, pictured_figures
from logger.show.terminal.overlay_summary import print_overlay
from logger.show.words.overlay_rows import distances
from logger.show.words.practice_words import fix_name, shown_fixes
from logger.target import Target
from tests.logger.show.conftest import POURS, four_pours_target, hand_made_analysis, practice_brews


@pytest.fixture(scope="module")
def practice() -> tuple[list[Brew], Spread, Target]:
    brews, target = practice_brews(9), four_pours_target()
    return brews, spread(brews, target), target


@pytest.fixture(scope="module")
def thirty() -> tuple[Overlay, str]:
    """Thirty brews, and their page."""
    brews = practice_brews(30)
    laid = lay_over(brews, spread(brews, four_pours_target()))
    return laid, overlay_page(laid, UTC)


@pytest.fixture(scope="module")
def overlay(practice: tuple[list[Brew], Spread, Target]) -> Overlay:
    return lay_over(practice[0], practice[1])


def _curves(overlay: Overlay, key: str) -> Curves:
    return next(curves for curves in overlay.curves if curves.key == key)


def _shown(page: str) -> str:
    """The page without its scripts."""
    return page.split("<script")[0]


# ---- curves ----


def test_there_is_a_view_of_weight_flow_and_each_thermometer(brew: Brew) -> None:
    evenness = spread([brew], four_pours_target())
    assert [curves.key for curves in overlay_curves([brew], evenness)] == [
        "weight",
        "off-plan",
        "flow",
        "kettle",
        "slurry",
    ]


def test_a_thermometer_called_weight_keeps_apart_from_the_weight(brew: Brew) -> None:
    named = replace(brew, temperatures={"weight": brew.temperatures["kettle"]})
    keys = [curves.key for curves in overlay_curves([named], spread([named], four_pours_target()))]
    assert keys == ["weight", "off-plan", "flow", "weight, °C"]


def test_curves_lie_on_their_first_weight(overlay: Overlay) -> None:
    weight = _curves(overlay, "weight")
    assert weight.time_s[0] == 0.0
    assert np.all(weight.values[:, 0] < 1.0)


def test_the_quantiles_are_numpys() -> None:
    rng = np.random.default_rng(3)
    values = rng.normal(size=(11, 40))
    values[rng.random(values.shape) < 0.2] = np.nan
    shares = (0.05, 0.25, 0.5, 0.95)
    assert np.allclose(pointwise_quantiles(values, shares), np.nanquantile(values, shares, axis=0))


def test_a_median_is_told_only_where_half_of_the_brews_have_readings(overlay: Overlay) -> None:
    cut = overlay.spread.weight_g.copy()
    cut[:5, 1200:] = np.nan
    weight, *_ = overlay_curves(overlay.held, replace(overlay.spread, weight_g=cut))
    assert np.isfinite(weight.median[1199])
    assert np.isnan(weight.median[1200])
    assert weight.n_at[1200] == 4


def test_readings_of_a_probe_out_of_the_water_are_left_out(brew: Brew) -> None:
    from types import SimpleNamespace

    from logger.curve.temperature.probe_out import ProbeOut

    out = ProbeOut("lifted", 42.0, 60.0, 66.0, 30.0)
    thermometer = SimpleNamespace(probe=SimpleNamespace(out=(out,)))
    lifted = replace(brew, thermometers={"kettle": thermometer})  # type: ignore[dict-item]  # all that is asked
    curves = overlay_curves([lifted], spread([lifted], four_pours_target()))
    kettle = next(one for one in curves if one.key == "kettle")
    at_s = kettle.time_s + (brew.analysis.start_s or 0.0)
    assert np.isnan(kettle.values[0][(at_s > 43.0) & (at_s < 65.0)]).all()
    assert np.isfinite(kettle.values[0][(at_s > 14.0) & (at_s < 41.0)]).all()


# ---- lines on demand ----


def test_a_packed_line_comes_back_to_a_64_000th_of_what_is_shown(overlay: Overlay) -> None:
    for curves in overlay.curves:
        time_s, values = thinned_alike(curves)
        shown_s, shown = unpacked(json.loads(json.dumps(packed(curves))), len(values))
        assert shown_s == pytest.approx(time_s)
        assert np.array_equal(np.isnan(shown), np.isnan(values))
        assert np.nanmax(np.abs(shown - values)) <= np.ptp(values[np.isfinite(values)]) / 64_000 + 1e-9


def test_very_many_brews_get_fewer_points_each(overlay: Overlay) -> None:
    weight = _curves(overlay, "weight")
    many = replace(weight, values=np.repeat(weight.values, 56, axis=0))
    time_s, values = thinned_alike(many)
    assert len(time_s) >= 300
    assert values.size <= 1.4 * MOST_POINTS_IN_ALL


def test_a_thinned_flow_loses_no_water(overlay: Overlay) -> None:
    flow = _curves(overlay, "flow")
    many = replace(flow, values=np.repeat(flow.values, 56, axis=0))
    time_s, values = thinned_alike(many)
    step_s = time_s[1] - time_s[0]
    poured_g = np.nansum(values[0]) * step_s
    assert poured_g == pytest.approx(overlay.held[0].analysis.total_g, rel=0.02)


def test_the_page_carries_every_brew_and_a_box_for_it(overlay: Overlay) -> None:
    page = overlay_page(overlay, UTC)
    assert [f'data-brew="{place}"' in page for place in range(9)] == [True] * 9
    assert page.count('type="checkbox" data-brew') == 9


# ---- the figure ----


def test_the_band_holds_half_of_the_brews(overlay: Overlay) -> None:
    # numpy's quartiles as the outside measure
    weight = _curves(overlay, "weight")
    figure = overlay_figure(weight, overlay.target, overlay.names)
    at = int(np.searchsorted(weight.time_s, 70.0))
    edges = [trace for trace in figure.data if trace.legendgroup == "middle half of the brews"]
    drawn = [float(np.interp(weight.time_s[at], edge.x, edge.y)) for edge in edges[:2]]
    assert drawn == pytest.approx(np.nanquantile(weight.values[:, at], (0.25, 0.75)), abs=0.1)


def test_few_brews_have_no_band_and_many_have_two(
    practice_set, overlay: Overlay, thirty: tuple[Overlay, str]
) -> None:
    def bands(curves: Curves) -> set[str]:
        figure = overlay_figure(curves, overlay.target, [])
        return {trace.name for trace in figure.data if trace.name and "of the brews" in trace.name}

    few, evenness, _ = practice_set(3)
    assert bands(overlay_curves(few, evenness)[0]) == set()
    assert bands(overlay.curves[0]) == {"middle half of the brews"}
    assert bands(thirty[0].curves[0]) == {"middle half of the brews", "nine tenths of the brews"}


def test_brews_that_are_asked_for_are_lines_that_differ_by_colour_and_dash(overlay: Overlay) -> None:
    figure = overlay_figure(_curves(overlay, "weight"), overlay.target, overlay.names, [4, 0, 7])
    lines = [trace for trace in figure.data if trace.name in overlay.names]
    assert [line.name for line in lines] == [overlay.names[place] for place in (4, 0, 7)]
    assert len({line.line.dash for line in lines}) == len({line.line.color for line in lines}) == 3


def test_no_two_of_the_first_twenty_lines_look_alike() -> None:
    assert len(set(LOOKS)) == 20


def test_the_flow_and_the_water_that_are_wanted_are_drawn_with_their_tolerance(brew: Brew) -> None:
    target = four_pours_target()
    _, _, flow, kettle, slurry = overlay_curves([brew], spread([brew], target))
    first = overlay_figure(flow, target, ["one"]).data[:3]
    assert [trace.y[0] for trace in first] == [4.5, 7.5, 6.0]
    last = [trace for trace in overlay_figure(kettle, target, ["one"]).data if trace.name == "planned"][-1]
    assert last.y[0] == 90.0
    assert not [trace for trace in overlay_figure(slurry, target, ["one"]).data if trace.name == "planned"]


def test_a_picture_has_the_lines_that_the_page_draws_when_it_is_opened(overlay: Overlay) -> None:
    weight = pictured_figures(overlay)[0].views[0].figure
    assert {trace.name for trace in weight.data} >= set(overlay.names)


# ---- brews that stand apart ----

# Rosner (1983), as worked in NIST/SEMATECH e-Handbook 1.3.5.17.3: 54 values, of which the last three are
# outliers at 5 %.
ROSNER = (
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56,
    1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10,
    2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92,
    2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
)  # fmt: skip


def test_the_handbooks_example_has_three_outliers() -> None:
    found = generalised_esd(np.array(ROSNER), 0.05, 10)
    assert [ROSNER[place] for place in found] == [6.01, 5.42, 5.34]


def test_values_that_are_all_alike_have_no_outlier() -> None:
    assert generalised_esd(np.full(12, 3.0), 0.05, 3) == []


def test_even_sets_are_left_alone_about_nineteen_times_in_twenty() -> None:
    rng = np.random.default_rng(8)
    named = [bool(generalised_esd(rng.normal(size=20), 0.05, 4)) for _ in range(1000)]
    # Rosner: close to the nominal level from 15 values on; 3 standard deviations of 1000 draws are 0.02
    assert 0.02 <= np.mean(named) <= 0.08


def _with_late_third_pour(late_s: float) -> list[Brew]:
    brews = practice_brews(12)
    pours = [*POURS[:2], (POURS[2][0] + late_s, POURS[2][1] + late_s, *POURS[2][2:]), POURS[3]]
    analysis: Analysis = hand_made_analysis(tuple(pours))
    recording = Recording(Path("2026-11-30-odd-one"), brews[0].recording.meta, (), pd.DataFrame())
    return [*brews, Brew(recording, analysis, compare(analysis, four_pours_target(), {}), {})]


def test_a_brew_that_stands_apart_is_named_with_the_stage_and_what_was_odd_there() -> None:
    brews = _with_late_third_pour(14.0)
    overlay = lay_over(brews, spread(brews, four_pours_target()))
    assert [bool(words) for words in overlay.apart].index(True) == 12
    assert overlay.apart[12].replace("\u00a0", " ").startswith("stands apart: pour 2, start 1")
    assert "s later than usual" in overlay.apart[12].replace("\u00a0", " ")
    assert overlay.apart[12] in _shown(overlay_page(overlay, UTC))


def test_a_difference_that_no_taster_would_mind_is_not_named(practice_set) -> None:
    brews, _, target = practice_set(12)
    for number, brew in enumerate(brews):
        same = hand_made_analysis()
        pours = same.pours if number else tuple(replace(pour, to_g=pour.to_g + 0.5) for pour in same.pours)
        same = replace(same, pours=pours)
        brews[number] = replace(brew, analysis=same, comparison=compare(same, target, {}))
    found = standing_apart([brew.comparison for brew in brews if brew.comparison])
    assert not any(found)


def test_a_curve_far_from_the_others_is_named(practice: tuple[list[Brew], Spread, Target]) -> None:
    _, evenness, _ = practice
    odd = evenness.weight_g.copy()
    odd[4] += 60.0
    found = distances(replace(evenness, weight_g=odd))
    assert [distance.stands_apart for distance in found].count(True) == 1
    assert found[4].stands_apart and found[4].stage


def test_with_few_brews_none_is_called_unlike(practice_set) -> None:
    _, evenness, _ = practice_set(4)
    odd = evenness.weight_g.copy()
    odd[0] += 60.0
    assert not any(distance.stands_apart for distance in distances(replace(evenness, weight_g=odd)))


# ---- the page ----


def test_three_brews_are_never_called_even(practice_set) -> None:
    brews, few, _ = practice_set(3)
    assert "too few" in overlay_page(lay_over(brews, few), UTC)


def test_each_figure_has_its_count_mean_and_scatter(overlay: Overlay) -> None:
    weights_g = [brew.analysis.pours[1].to_g for brew in overlay.held]
    data = json.loads(json.dumps(overlay_json(overlay), allow_nan=False))
    figure = data["stages"][1]["figures"]["to_g"]
    assert figure["n"] == 9
    # numpy as the outside check of mean and sample standard deviation
    assert figure["mean"] == pytest.approx(np.mean(weights_g), abs=1e-3)
    assert figure["sd"] == pytest.approx(np.std(weights_g, ddof=1), abs=1e-3)
    assert f"{np.mean(weights_g):.1f}\u00a0g" in overlay_page(overlay, UTC)


def test_recordings_without_a_brew_are_named_as_left_out(
    practice: tuple[list[Brew], Spread, Target], no_brew: Brew
) -> None:
    brews, evenness, _ = practice
    page = overlay_page(lay_over([*brews, no_brew], evenness), UTC)
    assert f"no brew was found in them: {no_brew.recording.name}." in page


def test_nothing_at_all_to_overlay_is_a_page_too(no_brew: Brew, practice_set) -> None:
    _, _, target = practice_set(1)
    page = overlay_page(lay_over([no_brew], spread([no_brew], target)), UTC)
    assert "0 brews" in page
    assert 'id="overlay"' not in page


def test_thirty_brews_still_make_a_small_page(thirty: tuple[Overlay, str]) -> None:
    _, page = thirty
    assert len(page.encode()) - len(get_plotlyjs().encode()) < 2_500_000


def test_of_many_brews_only_those_that_stand_apart_are_drawn_from_the_start(
    thirty: tuple[Overlay, str],
) -> None:
    page = _shown(thirty[1])
    assert page.count('data-brew="3"') == 1
    assert '<input type="checkbox" data-brew="3" checked' not in page
    assert "Choose among all 30 brews" in page


def test_the_terminal_shows_the_same(practice: tuple[list[Brew], Spread, Target], no_brew: Brew) -> None:
    brews, evenness, _ = practice
    file = io.StringIO()
    print_overlay(lay_over([*brews, no_brew], evenness), Console(file=file, width=80))
    printed = file.getvalue()
    assert max(len(line) for line in printed.splitlines()) <= 80
    assert printed.startswith("Four pours: 9 brews")
    assert "The median brew in the target's corridor:" in printed
    assert f"no brew was found in them: {no_brew.recording.name}." in printed.replace("\n", " ")


def test_the_terminal_ranks_what_to_put_right(overlay: Overlay) -> None:
    file = io.StringIO()
    print_overlay(overlay, Console(file=file, width=80))
    _, _, table = file.getvalue().partition("if this alone were put right")
    rows = [line.split("  ") for line in table.splitlines()[2:]]
    rows = rows[: next(number for number, row in enumerate(rows) if not row[0].strip())]
    fixes = shown_fixes(overlay.spread.practice)
    names = [fix_name(fix, "pour-over") for fix in fixes]
    assert [row[0].strip() for row in rows] == names and len(names) > 1
    for fix, row in zip(fixes, rows, strict=True):
        assert f"{100 * fix.then:.0f}" in " ".join(row)
    late = [fix for fix in fixes if not fix.carried and fix.brews_needed]
    assert table.count("more brew") == len(late)


def test_that_brews_are_too_few_is_said_once(practice_set) -> None:
    brews, few, _ = practice_set(3)
    words = "3 brews are too few to say how even the cups are"
    laid = lay_over(brews, few)
    assert _shown(overlay_page(laid, UTC)).count(words) == 1
    out = io.StringIO()
    print_overlay(laid, Console(file=out, width=100))
    assert " ".join(out.getvalue().split()).count(words) == 1


def test_what_enough_brews_can_say_stands_beside_the_verdict(overlay: Overlay) -> None:
    assert "9 brews: each figure" in overlay_page(overlay, UTC)


def test_espressos_are_called_shots_and_have_their_figures() -> None:
    from logger.compare import assess
    from logger.target import read_target

    target = read_target(Path("recordings/house-espresso.toml"))
    brews = [
        assess(Recording.open(path), target=target)
        for path in sorted(Path("recordings/evening").glob("*espresso"))
    ]
    page = _shown(overlay_page(lay_over(brews, spread(brews, target)), UTC))
    assert "House espresso: 2 shots" in page
    assert "Shot by shot" in page
    assert "yield at the stop" in page and "after-drip" in page
