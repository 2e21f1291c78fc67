"""Newton's law of cooling against textbook examples, a table of readings, and scipy."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from logger.curve.temperature.cooling import Cooling, cooling

COFFEE_C = np.array(
    [
        [82.3, 78.5, 74.3, 70.7, 67.6, 65.0, 62.5, 60.1],
        [58.1, 56.1, 54.3, 52.8, 51.2, 49.9, 48.6, 47.2],
        [46.1, 45.0, 43.9, 43.0, 41.9, 41.0, 40.1, 39.5],
    ]
).ravel()
"""Black coffee in a glass, every two minutes, in a room of 17 °C: the table of Gould and Tobochnik, An
Introduction to Computer Simulation Methods, chapter on the coffee cooling problem (source from memory; the
numbers stand in several public copies of the exercise).
"""


def _c(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def _newton(t: np.ndarray, room_c: float, excess_c: float, k_min: float) -> np.ndarray:
    return room_c + excess_c * np.exp(-k_min * t)


def test_coffee_cools_as_the_textbook_says() -> None:
    """200 °F in a room of 70 °F, 180 °F after 2 min, 175 °F after 2.56 min, 155 °F after 5.09 min: OpenStax
    Calculus 1 §6.8 (source from memory). So k = ln(130 / 110) / 2 min.
    """
    minutes = np.array([0.0, 2.0, 2.56, 5.09])
    found = cooling(60 * minutes, np.array([_c(f) for f in (200, 180, 175, 155)]), room_c=_c(70))
    assert found.k_per_min == pytest.approx(math.log(130 / 110) / 2, abs=2e-4)
    assert found.k_uncertainty_per_min is not None
    assert found.k_uncertainty_per_min < 2e-4
    assert (found.room_from, found.lack) == ("given", "")


def test_two_readings_give_a_constant_without_an_error() -> None:
    """205 °F, 161.9 °F after 5 min in a room of 73 °F, k = 0.079 per minute: Hawkes, VLM2 §5.7."""
    found = cooling([0.0, 300.0], [_c(205), _c(161.9)], room_c=_c(73))
    assert found.k_per_min == pytest.approx(0.079, abs=0.0005)
    assert found.k_uncertainty_per_min is None


def test_without_a_room_the_fit_is_what_scipy_finds() -> None:
    minutes = 2.0 * np.arange(COFFEE_C.size)
    best, covariance = curve_fit(_newton, minutes, COFFEE_C, p0=(20, 60, 0.03))
    found = cooling(60 * minutes, COFFEE_C)
    assert found.room_from == "fitted"
    assert found.room_c == pytest.approx(best[0], abs=0.05)
    assert found.k_per_min == pytest.approx(best[2], rel=1e-3)
    # Its residuals are alike from reading to reading, so the error is larger than for independent ones.
    assert math.sqrt(covariance[2, 2]) <= found.k_uncertainty_per_min < 4 * math.sqrt(covariance[2, 2])


def test_with_the_room_given_the_fit_is_what_scipy_finds() -> None:
    minutes = 2.0 * np.arange(COFFEE_C.size)
    (_, k_min), _ = curve_fit(lambda t, e, k: _newton(t, 17.0, e, k), minutes, COFFEE_C, p0=(60, 0.03))
    assert cooling(60 * minutes, COFFEE_C, room_c=17.0).k_per_min == pytest.approx(k_min, rel=0.03)


@pytest.mark.parametrize("room_known", [True, False])
def test_the_error_is_as_large_as_it_says(room_known: bool) -> None:
    rng = np.random.default_rng(4)
    off = []
    for _ in range(60):
        k_min, step_c = rng.uniform(0.012, 0.03), rng.choice([0.01, 0.1, 0.5])
        time_s = np.arange(0, 1500 if not room_known else 200, 1.0)
        true_c = _newton(time_s / 60, 22.0, rng.uniform(60, 73), k_min)
        value_c = np.round((true_c + rng.normal(0, 0.08, time_s.size)) / step_c) * step_c
        found = cooling(
            time_s, value_c, room_c=22.0 if room_known else None, noise_c=math.hypot(0.08, step_c / 12**0.5)
        )
        assert found.k_per_min is not None
        off.append((found.k_per_min - k_min) / found.k_uncertainty_per_min)
    assert np.mean(np.abs(off) < 2) > 0.88


def _falling(lasts_s: float, rate_c_min: float, noise_c: float = 0.03) -> Cooling:
    time_s = np.arange(0, lasts_s, 0.5)
    noise = np.random.default_rng(1).normal(0, noise_c, time_s.size)
    return cooling(time_s, 93.0 - rate_c_min * time_s / 60 + noise, room_c=22.0, noise_c=noise_c)


def test_the_rate_is_told_as_brewers_say_it() -> None:
    found = _falling(120, 1.2)
    assert found.rate_c_min == pytest.approx(1.2, abs=0.02)
    assert found.k_per_min == pytest.approx(1.2 / (93.0 - 1.2 - 22.0), rel=0.02)


@pytest.mark.parametrize(
    ("found", "lack"),
    [
        (_falling(10, 1.2), "too-short"),
        (_falling(120, -20.0), "heated"),
        (_falling(60, 0.02), "too-little-drop"),
        (cooling(np.arange(0.0, 90.0), 93.0 - 0.02 * np.arange(90.0), noise_c=0.03), "room-unknown"),
        (cooling(np.arange(0.0, 90.0), 22.0 - 0.02 * np.arange(90.0), room_c=22.0), "no-warmer"),
        (cooling([], []), "no-readings"),
    ],
)
def test_where_there_is_no_constant_the_reason_is_given(found: Cooling, lack: str) -> None:
    assert (found.k_per_min, found.lack) == (None, lack)


def test_what_makes_no_sense_is_refused_in_clear_words() -> None:
    with pytest.raises(ValueError, match="do not match"):
        cooling([0.0, 1.0], [90.0])
    with pytest.raises(ValueError, match="no temperature"):
        cooling([0.0, 1.0], [90.0, 89.0], room_c=math.nan)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 1e4), st.floats(width=32)), max_size=40),
    st.none() | st.floats(-50, 150),
)
def test_any_readings_give_a_constant_or_a_reason(
    readings: list[tuple[float, float]], room_c: float | None
) -> None:
    readings.sort()
    time_s, value_c = np.array([r[0] for r in readings]), np.array([r[1] for r in readings])
    value_c = np.where(np.abs(value_c) < 1e6, value_c, np.nan)
    found = cooling(time_s, value_c, room_c=room_c)
    assert (found.k_per_min is None) is bool(found.lack)
    if found.k_per_min is not None:
        assert found.k_per_min > 0
