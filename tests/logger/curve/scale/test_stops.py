"""The scale's lag, where only the stop of an espresso's pump tells it."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from drivers.simulated import EASY
from logger.curve import analyse
from logger.curve.edges.around import Seen
from logger.curve.edges.fading import ENDS_AT_G_S
from logger.curve.edges.posterior import know_ends
from logger.curve.edges.shapes import Response, end_shape, fade_shape
from logger.curve.scale.lag import ToldLag
from logger.curve.scale.response import USUAL
from logger.curve.scale.stops import LAGS, lag_by_stops
from tests.benchmarks.curve_suite import ESPRESSO, Floats
from tests.logger.curve.edges.stops import FLOW_G_S, STOPS_S, fades, relieved, seen_through
from tests.logger.curve.staged import staged

QUICK = Response(0.05), Response(0.1)
RELIEVED = (0.4, 0.2, 0.4), (0.3, 0.1, 0.3), (0.5, 0.3, 0.5)
"""A valve opens, and what hangs below the bed drains: to what share it falls, within which time, and with
which time constant it fades from there."""
NOISE_G = 0.01


def told(flow_g_s: Floats, response: Response, seed: int) -> tuple[Seen, ToldLag]:
    seen = seen_through(flow_g_s, response, seed, noise_g=NOISE_G)
    found = lag_by_stops([seen])
    assert found is not None
    return seen, found


def end_s(seen: Seen, response: Response) -> float:
    [known] = know_ends([seen], response)
    assert known is not None
    return known.time_s


def test_a_quick_scale_s_end_is_not_read_early_by_a_fade_that_is_taken_for_its_lag() -> None:
    """Nobody put anything on the pan. Measured: with the usual lag 0.55 s early, as it is told 0.17 s."""
    early_s, usual_early_s = [], []
    for response, (share, falls_s, fade_s), seed in product(QUICK, RELIEVED, range(3)):
        ends_s = STOPS_S + falls_s + fade_s * np.log(share * FLOW_G_S / ENDS_AT_G_S)
        seen, found = told(relieved(share, falls_s, fade_s), response, seed)
        early_s.append(ends_s - end_s(seen, found.response))
        usual_early_s.append(ends_s - end_s(seen, USUAL))
    assert np.mean(usual_early_s) > 0.45
    assert abs(np.mean(early_s)) < 0.25


@pytest.mark.parametrize("fade_s", [0.2, 0.4, 0.8])
def test_no_lag_is_longer_than_what_fades(fade_s: float) -> None:
    """A stream that fades smoothly, on a scale that shows all at once."""
    for seed in range(4):
        _, found = told(fades(fade_s), Response(0.02), seed)
        assert found.response.delay_s < fade_s
        assert found.response.delay_s + found.sd_s < 1.3 * fade_s


def test_which_of_two_fades_is_the_scale_s_no_reading_tells() -> None:
    """A stream that fades with 0.6 s through a lag of 0.15 s, and the other way round, are shown alike.

    So the lag is left as unsure as scales differ, up to the longer of the two.
    """
    since_s = np.arange(-3.0, 4.0, 0.1)
    quick, slow = (
        end_shape(since_s, np.array(1e-3), Response(lag_s)) - fade_shape(since_s, fade_s, Response(lag_s))
        for lag_s, fade_s in ((0.15, 0.6), (0.6, 0.15))
    )
    assert quick == pytest.approx(slow, abs=1e-3)
    _, found = told(fades(0.6), Response(0.15), 1)
    assert found.sd_s > 0.5 * found.response.delay_s
    assert found.response.delay_s < 0.6


def test_readings_that_no_stop_explains_leave_the_lag_what_scales_have() -> None:
    """A weight that falls all along is no stream, through any lag."""
    seen = seen_through(-fades(0.6), Response(0.1), 1, noise_g=NOISE_G)
    found = lag_by_stops([seen])
    assert found is not None
    assert found == LAGS.told()


def test_two_stops_leave_less_possible_than_one() -> None:
    seen = [seen_through(fades(0.3), Response(0.08), seed, noise_g=NOISE_G) for seed in range(2)]
    one, both = lag_by_stops(seen[:1]), lag_by_stops(seen)
    assert one is not None
    assert both is not None
    assert both.sd_s < one.sd_s


def test_no_stop_tells_nothing() -> None:
    assert lag_by_stops([]) is None


def test_an_espresso_in_a_cup_that_stood_there_all_along_tells_what_lag_it_is_seen_through() -> None:
    """Nothing was put on the pan while it was watched. The usual lag would be 0.18 s too long."""
    quick = replace(EASY, vessel_chance=0.0, lift_chance=0.0, lag_s=(0.12, 0.12))
    found_s = [analyse(*staged(ESPRESSO, quick, seed)[:2]).response_s for seed in range(6)]
    assert USUAL.delay_s not in found_s
    assert np.mean(np.abs(np.array(found_s) - 0.12)) < 0.12
