"""What may be left to fade, against scipy's cut normal distribution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from logger.curve.edges.choice import Choice
from logger.curve.edges.fading import ENDS_AT_G_S, MOST_LEFT, Left, tails_g, times_it_ends_s
from logger.curve.edges.linear import Fits
from tests.benchmarks.curve_suite import Floats

FLOW_G_S = 6.0
FADES_S = np.array([0.0, 0.5])


def ends(mean_g_s: float, sd_g_s: float) -> tuple[Fits, Choice]:
    """Two ends that are as likely: one clean, one after which something fades; one ramp, one time."""
    shape = (1, 2, 1, 1)
    fading = np.array([0.0, mean_g_s]).reshape(shape)
    sd = np.array([1.0, sd_g_s]).reshape(shape)
    nought = np.zeros(shape)
    fits = Fits(nought, nought, nought, np.full(shape, FLOW_G_S), fading, sd)
    return fits, Choice.by(nought, fits)


def cut(mean_g_s: float, sd_g_s: float) -> stats.truncnorm:
    low, high = -mean_g_s / sd_g_s, (MOST_LEFT * FLOW_G_S - mean_g_s) / sd_g_s
    return stats.truncnorm(low, high, loc=mean_g_s, scale=sd_g_s)


@pytest.mark.parametrize("mean_g_s", [-0.3, 0.0, 0.4, 2.0, 7.9])
@pytest.mark.parametrize("sd_g_s", [0.05, 0.5, 3.0])
def test_the_parts_are_those_of_a_normal_distribution_cut_to_what_can_be(
    mean_g_s: float, sd_g_s: float
) -> None:
    fits, choice = ends(mean_g_s, sd_g_s)
    left = Left.of(fits, 1)
    normal = stats.norm(mean_g_s, sd_g_s)
    within = normal.cdf(MOST_LEFT * FLOW_G_S) - normal.cdf(0.0)
    assert left.chance[0, 0] == 1.0
    assert left.chance[0, 1] == pytest.approx(within, abs=1e-4)
    if within > 1e-3:
        parts = [part[1] for part in left.parts_g_s(choice)]
        expected = cut(mean_g_s, sd_g_s).ppf([1 / 6, 1 / 2, 5 / 6])
        assert parts == pytest.approx(expected, abs=0.02 * sd_g_s)


@pytest.mark.parametrize(("mean_g_s", "possible"), [(0.5, True), (-0.2, True), (-3.0, False), (12.0, False)])
def test_an_end_that_needs_less_than_nothing_to_fade_is_none(mean_g_s: float, *, possible: bool) -> None:
    fits, _ = ends(mean_g_s, 0.2)
    assert bool(Left.of(fits, 1).possible[0, 1, 0, 0]) is possible


def both_ends_s(mean_g_s: float, sd_g_s: float) -> tuple[Floats, Floats]:
    """When the clean end is, and when the fading one is, for each part."""
    fits, choice = ends(mean_g_s, sd_g_s)
    stops_s = np.full(2, 10.0)
    parts_g_s = Left.of(fits, 1).parts_g_s(choice)
    times = times_it_ends_s(parts_g_s, stops_s, FADES_S, (stops_s - 0.05, stops_s - 0.05))
    return np.array([time[0] for time in times]), np.array([time[1] for time in times])


def test_a_known_fade_ends_where_it_falls_below_a_tenth_of_a_gram_a_second() -> None:
    clean_s, fading_s = both_ends_s(0.8, 0.001)
    assert clean_s == pytest.approx(9.95)
    assert fading_s == pytest.approx(10.0 + 0.5 * np.log(0.8 / ENDS_AT_G_S), abs=0.01)


def test_a_fade_of_which_little_is_known_may_end_early_or_late() -> None:
    """0.05 g/s at a mean is as good as nothing; but it may be a gram a second, and the end 1.2 s later."""
    _, fading_s = both_ends_s(0.05, 1.0)
    assert fading_s[0] < 10.5
    assert fading_s[-1] > 11.1


def test_a_stream_that_does_not_fade_ends_in_both_ways_that_are_as_likely() -> None:
    """Half of an end's weight goes to a soft one. What fades ends with its fade, however the stream did."""
    fits, choice = ends(0.8, 0.001)
    stops_s = np.full(2, 10.0)
    own_s = stops_s - 0.05, stops_s - 0.03
    times = times_it_ends_s(Left.of(fits, 1).parts_g_s(choice), stops_s, FADES_S, own_s)
    assert [time[0] for time in times] == pytest.approx([9.95, 9.97] * 3)
    assert [time[1] for time in times] == pytest.approx([10.0 + 0.5 * np.log(8.0)] * 6, abs=0.01)


def test_where_less_fades_than_ends_a_pour_the_stream_ends_it() -> None:
    _, fading_s = both_ends_s(0.03, 0.005)
    assert fading_s == pytest.approx(9.95)


@pytest.mark.parametrize(("left_g_s", "tail_g"), [(0.8, 0.05), (0.06, 0.03)])
def test_what_fades_below_a_tenth_of_a_gram_a_second_is_its_integral_from_there(
    left_g_s: float, tail_g: float
) -> None:
    """Of two ends as likely, one clean: half of 0.1 g/s, or of what is less, times 0.5 s."""
    fits, choice = ends(left_g_s, 0.001)
    (found_g,) = choice.mean_of(tails_g(Left.of(fits, 1).parts_g_s(choice), FADES_S))
    assert found_g == pytest.approx(0.5 * tail_g, abs=1e-3)
