"""The lag read off a vessel's step, against the lag that made it."""

import numpy as np
import pytest

from logger.curve.edges.shapes import Response
from logger.curve.readings.noise import noise_g
from logger.curve.readings.timebase import grid_of, samples_from
from logger.curve.scale.response import response_from
from logger.curve.taken_out.steps import find_moves


def read_off(
    response: Response,
    step_g: float = 400.0,
    rate_hz: float = 10.0,
    noise: float = 0.05,
    hand_s: float = 0.0,
    seed: int = 0,
    softly: bool = False,
):
    """Put a vessel on at 3 s, let down by a hand, and estimate; the answers to a step are the textbook's.

    :param softly: the hand begins and ends gently, by half a cosine, and not evenly
    """
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 15.0, 1.0 / rate_hz) + rng.uniform(0.0, 0.5 / rate_hz)
    portions = (np.arange(40) + 0.5)[:, None] / 40
    portions_s = 3.0 + hand_s * (np.arccos(1.0 - 2.0 * portions) / np.pi if softly else portions)
    since = np.maximum(time_s - portions_s, 0.0) / response.stage_s
    late = (np.exp(-since) if response.order == 1 else (1.0 + since) * np.exp(-since)).mean(axis=0)
    weight_g = np.round(step_g * (1.0 - late) + rng.normal(0.0, noise, time_s.size), 1)
    samples = samples_from(time_s, weight_g)
    moves = find_moves(grid_of(samples), noise_g(samples, 0.1))
    return response_from(samples, weight_g, moves)


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0])
@pytest.mark.parametrize("stage_s", [0.15, 0.3, 0.6])
def test_the_lag_of_a_first_order_scale(stage_s: float, rate_hz: float) -> None:
    """At few readings a second a short lag and a slow hand look alike: 0.06 s."""
    found = read_off(Response(stage_s), rate_hz=rate_hz)
    assert found is not None
    assert found.delay_s == pytest.approx(stage_s, rel=0.08, abs=0.06 if rate_hz < 10 else 0.0)


@pytest.mark.parametrize("stage_s", [0.2, 0.3, 0.45])
def test_the_lag_of_two_stages(stage_s: float) -> None:
    found = read_off(Response(stage_s, 2))
    assert found is not None
    assert found.order == 2
    assert found.delay_s == pytest.approx(2.0 * stage_s, rel=0.08)


@pytest.mark.parametrize("response", [Response(0.15), Response(0.3), Response(0.2, 2)], ids=str)
def test_a_hand_that_lets_the_vessel_down_slowly_is_no_lag(response: Response) -> None:
    """It takes a fifth of a second. Taken for a sudden step, that were 0.1 s more of lag, or two stages."""
    found = [read_off(response, hand_s=0.2, seed=seed) for seed in range(6)]
    assert all(each is not None and each.order == response.order for each in found)
    delays_s = [each.delay_s for each in found if each is not None]
    assert np.median(delays_s) == pytest.approx(response.delay_s, abs=0.03)


@pytest.mark.parametrize("stage_s", [0.15, 0.3, 0.4])
def test_a_hand_that_sets_a_full_server_down_with_care_is_no_second_stage(stage_s: float) -> None:
    """It takes half a second."""
    found = [read_off(Response(stage_s), hand_s=0.5, seed=seed) for seed in range(6)]
    delays_s = [each.delay_s for each in found if each is not None]
    assert [each.order for each in found if each is not None] == [1] * 6
    assert np.median(delays_s) == pytest.approx(stage_s, abs=0.03)


@pytest.mark.parametrize("stage_s", [0.29, 0.4, 0.405, 0.425])
def test_a_clean_step_tells_a_lag_between_those_that_are_tried(stage_s: float) -> None:
    """They differ by a ninth."""
    found = [read_off(Response(stage_s), rate_hz=20.0, hand_s=0.1, seed=seed) for seed in range(6)]
    delays_s = [each.delay_s for each in found if each is not None]
    assert np.median(delays_s) == pytest.approx(stage_s, abs=0.006)


@pytest.mark.parametrize("stage_s", [0.7, 0.8])
def test_a_scale_that_still_follows_its_vessel_when_that_seems_to_rest(stage_s: float) -> None:
    """Two such stages still miss a part in two hundred then; taken for nothing, it cost 0.06 s of lag."""
    found = [read_off(Response(stage_s, 2), noise=0.01, seed=seed) for seed in range(6)]
    delays_s = [each.delay_s for each in found if each is not None]
    assert np.median(delays_s) == pytest.approx(2.0 * stage_s, rel=0.03)


@pytest.mark.parametrize("stage_s", [0.45, 0.6])
def test_whatever_the_hand_did_its_scale_shows_as_it_fades(stage_s: float) -> None:
    """A hand that lets a weight down softly, over 0.8 s, fits no even one: such lags were 0.2 s too long."""
    found = [read_off(Response(stage_s), hand_s=0.8, softly=True, seed=seed) for seed in range(6)]
    delays_s = [each.delay_s for each in found if each is not None]
    assert np.median(delays_s) == pytest.approx(stage_s, abs=0.06)


@pytest.mark.parametrize("hand_s", [0.0, 0.1])
@pytest.mark.parametrize("rate_hz", [8.0, 10.0, 20.0])
def test_a_scale_that_does_not_filter_shows_the_step_at_once(rate_hz: float, hand_s: float) -> None:
    """Its step is over within a reading or two: the clearest that can be, and no reason to ask the pours.

    Of a single reading in the middle of it nothing tells a lag of half an interval from none.
    """
    found = [read_off(Response(1e-3), rate_hz=rate_hz, hand_s=hand_s, seed=seed) for seed in range(4)]
    assert all(each is not None and each.delay_s < max(0.05, 0.55 / rate_hz) for each in found)


def test_a_small_step_says_nothing() -> None:
    assert read_off(Response(0.3), step_g=25.0) is None


def test_a_step_that_no_scale_would_show_says_nothing() -> None:
    """Put on by halves: neither shape fits."""
    time_s = np.arange(0.0, 15.0, 0.1)
    weight_g = np.where(time_s > 3.0, 200.0, 0.0) + np.where(time_s > 4.0, 200.0, 0.0)
    samples = samples_from(time_s, weight_g)
    moves = find_moves(grid_of(samples), 0.03)
    assert response_from(samples, weight_g, moves) is None


@pytest.mark.parametrize("hand_s", [0.05, 0.2])
@pytest.mark.parametrize("window_s", [0.8, 1.2, 1.6])
def test_a_scale_that_shows_the_mean_over_a_window_delays_by_half_of_it(
    window_s: float, hand_s: float
) -> None:
    """No hand takes so long, and evenly; the pours' edges told such lags a third of a second short."""
    time_s = np.arange(0.03, 15.0, 0.1)
    fine_s = np.linspace(0.0, window_s, 400)
    bears = np.clip((time_s[:, None] - fine_s - 3.0) / hand_s, 0.0, 1.0)
    weight_g = np.round(300.0 * bears.mean(axis=1), 1)
    samples = samples_from(time_s, weight_g)
    found = response_from(samples, weight_g, find_moves(grid_of(samples), 0.03))
    assert found is not None
    assert found.delay_s == pytest.approx(0.5 * window_s, abs=0.02)
