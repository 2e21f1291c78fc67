"""A filter that is rinsed on the scale before the brew, and emptied."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from logger.curve import LiveAnalysis, analyse

STEP_S, LAG_S = 0.1, 0.25
TIME_S = np.arange(0.0, 140.0, STEP_S)
VESSEL_G, RINSE_G = 500.0, 60.0

Corners = list[tuple[float, float]]


def shown_g(
    corners: Corners, tares_s: tuple[float, ...], seed: int = 1, stage_s: float = LAG_S
) -> NDArray[np.float64]:
    """What a scale of one stage shows of a load of straight pieces; the tare key is pressed now and then."""
    load_g = np.interp(TIME_S, *np.array(corners).T)
    share = 1.0 - np.exp(-STEP_S / stage_s)
    weight_g = lfilter([share], [1.0, share - 1.0], load_g)
    for tare_s in tares_s:
        weight_g[tare_s <= TIME_S] -= weight_g[tare_s > TIME_S][-1]
    noise_g = np.random.default_rng(seed).normal(0.0, 0.03, TIME_S.size)
    return np.round((weight_g + noise_g) / 0.1) * 0.1


def brewed(back_g: float, after_s: float = 40.0) -> Corners:
    """A vessel is put on, rinsed, taken off and put back with so much in it; then three pours."""
    load: Corners = [(0, 0), (2, 0), (2.2, VESSEL_G), (8, VESSEL_G), (14, VESSEL_G + RINSE_G)]
    load += [(20, VESSEL_G + RINSE_G), (20.2, 0), (26, 0), (26.2, VESSEL_G + back_g)]
    level_g = VESSEL_G + back_g
    for start_s, grams in ((after_s, 45.0), (70.0, 100.0), (100.0, 100.0)):
        load += [(start_s, level_g), (start_s + grams / 6.0, level_g + grams)]
        level_g += grams
    return [*load, (140, level_g)]


@pytest.mark.parametrize("paper_g", [0.0, 4.0, 7.0])
def test_a_rinse_that_is_emptied_is_no_pour(paper_g: float) -> None:
    read = analyse(TIME_S, shown_g(brewed(paper_g), (4.0, 32.0)))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([45.0, 100.0, 100.0], abs=1.0)
    assert read.start_s == pytest.approx(40.0, abs=0.3)
    rinse = next(event for event in read.events if event.start_s > 7.0)
    assert (rinse.kind, rinse.change_g) == ("vessel-on", pytest.approx(RINSE_G, abs=1.0))


def test_live_withdraws_it_when_the_vessel_is_back() -> None:
    live = LiveAnalysis()
    for time_s, weight_g in zip(TIME_S.tolist(), shown_g(brewed(4.0), (4.0, 32.0)).tolist(), strict=True):
        live.push(time_s, weight_g)
    live.finish()
    assert [pour.poured_g for pour in live.pours] == pytest.approx([45.0, 100.0, 100.0], abs=1.0)


def test_a_bloom_that_is_lifted_and_put_back_stays_a_pour() -> None:
    read = analyse(TIME_S, shown_g(brewed(RINSE_G), (4.0,)))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([60.0, 45.0, 100.0, 100.0], abs=1.0)


def test_of_what_comes_back_lighter_by_less_the_rest_was_no_rinse() -> None:
    read = analyse(TIME_S, shown_g(brewed(30.0), (4.0,)))
    assert len(read.pours) == 4


@pytest.mark.parametrize("tared", [True, False])
def test_most_of_it_emptied_is_a_rinse_where_the_tare_key_is_pressed_then(tared: bool) -> None:
    """A quarter stays, in a thick cloth: more than paper keeps."""
    read = analyse(TIME_S, shown_g(brewed(15.0), (4.0, 32.0) if tared else (4.0,)))
    assert len(read.pours) == (3 if tared else 4)


def test_nobody_rinses_a_filter_that_has_the_coffee_in_it() -> None:
    """It was dosed and tared before: what is poured then is the bloom, whatever the lifts seem to say."""
    coffee = [(at_s, load_g + 15.0 * (at_s > 6.0 and load_g > 0.0)) for at_s, load_g in brewed(0.0)]
    coffee[3:3] = [(5.4, VESSEL_G), (6.4, VESSEL_G + 15.0)]
    read = analyse(TIME_S, shown_g(coffee, (4.0, 7.4)))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([60.0, 45.0, 100.0, 100.0], abs=1.0)


@pytest.mark.parametrize("hurry", [1.0, 2.0])
@pytest.mark.parametrize("stage_s", [0.25, 0.5])
def test_the_server_is_emptied_and_tared_and_the_filter_filled_beside_the_scale(
    hurry: float, stage_s: float
) -> None:
    """A server of 300 g, a filter of 200 g; it leaves the scale after the key: the pan was not empty then."""
    gaps_s = np.array([0.0, 5.0, 8.0, 12.0, 16.0]) / hurry
    off_s, on_s, tare_s, up_s, down_s = 20.0 + gaps_s
    load: Corners = [(0, 0), (2, 0), (2.2, 500), (8, 500), (14, 560)]
    steps = ((off_s, 560, 200), (on_s, 200, 500), (up_s, 500, 300), (down_s, 300, 515))
    for at_s, before_g, after_g in steps:
        load += [(at_s, before_g), (at_s + 0.2, after_g)]
    load += [(50, 515), (57, 560), (80, 560), (96, 660), (140, 660)]
    read = analyse(TIME_S, shown_g(load, (tare_s, down_s + 4.0), stage_s=stage_s))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([45.0, 100.0], abs=1.0)
    assert [event.kind for event in read.events if event.kind == "tare"] == ["tare", "tare"]


def test_a_hand_that_leans_on_the_vessel_as_it_takes_it_pours_nothing() -> None:
    leant = brewed(2.0)
    full_g = VESSEL_G + RINSE_G
    leant[5:6] = [(19.3, full_g), (19.5, full_g + 6.0), (20.0, full_g + 6.0)]
    read = analyse(TIME_S, shown_g(leant, (4.0, 32.0)))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([45.0, 100.0, 100.0], abs=1.0)
