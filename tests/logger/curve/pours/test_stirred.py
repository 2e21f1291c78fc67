"""A pour that is stirred at once ends where the stirring begins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import analyse
from logger.curve.brew import Event
from logger.curve.edges.choice import Known
from logger.curve.pours.stirred import FROM_S, UNTIL_S, stirred_end
from tests.benchmarks.curve_suite import THREE_POURS, Floats
from tests.logger.curve.staged import CALM, staged

STIR = Event("stir", 20.0, 26.0, 0.0)
LAG_S = 0.3


def an_end(time_s: float) -> Known:
    return Known(time_s, time_s - 0.4, time_s + 0.4, 250.0, 0.05)


def test_an_end_in_stirring_is_where_that_begins_and_may_be_where_it_was_read() -> None:
    end = stirred_end(an_end(21.4), (STIR,))
    assert end.time_s == 20.0 + FROM_S
    assert end.low_s == 20.0
    assert end.high_s == pytest.approx(21.8)
    assert end.level_g == 250.0
    assert stirred_end(end, (STIR,)) == end


@pytest.mark.parametrize("time_s", [19.9, 20.0 + FROM_S, 20.1 + UNTIL_S, 26.2])
def test_an_end_before_stirring_after_it_or_long_after_it_began_stays(time_s: float) -> None:
    assert stirred_end(an_end(time_s), (STIR,)) == an_end(time_s)


def stirred(time_s: Floats, from_s: float) -> Floats:
    """Four seconds to and fro, as a scale that lags by ``LAG_S`` shows it."""
    since_s = np.clip(time_s - from_s, 0.0, 4.0)
    pushed_g = 8.0 * np.sin(2.0 * np.pi * 1.3 * since_s) * np.sin(np.pi * since_s / 4.0) ** 0.5
    kept = np.exp(-np.median(np.diff(time_s)) / LAG_S)
    return np.asarray(lfilter([1.0 - kept], [1.0, -kept], pushed_g))


@pytest.mark.parametrize("after_s", [0.15, 0.5])
def test_whoever_stirs_at_once_has_stopped_pouring(after_s: float) -> None:
    """Read within the stirring, these ends were 0.3 s late."""
    errors_s, holds = [], []
    for seed in range(4):
        conditions = replace(CALM, lag_s=(LAG_S, LAG_S), noise_g=(0.05, 0.05))
        time_s, weight_g, truth = staged(THREE_POURS, conditions, seed)
        for true in truth.pours:
            weight_g = weight_g + stirred(time_s, true.end_s + after_s)
        found = analyse(time_s, weight_g, response_s=LAG_S)
        for pour, true in zip(found.pours, truth.pours, strict=True):
            assert pour.end_between_s is not None
            errors_s.append(pour.end_s - true.end_s)
            holds.append(pour.end_between_s[0] <= true.end_s <= pour.end_between_s[1])
    assert np.abs(np.median(errors_s)) < 0.15
    assert np.max(np.abs(errors_s)) < 0.25
    assert np.mean(holds) >= 0.85
