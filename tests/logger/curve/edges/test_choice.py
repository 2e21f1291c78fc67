"""What many possible edges say together."""

from __future__ import annotations

import numpy as np
import pytest

from logger.curve.edges.choice import CLOCK_S, Choice, Known
from logger.curve.edges.linear import Fits
from tests.benchmarks.curve_suite import Floats

AT_S = np.linspace(8.0, 12.0, 401)[:, None]
NEVER = -1e9


def fits(level_g: float | Floats = 50.0, level_sd_g: float = 0.0, fading_g_s: float = 0.0) -> Fits:
    """Fits of one edge, no fade, a time for each of as many ramps; a flow of 6 g/s."""
    shape = (1, 1, AT_S.size, 1)
    values = (level_g, level_sd_g, 6.0, fading_g_s, 0.1)
    full = [np.broadcast_to(np.asarray(value), shape) for value in values]
    return Fits(np.zeros(shape), *full)


def gaussian(sd_s: float) -> Floats:
    return (-0.5 * ((AT_S - 10.0) / sd_s) ** 2)[None, None]


@pytest.mark.parametrize("sd_s", [0.05, 0.2, 0.4])
def test_the_range_holds_nine_tenths_and_what_the_clock_is_unsure_of(sd_s: float) -> None:
    """1.645 standard deviations on either side of a normal distribution, the clock's beside it."""
    choice = Choice.by(gaussian(sd_s), fits())
    (known,) = choice.known(choice.of(AT_S))
    reach_s = 1.645 * np.hypot(sd_s, CLOCK_S)
    assert known.time_s == pytest.approx(10.0, abs=0.005)
    assert known.low_s == pytest.approx(10.0 - reach_s, abs=0.02)
    assert known.high_s == pytest.approx(10.0 + reach_s, abs=0.02)


def test_one_edge_alone_is_as_sure_as_the_clock() -> None:
    score = np.full((1, 1, AT_S.size, 1), NEVER)
    score[0, 0, 200] = 0.0
    choice = Choice.by(score, fits())
    (known,) = choice.known(choice.of(AT_S))
    assert (known.low_s, known.time_s, known.high_s) == pytest.approx(
        (10.0 - 1.645 * CLOCK_S, 10.0, 10.0 + 1.645 * CLOCK_S)
    )


def test_a_soft_ramp_is_as_likely_as_a_straight_one() -> None:
    """Each has half the chance: the middle lies between them, and the range takes both in."""
    choice = Choice.by(gaussian(0.05), fits())
    (known,) = choice.known(choice.of(AT_S), choice.of(AT_S - 0.6))
    assert known.time_s == pytest.approx(9.7, abs=0.05)
    assert known.low_s < 9.4
    assert known.high_s > 10.0


def test_the_level_is_the_mean_and_its_spread_that_of_all_together() -> None:
    """Half of the edges say 50 g, half 51 g, each to 0.3 g: sqrt(0.3^2 + 0.5^2) about 50.5 g."""
    level_g = np.where(np.arange(AT_S.size) % 2 == 0, 50.0, 51.0)[:, None]
    choice = Choice.by(gaussian(0.3), fits(level_g, 0.3))
    (known,) = choice.known(choice.of(AT_S))
    assert known.level_g == pytest.approx(50.5, abs=0.01)
    assert known.level_sd_g == pytest.approx(np.hypot(0.3, 0.5), abs=0.01)


def alone() -> Choice:
    score = np.full((1, 1, AT_S.size, 1), NEVER)
    score[0, 0, 200] = 0.0
    return Choice.by(score, fits())


def share_at(known: Known, *time_s: float) -> Floats:
    assert known.share is not None
    return known.share.on(np.array(time_s))[0]


def with_course(choice: Choice, reach_s: tuple[float, float], ramp_s: float) -> list[Known]:
    at_s = choice.of(AT_S)
    return choice.with_shares(choice.known(at_s), reach_s, at_s, np.full(at_s.size, ramp_s))


def test_the_flow_around_a_start_grows_from_nought_to_one_over_its_ramp() -> None:
    choice = alone()
    (known,) = choice.with_shares(
        choice.known(choice.of(AT_S)), (0.5, 1.0), choice.of(AT_S), 0.8 + 0.0 * choice.of(AT_S)
    )
    assert share_at(known, 5.0, 9.5, 10.0, 10.4, 10.8, 11.5, 20.0) == pytest.approx(
        [0.0, 0.0, 0.0, 0.5, 1.0, 1.0, 1.0], abs=1e-6
    )


def test_the_flow_around_an_end_falls_over_its_ramp_and_what_fades_goes_on() -> None:
    """The spout drips on with 1.2 of 6 g/s, which fades within 0.5 s."""
    choice, one = alone(), np.ones(1)
    known = choice.known(choice.of(AT_S))
    fades = [(0.5 * one, 0.2 * one)]
    (ended,) = choice.with_shares(known, (1.0, 2.0), choice.of(AT_S), 0.8 * one, fades)
    expected = [1.0, 1.0, 0.5, 0.2 * np.exp(-1.0), 0.2 * np.exp(-2.0), 0.0]
    assert share_at(ended, 5.0, 9.1, 9.6, 10.5, 11.0, 20.0) == pytest.approx(expected, abs=1e-3)


def test_what_falls_and_what_drains_after_an_end_go_on_together() -> None:
    """An espresso: its pump stops at 10 s, nine tenths fall within 0.3 s, a tenth drains within 2 s."""
    choice, one = alone(), np.ones(1)
    known = choice.known(choice.of(AT_S))
    fades = [(0.3 * one, 0.9 * one), (2.0 * one, 0.1 * one)]
    (ended,) = choice.with_shares(known, (1.0, 3.0), choice.of(AT_S), 0.02 * one, fades)
    expected = [1.0, 1.0, 0.9 * np.exp(-2.0) + 0.1 * np.exp(-0.3), 0.9 * np.exp(-5.0) + 0.1 * np.exp(-0.75)]
    assert share_at(ended, 5.0, 9.9, 10.6, 11.5) == pytest.approx(expected, abs=1e-3)


def test_the_course_is_the_mean_over_what_is_possible() -> None:
    """Two starts, a second apart and as likely: in between, half of the flow."""
    score = np.full((1, 1, AT_S.size, 1), NEVER)
    score[0, 0, [150, 250]] = 0.0
    choice = Choice.by(score, fits())
    (known,) = choice.with_shares(
        choice.known(choice.of(AT_S)), (1.0, 1.0), choice.of(AT_S), 0.1 + 0.0 * choice.of(AT_S)
    )
    assert share_at(known, 10.0) == pytest.approx([0.5])


def test_how_unsure_the_course_is_comes_with_it() -> None:
    """All or nothing, each as likely: half, give or take a half; before and after them nothing is unsure."""
    score = np.full((1, 1, AT_S.size, 1), NEVER)
    score[0, 0, [150, 250]] = 0.0
    choice = Choice.by(score, fits())
    (known,) = choice.with_shares(
        choice.known(choice.of(AT_S)), (1.0, 1.0), choice.of(AT_S), 0.1 + 0.0 * choice.of(AT_S)
    )
    assert known.share is not None
    assert known.share.on(np.array([7.0, 9.0, 10.0, 11.0, 20.0]))[1] == pytest.approx(
        [0.0, 0.0, 0.5, 0.0, 0.0], abs=1e-6
    )


def two_edges() -> Choice:
    """One that is at 9 s, 50 g; another that is at 10 or at 11 s, 60 or 62 g, with a second way to be so."""
    shape = (2, 2, AT_S.size, 1)
    score = np.full(shape, NEVER)
    score[0, 0, 100] = score[1, 0, 200] = score[1, 1, 300] = 0.0
    level_g = np.full(shape, 50.0)
    level_g[1, 0], level_g[1, 1] = 60.0, 62.0
    nought = np.zeros(shape)
    return Choice.by(score, Fits(nought, level_g, nought, nought, nought, nought))


def test_several_edges_are_weighed_each_by_itself() -> None:
    choice = two_edges()
    one, other = choice.known(choice.of(AT_S))
    assert (one.time_s, one.level_g, one.level_sd_g) == pytest.approx((9.0, 50.0, 0.0))
    assert (other.time_s, other.level_g, other.level_sd_g) == pytest.approx((10.5, 61.0, 1.0))
    assert choice.of(AT_S) == pytest.approx([9.0, 10.0, 11.0])


def test_of_the_first_ways_alone_an_edge_is_what_those_say() -> None:
    level_g, level_sd_g = two_edges().first(1).level_g()
    assert level_g == pytest.approx([50.0, 60.0])
    assert level_sd_g == pytest.approx([0.0, 0.0])


def test_an_edge_that_needs_another_way_keeps_it() -> None:
    choice = two_edges()
    score = np.full(choice.shape, NEVER)
    score[0, 1, 100] = score[1, 0, 200] = 0.0
    level_g, _ = Choice.by(score, choice.fits).first(1).level_g()
    assert level_g == pytest.approx([50.0, 60.0])
