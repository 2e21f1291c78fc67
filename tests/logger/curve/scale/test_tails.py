"""The lag read off how a display settles after hands that fit no step."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import analyse
from logger.curve.edges.shapes import Response
from logger.curve.readings.noise import noise_g
from logger.curve.readings.timebase import Samples, grid_of, samples_from
from logger.curve.scale.lag import Lags
from logger.curve.scale.response import response_from
from logger.curve.scale.tails import lags_by_tails
from logger.curve.taken_out.steps import Move, find_moves

EACH_S = 0.001
Load = Callable[[np.ndarray], np.ndarray]


def on_its_rim(time_s: np.ndarray) -> np.ndarray:
    """A cup of 150 g at 3 s: its rim first, then flat, within 0.5 s; no hand of the even ones."""
    return np.interp(time_s, [3.0, 3.1, 3.35, 3.5], [0.0, 100.0, 110.0, 150.0])


def pressed_down(time_s: np.ndarray) -> np.ndarray:
    """The same cup, which the hand presses on with 200 g for a moment before it lets go."""
    return np.interp(time_s, [3.0, 3.2, 3.3, 3.65, 3.7], [0.0, 150.0, 350.0, 350.0, 150.0])


def lifted(time_s: np.ndarray) -> np.ndarray:
    """A server of 400 g that rests, is lifted at 5 s, swirled for a second and put back."""
    return np.interp(time_s, [5.0, 5.3, 6.2, 6.5], [400.0, 0.0, 0.0, 400.0])


def shown(load: Load, response: Response, rate_hz: float = 10.0, seed: int = 0) -> tuple[Samples, np.ndarray]:
    """What a scale of 0.1 g shows of it, worked out step by step."""
    rng = np.random.default_rng(seed)
    fine_s = np.arange(0.0, 15.0, EACH_S)
    shown_g, kept = load(fine_s), np.exp(-EACH_S / response.stage_s)
    for _ in range(response.order):
        shown_g = lfilter([1.0 - kept], [1.0, -kept], shown_g, zi=[kept * shown_g[0]])[0]
    time_s = np.arange(0.0, 14.9, 1.0 / rate_hz) + rng.uniform(0.0, 0.5 / rate_hz)
    weight_g = np.round(np.interp(time_s, fine_s, shown_g) + rng.normal(0.0, 0.03, time_s.size), 1)
    return samples_from(time_s, weight_g), weight_g


def moved(samples: Samples) -> tuple[Move, ...]:
    return find_moves(grid_of(samples), noise_g(samples, 0.1))


def told(load: Load, response: Response, rate_hz: float = 10.0, seed: int = 0) -> Lags | None:
    samples, weight_g = shown(load, response, rate_hz, seed)
    return lags_by_tails(samples, weight_g, moved(samples), noise_g(samples, 0.1))


@pytest.mark.parametrize("load", [on_its_rim, pressed_down, lifted])
@pytest.mark.parametrize("response", [Response(0.12), Response(0.25), Response(0.5)], ids=str)
def test_once_the_hand_has_let_go_one_stage_fades(load: Load, response: Response) -> None:
    found = [told(load, response, rate_hz=20.0, seed=seed) for seed in range(5)]
    assert all(each is not None for each in found)
    stages_s = [each.responses[0].stage_s for each in found if each is not None]
    assert np.median(stages_s) == pytest.approx(response.stage_s, rel=0.06)


@pytest.mark.parametrize("load", [on_its_rim, lifted])
@pytest.mark.parametrize("stage_s", [0.25, 0.4])
def test_two_stages_are_told_from_one(load: Load, stage_s: float) -> None:
    found = [told(load, Response(stage_s, 2), rate_hz=20.0, seed=seed) for seed in range(5)]
    likeliest = [each.responses[int(each.chance.argmax())] for each in found if each is not None]
    assert [each.order for each in likeliest] == [2] * 5
    assert np.median([each.delay_s for each in likeliest]) == pytest.approx(2.0 * stage_s, rel=0.08)


def test_what_either_may_be_is_left_open() -> None:
    """Between the two, a lag's standard deviation holds the other."""
    found = told(on_its_rim, Response(0.4, 2), rate_hz=10.0)
    assert found is not None
    summed = found.told()
    off_s = abs(summed.response.delay_s - 0.8)
    assert off_s < 2.0 * np.hypot(summed.sd_s, 0.03)


def test_a_touch_says_nothing() -> None:
    assert told(lambda time_s: 0.15 * on_its_rim(time_s), Response(0.3)) is None


def test_a_recording_whose_cup_fits_no_step_is_read_with_the_lag_of_its_tail() -> None:
    """Its only pour is an espresso's, whose end says nothing of the lag: 0.3 s would be taken."""

    def cup_and_shot(time_s: np.ndarray) -> np.ndarray:
        flowed = np.clip(time_s - 6.0, 0.0, 3.0) ** 2 / 6.0 + np.clip(time_s - 9.0, 0.0, 5.0)
        return on_its_rim(time_s) + 2.0 * flowed

    samples, weight_g = shown(cup_and_shot, Response(0.1), rate_hz=20.0)
    assert response_from(samples, weight_g, moved(samples)) is None
    assert analyse(samples.time_s, weight_g).response_s == pytest.approx(0.1, abs=0.03)
