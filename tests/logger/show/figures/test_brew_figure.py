from __future__ import annotations

import numpy as np
import pytest

from logger.compare import Brew
from logger.show.figures.axes import time_ticks
from logger.show.figures.brew_figure import brew_figure


def _curve(brew: Brew, name: str):
    return next(trace for trace in brew_figure(brew).data if trace.name == name)


def test_all_panels_share_one_time_axis_from_the_brews_start(brew: Brew) -> None:
    figure = brew_figure(brew)
    axes = [figure.layout[name] for name in ("xaxis", "xaxis2", "xaxis3", "xaxis4")]
    assert {tuple(axis.range) for axis in axes} == {tuple(axes[0].range)}
    assert [axis.matches for axis in axes].count("x4") == 3
    assert axes[0].range[0] == 0
    weight = _curve(brew, "weight")
    assert weight.x[0] == 0.0
    assert weight.y[np.searchsorted(weight.x, 183.0)] == pytest.approx(298.8, abs=0.05)


def test_no_curve_has_more_than_2000_points_and_none_loses_its_peak(brew: Brew) -> None:
    figure = brew_figure(brew)
    assert all(len(trace.x) <= 2_000 for trace in figure.data)
    peak = max(pour.peak_flow_g_s for pour in brew.analysis.pours)
    assert np.nanmax(_curve(brew, "flow").y) == pytest.approx(peak, rel=1e-6)


def test_the_gap_is_left_open(brew: Brew) -> None:
    weight = _curve(brew, "weight")
    in_gap = (weight.x > 98.2) & (weight.x < 103.3)
    assert np.isnan(weight.y[in_gap]).all()


def test_finishing_weights_are_marked_by_shape_and_word(brew: Brew) -> None:
    outside = _curve(brew, "finished outside")
    assert outside.marker.symbol == "x"
    assert [text.replace("\u00a0", " ") for text in outside.text] == ["<br>4.2 g heavy"]
    assert len(_curve(brew, "finished inside").x) == 3
    late = _curve(brew, "started outside")
    assert late.marker.symbol == "triangle-right"
    assert [text.replace("\u00a0", " ") for text in late.text] == ["<br>6.4 s late"]


def test_events_stand_with_their_words_and_shapes_of_their_own(brew: Brew) -> None:
    events = _curve(brew, "event")
    assert [text.strip() for text in events.text] == ["stir", "gap in the data", "knock"]
    assert len(set(events.marker.symbol)) == 3


def test_temperatures_differ_by_dash_as_well_as_colour(brew: Brew) -> None:
    lines = [_curve(brew, name).line for name in ("kettle, °C", "slurry, °C")]
    assert len({line.dash for line in lines}) == 2
    assert len({line.color for line in lines}) == 2


def test_ticks_are_minutes_and_seconds() -> None:
    ticks = time_ticks(191.0)
    assert ticks["ticktext"][:3] == ["0:00", "0:30", "1:00"]


def test_a_shot_lies_on_its_own_clock(shot: Brew) -> None:
    # the plan's first drip window is 5 to 8 s after the pump: the plan starts at its middle, the first weight
    planned = _curve(shot, "planned")
    assert planned.y[0] == pytest.approx(0.0, abs=0.01)
    assert planned.y[20] > 0


def test_a_recording_without_a_brew_is_drawn_as_it_is(no_brew: Brew) -> None:
    assert len(_curve(no_brew, "weight").x) == 600


def test_what_the_brewer_wrote_is_not_read_as_markup(brew: Brew) -> None:
    series = brew.temperatures["kettle"]
    named = Brew(brew.recording, brew.analysis, None, {"<b>k%{x}": series})
    trace = brew_figure(named).data[-1]
    assert "<b>" not in trace.name
    assert "k%{x}" not in trace.hovertemplate
