"""A tare that goes through the scale's filter, and what else falls so: each shown by scipy's filter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from logger.curve import Analysis, analyse
from logger.curve.edges.shapes import Response, left_of_step
from logger.curve.readings.timebase import grid_of, samples_from
from logger.curve.taken_out.fading_tares import faded_to_zero
from logger.curve.taken_out.steps import find_moves
from tests.benchmarks.curve_suite import Floats

FINE_S = np.arange(0.0, 75.0, 0.01)
VESSEL_G, DOSE_G = 400.0, 20.0


def shown(load_g: Floats, response: Response, seed: int = 1) -> tuple[Floats, Floats]:
    """What the scale sends of a load, ten times a second, in steps of 0.1 g."""
    stage = signal.lti([1.0], [response.stage_s, 1.0])
    for _ in range(response.order):
        _, load_g, _ = signal.lsim(stage, load_g, FINE_S)
    sent_g = load_g[::10] + np.random.default_rng(seed).normal(0.0, 0.03, load_g[::10].size)
    return FINE_S[::10], np.round(sent_g, 1)


def tared(load_g: Floats, *keys_s: float) -> Floats:
    """Count what is on the pan as nothing from each time on."""
    load_g = load_g.copy()
    for key_s in keys_s:
        load_g[key_s <= FINE_S] -= load_g[key_s > FINE_S][-1]
    return load_g


def dosed_and_poured(waits_s: float, response: Response) -> Analysis:
    """Vessel, tare, coffee in two portions, tare; so long after it 60 g within 10 s."""
    load_g = VESSEL_G * (FINE_S > 2.0) + 0.5 * DOSE_G * np.clip((FINE_S - 18.0) / 0.4, 0.0, 1.0)
    load_g += 0.5 * DOSE_G * np.clip((FINE_S - 20.5) / 0.4, 0.0, 1.0)
    load_g += 6.0 * np.clip(FINE_S - 30.0 - waits_s, 0.0, 10.0) + 6.0 * np.clip(FINE_S - 55.0, 0.0, 10.0)
    return analyse(*shown(tared(load_g, 10.0, 30.0), response))


@pytest.mark.parametrize("response", [Response(0.5), Response(0.75), Response(0.35, 2)])
@pytest.mark.parametrize("waits_s", [1.2, 1.6, 3.0])
def test_a_pour_begins_in_the_tail_of_a_tare(waits_s: float, response: Response) -> None:
    """A third of the coffee is shown yet as the water comes: its weight and its start were lost with it."""
    brew = dosed_and_poured(waits_s, response)
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0, 60.0], abs=0.4)
    assert brew.pours[0].start_s == pytest.approx(30.0 + waits_s, abs=0.3)
    before = [event.kind for event in brew.events if event.start_s < 31.0]
    assert before == ["vessel-on", "tare", "dose", "tare"]
    assert [event.change_g for event in brew.events if event.kind == "tare"] == pytest.approx(
        [-VESSEL_G, -DOSE_G], abs=0.5
    )


@pytest.mark.parametrize("response", [Response(0.5), Response(0.5, 2)])
@pytest.mark.parametrize("key_s", [30.0, 36.0])
def test_a_shot_that_is_tared_on_its_way_runs_on(key_s: float, response: Response) -> None:
    load_g = 120.0 * (FINE_S > 2.0) + 1.8 * np.clip(FINE_S - 20.0, 0.0, 25.0)
    brew = analyse(*shown(tared(load_g, 10.0, key_s), response))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([45.0], abs=0.6)
    assert brew.pours[0].end_s == pytest.approx(45.0, abs=0.5)
    assert [event.kind for event in brew.events] == ["vessel-on", "tare", "tare"]


@pytest.mark.parametrize("known", [Response(0.25), None])
@pytest.mark.parametrize("left_g", [-30.0, -12.0, 12.0, 30.0])
def test_a_vessel_is_lifted_to_anywhere_but_zero(left_g: float, known: Response | None) -> None:
    """260 g of brew and dripper fall to what the server bears: that is no tare, and what is left no water."""
    load_g = 12.0 * np.clip(FINE_S - 5.0, 0.0, 20.0) + (left_g - 240.0) * np.clip(
        (FINE_S - 50.0) / 0.4, 0.0, 1.0
    )
    time_s, weight_g = shown(load_g, Response(0.25))
    samples = samples_from(time_s, weight_g)
    moves = find_moves(grid_of(samples), 0.03)
    assert [round(move.change_g) for move in moves] == [round(left_g - 240.0)]
    assert faded_to_zero(moves, samples, known, 0.03, 0.1) == moves
    assert len(analyse(time_s, weight_g).pours) == 1


def test_a_lift_that_leaves_some_grams_is_no_tare_however_slowly_the_display_comes_to_them() -> None:
    """What a slow scale has still to show of the fall is no water, either."""
    load_g = 12.0 * np.clip(FINE_S - 5.0, 0.0, 20.0) - 237.0 * np.clip((FINE_S - 50.0) / 0.3, 0.0, 1.0)
    samples = samples_from(*shown(load_g, Response(0.75)))
    moves = find_moves(grid_of(samples), 0.03)
    assert faded_to_zero(moves, samples, Response(0.75), 0.03, 0.1) == moves


@pytest.mark.parametrize("response", [Response(0.3), Response(0.6), Response(0.4, 2)])
def test_a_fall_to_zero_ends_where_its_tail_is_known(response: Response) -> None:
    load_g = tared(50.0 * (FINE_S > 2.0), 30.0) + 6.0 * np.clip(FINE_S - 31.0, 0.0, 10.0)
    samples = samples_from(*shown(load_g, response))
    on, fall = faded_to_zero(find_moves(grid_of(samples), 0.03), samples, response, 0.03, 0.1)
    assert on.fades is None
    assert fall.fades == response
    assert fall.start_s == pytest.approx(30.0, abs=0.03)
    assert fall.change_g == pytest.approx(-50.0, abs=0.1)
    assert fall.end_s < 30.0 + 5.0 * response.delay_s


def test_a_fall_that_was_seen_to_its_end_hides_nothing() -> None:
    samples = samples_from(*shown(tared(50.0 * (FINE_S > 2.0), 30.0), Response(0.3)))
    moves = find_moves(grid_of(samples), 0.03)
    assert faded_to_zero(moves, samples, Response(0.3), 0.03, 0.1) == moves


@pytest.mark.parametrize("order", [1, 2])
def test_what_is_left_of_a_step_is_scipys(order: int) -> None:
    stages = signal.TransferFunction([1.0], np.poly1d([0.4, 1.0]) ** order)
    since_s, came = signal.step(stages, T=np.linspace(0.0, 4.0, 50))
    assert left_of_step(since_s, 0.4, order) == pytest.approx(1.0 - came, abs=1e-6)
    assert left_of_step(np.array([-1.0]), 0.4, order) == pytest.approx([1.0])
