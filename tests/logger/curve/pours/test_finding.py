"""What counts as a pour at all."""

import numpy as np
import pytest

from logger.curve import LiveAnalysis, analyse

TIME_S = np.arange(0.0, 60.0, 0.1)


@pytest.mark.parametrize("off_g", [3.1, 4.5])
def test_a_display_that_still_settles_as_the_readings_begin_shows_no_water(off_g: float) -> None:
    """A scale just called back comes to its weight through its own filter, from nothing."""
    settles_g = off_g * (1.0 - np.exp(-TIME_S / 0.6))
    weight_g = np.round(settles_g + 80.0 * np.clip((TIME_S - 20.0) / 16.0, 0.0, 1.0), 1)
    brew = analyse(TIME_S, weight_g)
    live = LiveAnalysis()
    for time_s, shown_g in zip(TIME_S, weight_g, strict=True):
        live.push(time_s, shown_g)
    live.finish()
    for pours in (brew.pours, live.pours):
        assert [pour.poured_g for pour in pours] == pytest.approx([80.0], abs=0.3)


def test_a_pour_that_had_begun_before_the_readings_is_one() -> None:
    weight_g = np.round(5.0 * np.clip(TIME_S, 0.0, 9.0) + 6.0 * np.clip(TIME_S - 25.0, 0.0, 15.0), 1)
    brew = analyse(TIME_S, weight_g)
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([45.0, 90.0], abs=0.5)
