"""What was told is withdrawn or stays, though what came before it is forgotten."""

import numpy as np
import pytest

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
