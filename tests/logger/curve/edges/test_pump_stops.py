"""How an espresso ends: two fades together, against scipy's root, and ends that are known to fade so."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from logger.curve.edges.believed import believed_at_end
from logger.curve.edges.choice import Known
from logger.curve.edges.fading import ENDS_AT_G_S
from logger.curve.edges.posterior import know_ends
from logger.curve.edges.pump_stops import CLOSES, STOPS, Fading, evidence_of_lags
from logger.curve.edges.shapes import Response
from tests.benchmarks.curve_suite import Floats
from tests.logger.curve.edges.stops import AFTER_S, FINE_S, FLOW_G_S, STOPS_S, fades, relieved, seen_through

RESPONSES = pytest.mark.parametrize("response", [Response(0.15), Response(0.4), Response(0.3, 2)], ids=str)
FADES = pytest.mark.parametrize(
    "fade", [(0.3, 0.0, 1.0), (0.8, 0.0, 1.0), (0.25, 0.2, 0.9), (0.4, 0.1, 1.8)], ids=str
)


def left_g_s(since_s: Floats | float, fast_s: float, slow_share: float, slow_s: float) -> Floats:
    """Flow after the stop: two fades from all that it was."""
    fast, slow = (1.0 - slow_share) * np.exp(since_s / -fast_s), slow_share * np.exp(since_s / -slow_s)
    return np.asarray(FLOW_G_S * (fast + slow))


def lasts_s(fade: tuple[float, float, float], ends_at_g_s: float = ENDS_AT_G_S) -> float:
    return float(optimize.brentq(lambda since_s: left_g_s(since_s, *fade) - ends_at_g_s, 0.0, 20.0))


def read(fade: tuple[float, float, float], response: Response, seed: int, drips_g_s: float = 0.0) -> Known:
    """Weigh the end of a shot that a pump stops."""
    return read_flow(left_g_s(AFTER_S, *fade), response, seed, drips_g_s)


def read_flow(flow_g_s: Floats, response: Response, seed: int, drips_g_s: float = 0.0) -> Known:
    """Weigh the end of a shot that a scale shows."""
    [known] = know_ends([seen_through(flow_g_s, response, seed, drips_g_s)], response)
    assert known is not None
    return known


@FADES
@pytest.mark.parametrize("ends_at_g_s", [0.04, 0.1])
def test_two_fades_together_last_until_their_sum_is_below_a_flow(
    fade: tuple[float, float, float], ends_at_g_s: float
) -> None:
    fast_s, slow_share, slow_s = fade
    of = (FLOW_G_S * (1.0 - slow_share), fast_s, FLOW_G_S * slow_share, slow_s)
    both, expected_s = Fading(*(np.full((1, 1), value) for value in of)), lasts_s(fade, ends_at_g_s)
    assert both.lasts_s(ends_at_g_s)[0, 0] == pytest.approx(expected_s, abs=0.005)
    after_s = np.arange(expected_s, 30.0, 0.002)
    brings_g = np.trapezoid(left_g_s(after_s, *fade), after_s)
    assert both.brings_g(np.full((1, 1), expected_s))[0, 0] == pytest.approx(brings_g, abs=1e-3)


def test_less_than_ends_it_lasts_for_no_time() -> None:
    thin = Fading(*(np.full((1, 1), value) for value in (0.05, 0.5, 0.02, 1.5)))
    assert thin.lasts_s(ENDS_AT_G_S)[0, 0] == 0.0


@RESPONSES
@FADES
def test_an_end_is_where_what_fades_falls_below_a_tenth_of_a_gram_a_second(
    response: Response, fade: tuple[float, float, float]
) -> None:
    """Whether one fade or two, quick or slow: all are among what is tried."""
    ends_s = STOPS_S + lasts_s(fade)
    found = [read(fade, response, seed) for seed in range(6)]
    assert abs(np.median([each.time_s - ends_s for each in found])) < 0.15


@RESPONSES
@pytest.mark.parametrize("closes_s", [0.25, 0.5, 0.9])
def test_a_flow_that_a_valve_lets_go_of_comes_to_nothing_evenly(response: Response, closes_s: float) -> None:
    """Such an end is not taken for the beginning of a fade: it is held, and read within 0.3 s."""
    flow_g_s = FLOW_G_S * np.clip(1.0 - (FINE_S - STOPS_S) / closes_s, 0.0, 1.0)
    ends_s = STOPS_S + closes_s * (1.0 - ENDS_AT_G_S / FLOW_G_S)
    found = [read_flow(flow_g_s, response, seed) for seed in range(8)]
    late_s = np.array([each.time_s - ends_s for each in found])
    assert abs(np.median(late_s)) < 0.3
    assert np.mean([each.low_s - 0.08 < ends_s < each.high_s + 0.08 for each in found]) > 0.8


@pytest.mark.parametrize("response", [Response(0.05), Response(0.15), Response(0.4)], ids=str)
@pytest.mark.parametrize(
    ("share", "falls_s", "fade_s"), [(0.3, 0.1, 0.3), (0.4, 0.3, 0.5), (0.7, 0.2, 0.8)], ids=str
)
def test_a_stream_that_a_valve_relieves_at_once_drains_from_a_share_of_what_it_was(
    response: Response, share: float, falls_s: float, fade_s: float
) -> None:
    """What hangs in basket and spout: the end is that of its fade, not of the fall before it."""
    ends_s = STOPS_S + falls_s + fade_s * np.log(share * FLOW_G_S / ENDS_AT_G_S)
    found = [read_flow(relieved(share, falls_s, fade_s), response, seed) for seed in range(8)]
    late_s = np.array([each.time_s - ends_s for each in found])
    assert abs(np.median(late_s)) < 0.2
    assert np.mean([each.low_s - 0.08 < ends_s < each.high_s + 0.08 for each in found]) > 0.8


def test_a_lag_longer_than_what_fades_explains_nothing() -> None:
    """Of shorter ones none is much likelier than another: the stream may have faded for as long."""
    lags = Response(0.05), Response(0.2), Response(1.2)
    seen = believed_at_end(seen_through(relieved(0.4, 0.15, 0.4), lags[0], 1, noise_g=0.01), lags[0])
    quick, usual, slow = evidence_of_lags(seen, STOPS, lags)
    assert abs(quick - usual) < 3.0
    assert slow < usual - 30.0


def test_what_no_stop_explains_says_nothing_of_a_lag() -> None:
    """A weight that falls all along."""
    seen = believed_at_end(seen_through(-fades(0.4), Response(0.05), 1), Response(0.05))
    assert not evidence_of_lags(seen, STOPS, (Response(0.05), Response(0.5))).any()


@RESPONSES
def test_drops_that_go_on_evenly_may_be_a_film(response: Response) -> None:
    """0.04 g/s besides: the end is where the fade alone is below 0.1 g/s, or both are, and between them."""
    fade = 0.5, 0.0, 1.0
    first_s = STOPS_S + 0.5 * np.log(FLOW_G_S / ENDS_AT_G_S)
    last_s = STOPS_S + 0.5 * np.log(FLOW_G_S / (ENDS_AT_G_S - 0.04))
    found = [read(fade, response, seed, 0.04) for seed in range(6)]
    assert first_s - 0.1 < np.median([each.time_s for each in found]) < last_s + 0.1
    assert all(each.low_s < last_s and each.high_s > first_s for each in found)


@RESPONSES
def test_what_comes_after_an_end_is_what_the_fade_still_brings(response: Response) -> None:
    """0.1 g/s times 0.6 s."""
    found = [read((0.6, 0.0, 1.0), response, seed).after_g for seed in range(6)]
    assert np.median(found) == pytest.approx(0.06, abs=0.03)


def test_what_drains_as_fast_as_it_falls_is_not_tried_twice() -> None:
    """Every fall is as likely with nothing that drains as with all that do; a slow one has none beside it."""
    odds = np.exp(STOPS.odds[: 1 + len(STOPS.drains_s), : len(STOPS.falls_s), 0])
    quick = np.array(STOPS.falls_s) < 0.5
    assert odds[1:, quick].sum(axis=0) == pytest.approx(odds[0, quick])
    assert odds[1, -1] == 0.0


def test_one_in_five_closes_evenly_and_nothing_drains_after_that() -> None:
    odds = np.exp(STOPS.odds[: 1 + len(STOPS.drains_s), :, 0])
    falls, closes = odds[:, : len(STOPS.falls_s)], odds[:, len(STOPS.falls_s) :]
    assert closes[0].sum() == pytest.approx(CLOSES * falls[0].sum())
    assert not closes[1:].any()
