"""A scale examined with known masses: what is put into a made-up scale must come out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from logger.bench.examination import allowed_error_g, examine
from logger.bench.plateaus import find_plateaus

RATE_HZ = 20.0


def recorded(
    loads_g: list[float],
    *,
    slope: float = 1.0,
    bend_g: float = 0.0,
    drift_g_s: float = 0.0,
    lag_s: float = 0.3,
    noise_g: float = 0.02,
    step_g: float = 0.1,
    seed: int = 1,
) -> tuple[np.ndarray, np.ndarray]:
    """Put each load down for six seconds on a first-order scale; ``bend_g`` is the error at half of 500 g."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 6.0 * len(loads_g), 1.0 / RATE_HZ)
    load_g = np.array(loads_g)[np.minimum((time_s // 6.0).astype(int), len(loads_g) - 1)]
    shown_g = slope * load_g + bend_g * 4.0 * (load_g / 500.0) * (1.0 - load_g / 500.0)
    weight_g = np.empty_like(shown_g)
    level = shown_g[0]
    for number, target in enumerate(shown_g):
        level = target + (level - target) * math.exp(-1.0 / RATE_HZ / lag_s)
        weight_g[number] = level
    weight_g += drift_g_s * time_s + rng.normal(0.0, noise_g, time_s.size)
    return time_s, np.round(weight_g / step_g) * step_g


ROUNDS = [0.0, 100.0, 0.0, 200.0, 0.0, 500.0, 0.0, 100.0, 0.0, 200.0, 0.0]


def test_a_good_scale_is_found_good() -> None:
    found = examine(*recorded(ROUNDS), [100.0, 200.0, 500.0])
    assert [load.mass_g for load in found.loads] == [100.0, 200.0, 500.0]
    assert [len(load.shown_g) for load in found.loads] == [2, 2, 1]
    assert all(abs(load.error_g) < 0.02 for load in found.loads)
    assert found.slope == pytest.approx(1.0, abs=1e-4)
    assert found.step_g == 0.1
    assert found.rate_hz == pytest.approx(RATE_HZ, rel=0.01)
    assert math.isnan(found.loads[2].range_g)


def test_a_scale_that_weighs_short_shows_in_its_slope() -> None:
    found = examine(*recorded(ROUNDS, slope=0.995), [100.0, 200.0, 500.0])
    assert found.slope == pytest.approx(0.995, abs=2e-4)
    assert found.loads[2].error_g == pytest.approx(-2.5, abs=0.1)
    assert abs(found.loads[2].error_g) > found.loads[2].allowed_g


def test_a_bent_scale_shows_in_its_nonlinearity() -> None:
    straight = examine(*recorded(ROUNDS), [100.0, 200.0, 500.0])
    bent = examine(*recorded(ROUNDS, bend_g=1.5), [100.0, 200.0, 500.0])
    assert straight.nonlinearity_g < 0.1
    assert bent.nonlinearity_g > 0.5


def test_a_drifting_zero_is_told() -> None:
    found = examine(*recorded(ROUNDS, drift_g_s=0.01), [100.0, 200.0, 500.0])
    # From the middle of the first zero to that of the last are a minute.
    assert found.zero_drift_g == pytest.approx(0.6, abs=0.1)


@pytest.mark.parametrize("lag_s", [0.15, 0.4, 0.7])
def test_the_response_time_is_read_off_the_steps(lag_s: float) -> None:
    found = examine(*recorded(ROUNDS, lag_s=lag_s), [100.0, 200.0, 500.0])
    assert found.response is not None
    assert found.response.delay_s == pytest.approx(lag_s, rel=0.15)


def test_a_mass_that_was_not_announced_is_no_load() -> None:
    found = examine(*recorded([0.0, 100.0, 0.0, 333.0, 0.0]), [100.0])
    assert [load.mass_g for load in found.loads] == [100.0]


def test_errors_allowed_in_service_are_those_of_oiml_r76() -> None:
    # OIML R 76-1:2006, table 6, class III, e = 0.1 g: initial 0.05 g to 50 g, 0.1 g to 200 g, 0.15 g to
    # 1000 g; in service the double (3.5.2).
    assert allowed_error_g(50.0, 0.1) == pytest.approx(0.1)
    assert allowed_error_g(200.0, 0.1) == pytest.approx(0.2)
    assert allowed_error_g(1000.0, 0.1) == pytest.approx(0.3)


def test_noise_is_that_of_numpy() -> None:
    time_s, weight_g = recorded([250.0], noise_g=0.2, step_g=0.01)
    (plateau,) = find_plateaus(time_s, weight_g)
    assert plateau.sd_g == pytest.approx(float(np.std(weight_g, ddof=1)), rel=0.1)


def test_masses_must_be_masses() -> None:
    with pytest.raises(ValueError, match="over 0"):
        examine(*recorded(ROUNDS), [0.0])
