"""Edges weighed against each other: when they are, fading ones among them, and how sure that is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from logger.curve.edges.around import Seen
from logger.curve.edges.choice import Known
from logger.curve.edges.edge import THIN_FLOW_G_S, Edge, fit_edge
from logger.curve.edges.posterior import know_ends, know_starts
from logger.curve.edges.shapes import FALL_S, Response
from logger.curve.pours.ranges import ENDS, THIN_ENDS, Late, between_times
from tests.benchmarks.curve_suite import Floats

FINE_S = np.arange(4.0, 17.0, 0.005)
TIME_S = np.arange(5.0, 16.0, 0.1)
TURNS_S, RAMP_S = 10.0, 0.4
NOISE_G = 0.03
RESPONSES = pytest.mark.parametrize("response", [Response(0.0), Response(0.3), Response(0.25, 2)], ids=str)


def landed(flow_g_s: Floats) -> Floats:
    return np.concatenate(([0.0], np.cumsum(0.0025 * (flow_g_s[1:] + flow_g_s[:-1]))))


def sent(flow_g_s: Floats, response: Response, seed: int) -> Floats:
    """What a scale sends at ``TIME_S`` of water and the press of its stream, by scipy's answer and noise."""
    pan_g = landed(flow_g_s) + FALL_S * flow_g_s
    if response.stage_s > 0.0:
        below = np.polynomial.polynomial.polypow([1.0, response.stage_s], response.order)[::-1]
        pan_g = signal.lsim(signal.TransferFunction([1.0], below), pan_g - pan_g[0], FINE_S)[1] + pan_g[0]
    return np.interp(TIME_S, FINE_S, pan_g) + np.random.default_rng(seed).normal(0.0, NOISE_G, TIME_S.size)


def ending(flow_g_s: float, left_g_s: float = 0.0, fade_s: float = 1.0) -> Floats:
    """A stream that stops within ``RAMP_S``, and drips on with what is left, which fades."""
    stops = flow_g_s * np.clip((TURNS_S - FINE_S) / RAMP_S, 0.0, 1.0)
    return np.maximum(stops, left_g_s * np.exp(-np.maximum(FINE_S - TURNS_S, 0.0) / fade_s))


def both(
    flow_g_s: Floats,
    response: Response,
    seed: int,
    *,
    is_start: bool,
    until_s: float = np.inf,
    by_itself: bool | None = None,
) -> tuple[Edge, Known]:
    """The edge that fits best, and what weighing them all says; a thin stream is an espresso's."""
    seen = until_s > TIME_S
    time_s, weight_g = TIME_S[seen], sent(flow_g_s, response, seed)[seen]
    candidates_s = np.arange(TURNS_S - 2.0, TURNS_S + 2.5, 0.1)
    edge = fit_edge(time_s, weight_g, candidates_s, response, is_start=is_start)
    know = know_starts if is_start else know_ends
    by_itself = edge.flow_g_s < THIN_FLOW_G_S if by_itself is None else by_itself
    [known] = know([Seen(time_s, weight_g, edge, NOISE_G, from_bed=by_itself)], response)
    assert known is not None
    return edge, known


@RESPONSES
def test_a_fading_end_is_where_the_flow_falls_below_a_tenth_of_a_gram_a_second(response: Response) -> None:
    """2 g/s, of which 1.5 fade within a second: 0.1 g/s is left 2.7 s after the ramp.

    The edge that fits best knows no fading and is more than a second early. Measured: 0.15 s off, 0.18 s: no
    pump takes 0.4 s to stop, and what weighs its ends knows that.
    """
    ends_s = TURNS_S + 1.0 * np.log(1.5 / 0.1)
    found = [both(ending(2.0, 1.5), response, seed, is_start=False) for seed in range(6)]
    off_s = [known.time_s - ends_s for _, known in found]
    assert np.median(np.abs(off_s)) < 0.2
    assert np.abs(off_s).max() < 0.4
    assert all(edge.time_s < ends_s - 1.0 for edge, _ in found)


@RESPONSES
def test_what_has_only_just_ended_fades_and_does_not_drip_yet(response: Response) -> None:
    """A second and a half after its end nothing tells single drops, or a film, from the last of the fade.

    Neither is weighed then. Measured: 0.1 s late in the median. Where all was seen it is as late, as no pump
    takes 0.4 s to stop.
    """
    ends_s = TURNS_S + 0.5 * np.log(1.8 / 0.1)
    off_s = [
        both(ending(2.0, 1.8, 0.5), response, seed, is_start=False, until_s=ends_s + 1.5)[1].time_s - ends_s
        for seed in range(6)
    ]
    assert -0.05 < np.median(off_s) < 0.18
    off_s = [
        both(ending(2.0, 1.8, 0.5), response, seed, is_start=False)[1].time_s - ends_s for seed in range(12)
    ]
    assert abs(np.median(off_s)) < 0.15


@RESPONSES
@pytest.mark.parametrize("flow_g_s", [2.0, 6.0])
def test_a_clean_end_is_not_pushed_late(flow_g_s: float, response: Response) -> None:
    """Measured: within 0.1 s at 6 g/s. At 2 g/s, like an espresso, which always fades, 0.2 s late, once
    0.27 s. The ranges hold five of six at the least, with what no reading shows (see ``ranges``).
    """
    ends_s = TURNS_S - RAMP_S * 0.1 / flow_g_s
    found = [both(ending(flow_g_s), response, seed, is_start=False) for seed in range(6)]
    off_s = np.array([known.time_s - ends_s for _, known in found])
    is_thin = flow_g_s < THIN_FLOW_G_S
    assert off_s.max() < 0.3
    assert np.abs(np.median(off_s)) < (0.2 if is_thin else 0.1)
    late, width = Late.of(response.delay_s, 0.0, thin=is_thin), THIN_ENDS if is_thin else ENDS
    ranges_s = [between_times(known, known.time_s, width, late, edge) for edge, known in found]
    assert np.mean([low_s <= ends_s <= high_s for low_s, high_s in ranges_s]) >= 0.8


@RESPONSES
def test_the_level_after_a_fading_end_has_its_last_drops(response: Response) -> None:
    flow_g_s = ending(2.0, 1.5)
    in_all_g = landed(flow_g_s)[-1]
    for seed in range(4):
        _, known = both(flow_g_s, response, seed, is_start=False)
        assert known.level_g == pytest.approx(in_all_g, abs=0.06)
        assert 0.0 < known.level_sd_g < 0.1


@RESPONSES
def test_a_start_is_known_to_its_first_water(response: Response) -> None:
    """A soft hand, half a cosine over 0.6 s, at 6 g/s; nobody can see whether it is one."""
    flow_g_s = 3.0 * (1.0 - np.cos(np.pi * np.clip((FINE_S - TURNS_S) / 0.6, 0.0, 1.0)))
    known = [both(flow_g_s, response, seed, is_start=True)[1] for seed in range(6)]
    assert np.median([abs(each.time_s - TURNS_S) for each in known]) < 0.1
    assert np.mean([each.low_s <= TURNS_S <= each.high_s for each in known]) >= 0.85
    assert all(each.level_g == pytest.approx(0.0, abs=0.05) for each in known)


@RESPONSES
def test_what_drips_on_behind_a_hand_is_drops_and_behind_an_espresso_it_may_be_a_film(
    response: Response,
) -> None:
    """0.06 g/s go on: with them, a fade is down to 0.1 g/s later."""
    flow_g_s = ending(2.0, 1.0, 0.6) + np.where(FINE_S > TURNS_S, 0.06, 0.0)
    hands_s, beds_s = (
        np.median(
            [
                both(flow_g_s, response, seed, is_start=False, by_itself=by_itself)[1].time_s
                for seed in range(6)
            ]
        )
        for by_itself in (False, True)
    )
    fades_s = 0.6 * np.log([1.0 / 0.1, 1.0 / (0.1 - 0.06)])
    assert abs(hands_s - TURNS_S - fades_s[0]) < 0.2
    assert hands_s + 0.05 < beds_s < TURNS_S + fades_s[1]


def test_more_noise_leaves_more_possible() -> None:
    response = Response(0.3)
    weight_g = sent(ending(6.0), response, 0)
    edge = fit_edge(TIME_S, weight_g, np.arange(8.0, 12.5, 0.1), response, is_start=False)
    widths_s = []
    for noise_g in (0.05, 0.3, 1.0):
        [known] = know_ends([Seen(TIME_S, weight_g, edge, noise_g)], response)
        assert known is not None
        widths_s.append(known.high_s - known.low_s)
    assert widths_s == sorted(widths_s)
    assert widths_s[-1] > 1.5 * widths_s[0]


@pytest.mark.parametrize("flow_g_s", [0.0, 2.0, 6.0])
def test_where_the_weight_only_falls_no_edge_is_possible(flow_g_s: float) -> None:
    falling = 100.0 - 3.0 * TIME_S
    edge = Edge(TURNS_S, 70.0, flow_g_s, RAMP_S, 0.0)
    seen = Seen(TIME_S, falling, edge, NOISE_G)
    assert know_starts([seen], Response(0.3)) == [None]
    assert know_ends([seen], Response(0.3)) == [None]


@pytest.mark.parametrize("is_start", [True, False])
def test_edges_weighed_together_are_those_weighed_alone(is_start: bool) -> None:
    """Pours and a thin stream, seen in more samples or in fewer; one is further off than a first look."""
    response, know = Response(0.3), know_starts if is_start else know_ends
    seen = []
    for flow_g_s, fewer, off_s in ((6.0, 1, 0.0), (3.5, 2, 0.0), (1.8, 1, 0.0), (7.0, 3, 0.7)):
        flow = ending(flow_g_s)[::-1] if is_start else ending(flow_g_s)
        weight_g = sent(flow, response, int(flow_g_s))
        edge = fit_edge(TIME_S, weight_g, np.arange(8.0, 12.5, 0.1), response, is_start=is_start)
        edge = replace(edge, time_s=edge.time_s + off_s)
        seen.append(Seen(TIME_S[::fewer], weight_g[::fewer], edge, NOISE_G))
    together, alone = know(seen, response), [know([each], response)[0] for each in seen]
    for one, other in zip(together, alone, strict=True):
        assert one is not None
        assert other is not None
        for name in ("time_s", "low_s", "high_s", "level_g", "level_sd_g"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-6)


def test_an_espresso_that_drips_before_it_runs_begins_at_its_first_drops() -> None:
    """0.3 g/s for three seconds, then growing: a ramp through all of it begins seconds too early."""
    time_s = np.arange(0.0, 45.0, 0.1)
    flow_g_s = np.interp(time_s, [12.0, 12.001, 15.0, 19.0, 35.0, 35.5], [0.0, 0.3, 0.3, 1.8, 2.0, 0.0])
    weight_g = np.round(np.cumsum(flow_g_s) * 0.1, 1)
    (pour,) = analyse(time_s, weight_g, response_s=0.05).pours
    half_gram_s = time_s[np.searchsorted(weight_g, 0.5)]
    assert 11.7 < pour.start_s < half_gram_s
    assert pour.start_between_s[0] < 12.0 < pour.start_between_s[1]
