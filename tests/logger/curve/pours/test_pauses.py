"""Two pours that nearly touch, and what may hide the pause between them or look like one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from tests.benchmarks.curve_suite import LEVELS, Floats, brews, weights

FINE_S = np.arange(0.0, 70.0, 0.01)
LAG_S = 0.4


def poured(*pours: tuple[float, float, float]) -> Floats:
    """The flow on a fine grid, g/s: start, end, g/s of each pour, its ramps half a second long."""
    flow = np.zeros(FINE_S.size)
    for start_s, end_s, flow_g_s in pours:
        flow[(start_s + 0.25 <= FINE_S) & (end_s - 0.25 > FINE_S)] = flow_g_s
    return np.convolve(np.pad(flow, 25, mode="edge"), np.ones(51) / 51, mode="valid")


def shown(flow_g_s: Floats, seed: int, noise_g: float = 0.04, beside_g: Floats | None = None) -> Floats:
    """What a scale of first order shows of the water and of what is beside it, every 0.1 s."""
    pan_g = np.cumsum(flow_g_s) * 0.01 + (0.0 if beside_g is None else beside_g)
    _, display_g, _ = signal.lsim(signal.lti([1.0], [LAG_S, 1.0]), pan_g, FINE_S)
    return display_g[::10] + np.random.default_rng(seed).normal(0.0, noise_g, FINE_S[::10].size)


def twice_lagged(pan_g: Floats, seed: int, stage_s: float, noise_g: float) -> Floats:
    """What a scale with two equal stages of lag shows of what is on its pan, every 0.1 s."""
    twice = np.convolve([stage_s, 1.0], [stage_s, 1.0])
    _, display_g, _ = signal.lsim(signal.lti([1.0], twice), pan_g, FINE_S)
    return display_g[::10] + np.random.default_rng(seed).normal(0.0, noise_g, FINE_S[::10].size)


def tared_vessel(flow_g_s: Floats, seed: int, stage_s: float) -> Floats:
    """What a scale with two equal stages of lag shows of a vessel, a tare once it rests, and the water."""
    pan_g = np.cumsum(flow_g_s) * 0.01 + 600.0 * (FINE_S > 2.0)
    return twice_lagged(pan_g, seed, stage_s, 0.04) - 600.0 * (FINE_S[::10] > 12.0)


def stirred(start_s: float, end_s: float, stir_g: float = 8.0) -> Floats:
    """Stirring: to and fro twice a second, rising and falling within 0.3 s."""
    rises = np.clip((FINE_S - start_s) / 0.3, 0.0, 1.0) * np.clip((end_s - FINE_S) / 0.3, 0.0, 1.0)
    return stir_g * rises * np.sin(2.0 * np.pi * 2.0 * (FINE_S - start_s))


def spans(weight_g: Floats) -> list[tuple[float, float]]:
    """Start and end of each pour that is read."""
    return [(pour.start_s, pour.end_s) for pour in analyse(FINE_S[::10], weight_g, response_s=LAG_S).pours]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("stir_s", "again_s"), [((31.2, 33.6), 33.0), ((31.3, 35.0), 34.2)])
def test_stirring_into_the_next_pour_hides_no_pause(
    seed: int, stir_s: tuple[float, float], again_s: float
) -> None:
    """The pause is seen for a second before somebody stirs; the next pour begins while they still do."""
    flow = poured((15.0, 30.0, 3.5), (again_s, 50.0, 4.5))
    read = spans(shown(flow, seed, beside_g=stirred(*stir_s)))
    assert len(read) == 2
    assert read[0] == pytest.approx((15.0, 30.0), abs=0.5)
    assert read[1] == pytest.approx((again_s, 50.0), abs=1.0)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("pause_s", [1.2, 1.4])
def test_a_thin_stream_that_drips_before_it_runs_is_one(seed: int, pause_s: float) -> None:
    flow = poured((15.0, 21.0, 1.2), (21.0 + pause_s, 45.0, 1.6))
    assert spans(shown(flow, seed)) == [pytest.approx((15.0, 45.0), abs=0.8)]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("pause_s", [2.0, 3.0])
def test_a_thin_stream_that_was_stopped_has_stopped(seed: int, pause_s: float) -> None:
    flow = poured((15.0, 35.0, 2.4), (35.0 + pause_s, 55.0, 2.6))
    read = spans(shown(flow, seed, noise_g=0.1))
    assert read == [
        pytest.approx((15.0, 35.0), abs=0.7),
        pytest.approx((35.0 + pause_s, 55.0), abs=0.5),
    ]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("stage_s", [0.5, 0.7])
def test_a_pour_begins_while_the_display_still_follows_the_one_before(seed: int, stage_s: float) -> None:
    """Half-way through the pause the display is still a gram short; that gram belongs to the first pour."""
    flow = poured((18.0, 32.0, 5.0), (34.3, 50.0, 6.0))
    first, second = analyse(FINE_S[::10], tared_vessel(flow, seed, stage_s)).pours
    assert second.start_s == pytest.approx(34.3, abs=0.25)
    assert first.end_s == pytest.approx(32.0, abs=0.45)
    assert first.poured_g == pytest.approx(5.0 * 13.5, abs=0.6)
    assert second.poured_g == pytest.approx(6.0 * 15.2, abs=0.6)


@pytest.mark.parametrize("seed", range(3))
def test_an_espresso_that_drips_first_is_one(seed: int) -> None:
    """Three drops of 2 g a second and a half apart, then the stream."""
    drips = [(15.0 + 1.7 * number, 15.6 + 1.7 * number, 5.0) for number in range(3)]
    flow = poured(*drips, (20.2, 45.0, 1.6))
    assert len(spans(shown(flow, seed))) == 1


@pytest.mark.parametrize("seed", [7147, 9014])
def test_a_pause_that_was_seen_is_kept_though_the_end_before_it_is_unsure(seed: int) -> None:
    """Pauses of 3 s on slow, noisy scales: weighed, a drip may seem to last until the next pour."""
    [brew] = brews(LEVELS["hard"], 1, seed)
    assert len(analyse(*weights(brew)).pours) == len(brew.truth.pours)


@pytest.mark.parametrize("seed", range(3))
def test_a_pour_whose_end_is_stirred_is_still_a_pour(seed: int) -> None:
    """Stirring that begins before the last water, and lasts for three times as long as the pour."""
    seen = spans(shown(poured((8.0, 11.3, 13.0), (40.0, 50.0, 20.0)), seed, beside_g=stirred(10.8, 21.0)))
    assert [start_s for start_s, _ in seen] == pytest.approx([8.0, 40.0], abs=0.3)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("before_g_s", "after_g_s", "pause_s"), [(1.8, 2.4, 2.5), (2.5, 2.1, 2.9)])
def test_where_water_is_missing_the_flow_had_stopped(
    seed: int, before_g_s: float, after_g_s: float, pause_s: float
) -> None:
    """The lag is twice as long as is guessed: the edges touch, five grams are missing between them."""
    again_s = 32.0 + pause_s
    flow = poured((12.0, 32.0, before_g_s), (again_s, 60.0, after_g_s))
    # No vessel's step shows the lag.
    brew = analyse(FINE_S[::10], twice_lagged(np.cumsum(flow) * 0.01, seed, 0.62, 0.05))
    assert [pour.start_s for pour in brew.pours] == pytest.approx([12.0, again_s], abs=1.0)
    # Half a second of ramp is half a second less at full flow.
    poured_g = [before_g_s * 19.5, after_g_s * (59.5 - again_s)]
    assert [pour.poured_g for pour in brew.pours] == pytest.approx(poured_g, abs=1.0)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("stir_s", [(30.1, 34.9), (30.3, 35.4)])
def test_stirring_all_through_a_pause_hides_no_missing_water(seed: int, stir_s: tuple[float, float]) -> None:
    """Who swirls from the last water of one pour to the first of the next leaves no reading at rest."""
    flow = poured((15.0, 30.0, 3.5), (35.0, 50.0, 4.5))
    assert spans(shown(flow, seed, beside_g=stirred(*stir_s))) == [
        pytest.approx((15.0, 30.0), abs=1.0),
        pytest.approx((35.0, 50.0), abs=1.0),
    ]


def spans_but_for(weight_g: Floats, silent_s: tuple[float, float]) -> list[tuple[float, float]]:
    """Start and end of each pour that is read where the radio was silent for a while."""
    time_s = FINE_S[::10]
    heard = (time_s < silent_s[0]) | (time_s > silent_s[1])
    brew = analyse(time_s[heard], weight_g[heard], response_s=LAG_S)
    return [(pour.start_s, pour.end_s) for pour in brew.pours]


@pytest.mark.parametrize("seed", range(4))
def test_a_silence_that_misses_the_water_of_a_pause_hides_one(seed: int) -> None:
    flow = poured((15.0, 30.0, 6.0), (32.4, 50.0, 6.0))
    assert len(spans_but_for(shown(flow, seed), (30.2, 32.9))) == 2


@pytest.mark.parametrize("seed", range(4))
def test_a_silence_in_a_pour_that_is_seen_to_weaken_hides_no_pause(seed: int) -> None:
    """Four seconds at not quite half of the flow: 2.3 s of water are missing, most where it is seen."""
    flow = poured((15.0, 50.0, 4.0)) - poured((29.0, 33.5, 2.2))
    assert len(spans_but_for(shown(flow, seed), (30.6, 32.4))) == 1


@pytest.mark.parametrize("seed", range(4))
def test_stirring_in_a_pour_that_runs_on_hides_no_pause(seed: int) -> None:
    flow = poured((15.0, 50.0, 4.0))
    assert len(spans(shown(flow, seed, beside_g=stirred(28.0, 33.0)))) == 1


@pytest.mark.parametrize("seed", range(4))
def test_stirring_from_before_a_pause_until_after_it_hides_no_missing_water(seed: int) -> None:
    """A stream that runs right up to the stirring and right after it did not weaken for just that long."""
    flow = poured((15.0, 30.0, 3.5), (35.0, 50.0, 3.8))
    assert len(spans(shown(flow, seed, beside_g=stirred(28.6, 37.2)))) == 2


def test_a_flow_that_stops_a_thousand_times_is_a_thousand_pours_and_more() -> None:
    """A pump that goes on and off for hours and never quite stops: all of it is one stretch of flow."""
    time_s = np.arange(0.0, 9000.0, 0.25)
    weight_g = np.cumsum(np.where(time_s % 7.5 < 5.0, 5.0, 0.25)) * 0.25
    noise_g = np.random.default_rng(0).normal(0.0, 0.03, time_s.size)
    assert len(analyse(time_s, weight_g + noise_g).pours) == 1200
