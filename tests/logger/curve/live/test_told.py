"""What was told is withdrawn or stays, though what came before it is forgotten."""

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import LiveAnalysis, analyse
from logger.curve.brew import Floats


def shown_g(time_s: Floats, added: dict[tuple[float, float], float], tares_s: tuple[float, ...]) -> Floats:
    """Give what a scale shows to a tenth, on to which grams come or go between two times, and is tared."""
    weight_g = np.zeros_like(time_s)
    for (from_s, until_s), grams in added.items():
        weight_g += grams * np.clip((time_s - from_s) / (until_s - from_s), 0.0, 1.0)
    weight_g += np.random.default_rng(2).normal(0.0, 0.02, time_s.size)
    for tare_s in tares_s:
        pressed = int(np.searchsorted(time_s, tare_s))
        weight_g[pressed:] -= weight_g[pressed - 1]
    return np.asarray(np.round(weight_g, 1))


def followed(time_s: Floats, weight_g: Floats) -> LiveAnalysis:
    live = LiveAnalysis()
    for now_s, weight in zip(time_s.tolist(), weight_g.tolist(), strict=True):
        live.push(now_s, weight)
    return live


@pytest.mark.parametrize("emptied_s", [26.0, 36.0])
def test_water_that_rinses_the_filter_is_withdrawn(emptied_s: float) -> None:
    """It is told as a pour, as nothing tells it from one, until its vessel comes back empty."""
    time_s = np.arange(0.0, emptied_s + 100.0, 0.1)
    later_s = emptied_s + 30.0
    added = {
        (4.0, 4.4): 310.0,
        (9.0, 19.0): 60.0,
        (emptied_s, emptied_s + 0.4): -370.0,
        (emptied_s + 6.0, emptied_s + 6.4): 313.0,
        (emptied_s + 12.0, emptied_s + 12.4): 15.0,
        (later_s, later_s + 9.0): 45.0,
        (later_s + 30.0, later_s + 60.0): 205.0,
    }
    weight_g = shown_g(time_s, added, (emptied_s + 9.0, emptied_s + 17.0))
    rinsed = time_s < emptied_s - 1.0
    assert [round(pour.poured_g) for pour in followed(time_s[rinsed], weight_g[rinsed]).pours] == [60]
    assert [round(pour.poured_g) for pour in followed(time_s, weight_g).pours] == [45, 205]
    assert [round(pour.poured_g) for pour in analyse(time_s, weight_g).pours] == [45, 205]


@pytest.mark.parametrize("rests_s", [8.0, 12.0, 16.0, 20.0])
def test_a_bloom_that_is_tared_is_no_coffee_though_the_coffee_is_forgotten(rests_s: float) -> None:
    """Between the dose and its tare nothing happens for a while: that is no place to cut the readings."""
    time_s = np.arange(0.0, 140.0, 0.1)
    tared_s = 12.5 + rests_s
    bloom_s = tared_s + 7.5
    added = {
        (3.0, 3.4): 300.0,
        (11.0, 12.5): 15.0,
        (bloom_s, bloom_s + 8.0): 30.0,
        (bloom_s + 40.0, bloom_s + 60.0): 110.0,
        (bloom_s + 70.0, bloom_s + 90.0): 110.0,
    }
    weight_g = shown_g(time_s, added, (6.0, tared_s, bloom_s + 14.5))
    live = followed(time_s, weight_g)
    assert [round(pour.poured_g) for pour in live.pours] == [30, 110, 110]
    assert [event.kind for event in live.events] == ["vessel-on", "tare", "dose", "tare", "tare"]


def test_a_brew_that_follows_hours_later_has_its_own_coffee() -> None:
    """What was dosed and poured in the one before it tells nothing of what comes."""
    one_s = np.arange(0.0, 80.0, 0.1)
    added = {(8.0, 9.0): 15.0, (25.0, 34.0): 45.0, (50.0, 70.0): 205.0}
    weight_g = shown_g(one_s, added, (13.0,))
    time_s = np.concatenate([one_s, one_s + 9000.0])
    live = followed(time_s, np.concatenate([weight_g, weight_g]))
    assert [round(pour.poured_g) for pour in live.pours] == [45, 205, 45, 205]
    assert [event.kind for event in live.events].count("dose") == 2


def test_so_much_coffee_is_withdrawn_once_the_water_for_it_is_in() -> None:
    """40 g, tared; the first 80 g of water may follow a bloom, 460 g follow none. Its readings are gone."""
    time_s = np.arange(0.0, 190.0, 0.1)
    added = {
        (3.0, 3.4): 400.0,
        (14.0, 16.0): 18.0,
        (16.0, 20.0): 22.0,
        (34.0, 47.0): 80.0,
        (90.0, 150.0): 380.0,
    }
    weight_g = shown_g(time_s, added, (8.0, 28.0))
    early = time_s < 55.0
    assert [round(pour.poured_g) for pour in followed(time_s[early], weight_g[early]).pours] == [40, 80]
    live = followed(time_s, weight_g)
    assert [round(pour.poured_g) for pour in live.pours] == [80, 380]
    assert live.pours[0].from_g == 0.0
    assert [event.kind for event in live.events] == ["vessel-on", "tare", "dose", "tare"]


def test_a_bloom_of_a_large_brew_is_not_withdrawn_as_a_second_dose() -> None:
    """It was tared, and more than ten times as much follows; but the coffee was tared before it."""
    time_s = np.arange(0.0, 260.0, 0.1)
    added = {
        (3.0, 3.4): 400.0,
        (12.0, 14.0): 16.0,
        (40.0, 46.0): 30.0,
        (110.0, 150.0): 220.0,
        (170.0, 200.0): 140.0,
    }
    live = followed(time_s, shown_g(time_s, added, (8.0, 24.0, 56.0)))
    assert [round(pour.poured_g) for pour in live.pours] == [30, 220, 140]


@pytest.mark.parametrize("seed", range(3))
def test_coffee_in_many_portions_is_none_of_it_a_pour(seed: int) -> None:
    """The first two were told as pours; the tare comes long after them, and soon after the last."""
    time_s = np.arange(0.0, 80.0, 0.04)
    load_g = 427.0 * (time_s > 6.0) + 9.5 * np.clip(time_s - 36.8, 0.0, 34.0)
    for at_s, grams in ((18.4, 4.2), (19.1, 2.0), (21.2, 7.4), (23.6, 7.5), (24.9, 2.3)):
        load_g += grams * np.clip((time_s - at_s) / 0.4, 0.0, 1.0)
    share = 1.0 - np.exp(-0.04 / 0.23)
    weight_g = lfilter([share], [1.0, share - 1.0], load_g)
    weight_g += np.random.default_rng(seed).normal(0.0, 0.1, time_s.size)
    for pressed in np.searchsorted(time_s, (9.8, 34.6)).tolist():
        weight_g[pressed:] -= weight_g[pressed - 1]
    assert [round(pour.poured_g, -1) for pour in followed(time_s, weight_g).pours] == [320.0]


def test_coffee_that_leaves_with_its_tin_is_withdrawn_though_what_came_before_it_is_forgotten() -> None:
    """Two portions, told as pours; nobody tares them, and the shot that follows tells what they were."""
    time_s = np.arange(0.0, 90.0, 0.1)
    added = {
        (3.0, 3.4): 80.0,
        (18.0, 21.0): 11.0,
        (23.0, 25.5): 7.0,
        (33.0, 33.4): -98.0,
        (40.0, 40.4): 195.0,
        (60.0, 78.0): 22.0,
    }
    weight_g = shown_g(time_s, added, (8.0, 48.0))
    early = time_s < 32.0
    assert [round(pour.poured_g) for pour in followed(time_s[early], weight_g[early]).pours] == [11, 7]
    assert [round(pour.poured_g) for pour in followed(time_s, weight_g).pours] == [22]
