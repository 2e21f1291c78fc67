"""What of the samples around an edge is believed, and how far."""

from __future__ import annotations

import numpy as np
import pytest

from logger.curve.around import Seen
from logger.curve.believed import DROPS_HIDE_G, END_SHAPE_S, FOOT_S, believed_at_end, believed_at_start
from logger.curve.edges import Edge
from logger.curve.shapes import Response

TIME_S = np.arange(0.0, 7.0, 0.25)


def seen(flow_g_s: float = 6.0, noise_g: float = 0.02, **more: bool) -> Seen:
    edge = Edge(time_s=3.0, ramp_s=0.4, level_g=60.0, flow_g_s=flow_g_s, misfit_g2=1.0)
    return Seen(TIME_S, np.full_like(TIME_S, 60.0), edge, noise_g, **more)


def sd_g(believed: Seen) -> np.ndarray:
    """The standard deviation with which each sample counts."""
    assert believed.believed is not None
    return believed.noise_g / believed.believed


def test_a_hand_s_ramp_hides_what_it_brings_within_a_moment_until_the_stream_is_over() -> None:
    counted_g = sd_g(believed_at_end(seen(), Response(0.35)))
    assert counted_g[TIME_S <= 3.0 + FOOT_S] == pytest.approx(np.hypot(0.02, END_SHAPE_S * 6.0))
    assert np.all(np.diff(counted_g[TIME_S > 3.0 + FOOT_S]) <= 0.0)


def test_long_after_a_stream_only_single_drops_hide_anything() -> None:
    assert sd_g(believed_at_end(seen(), Response(0.35)))[-1] == pytest.approx(
        np.hypot(0.02, DROPS_HIDE_G), rel=1e-3
    )


def test_a_slow_scale_shows_the_ramp_for_longer() -> None:
    soon = np.searchsorted(TIME_S, 3.75)
    quick_g, slow_g = (sd_g(believed_at_end(seen(), Response(lag_s)))[soon] for lag_s in (0.2, 0.8))
    assert slow_g > 1.5 * quick_g


@pytest.mark.parametrize("espresso", [seen(flow_g_s=2.0), seen(flow_g_s=4.0, all_thin=True)])
def test_an_espresso_fades_for_seconds_and_is_believed_alike_all_along(espresso: Seen) -> None:
    assert believed_at_end(espresso, Response(0.35)).believed is None


def test_a_start_is_believed_alike_all_along() -> None:
    assert believed_at_start(seen()).believed is None
