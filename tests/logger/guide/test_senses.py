"""Channels that fall silent, and water that is not ready."""

from __future__ import annotations

import math

import pytest

from logger.guide.cue import Water
from logger.guide.senses import STALE_AFTER_S, Channels, Kettle


def states(channels: Channels, time_s: float) -> dict[str, str]:
    return {state.channel: state.state for state in channels.states(time_s)}


def test_a_scale_that_falls_silent_is_stale_and_one_that_is_slow_is_not() -> None:
    channels = Channels()
    for number in range(40):
        channels.heard("scale", number / 10)
    for number in range(3):
        channels.heard("slow", 2.0 * number)
    assert states(channels, 4.0 + STALE_AFTER_S - 0.2) == {"scale": "fresh", "slow": "fresh"}
    assert states(channels, 4.0 + STALE_AFTER_S + 0.2) == {"scale": "stale", "slow": "fresh"}
    assert states(channels, 14.0) == {"scale": "stale", "slow": "stale"}
    (scale, _) = channels.states(7.9)
    assert scale.silent_s == pytest.approx(4.0)
    channels.heard("scale", 15.0)
    assert states(channels, 15.1)["scale"] == "fresh"


def test_bursts_are_a_pace_too() -> None:
    channels = Channels()
    for burst in range(20):
        for number in range(4):
            channels.heard("scale", burst * 0.6 + number / 1000)
    assert states(channels, 19 * 0.6 + 1.4) == {"scale": "fresh"}


def test_a_lost_link_is_lost_until_it_is_heard_again() -> None:
    channels = Channels()
    channels.heard("kettle", 1.0)
    channels.lost("kettle", 3.0)
    assert states(channels, 3.0) == {"kettle": "lost"}
    channels.heard("kettle", 9.0)
    assert states(channels, 9.5) == {"kettle": "fresh"}
    assert channels.is_fresh("kettle", 9.5) and not channels.is_fresh("nobody", 9.5)


READY = {
    "ready": (93.1, 94.0, Water("kettle", 93.1, 94.0, True, "ready")),
    "too cool": (89.6, 94.0, Water("kettle", 89.6, 94.0, False, "4.4 °C too cool")),
    "too hot": (97.0, 94.0, Water("kettle", 97.0, 94.0, False, "3.0 °C too hot")),
    "nothing asked for": (93.0, None, Water("kettle", 93.0)),
}


@pytest.mark.parametrize("name", READY)
def test_the_water_is_ready_or_says_what_it_lacks(name: str) -> None:
    shown_c, wanted_c, expected = READY[name]
    kettle, channels = Kettle(), Channels()
    channels.heard("kettle", 1.0)
    kettle.push("kettle", shown_c)
    assert kettle.water(channels, 1.5, wanted_c, 2.0) == (expected,)


def test_the_thermometer_in_the_water_comes_first_and_an_old_value_is_not_ready() -> None:
    kettle, channels = Kettle(), Channels()
    for channel, value_c in (("slurry", 88.0), ("kettle", 94.0), ("room", 21.0)):
        channels.heard(channel, 1.0)
        kettle.push(channel, value_c)
    kettle.push("kettle", math.nan)
    first, *others = kettle.water(channels, 1.0, 94.0, 2.0)
    assert (first.channel, first.ready) == ("kettle", True)
    assert [(water.channel, water.ready) for water in others] == [("slurry", None), ("room", None)]
    assert kettle.water(channels, 20.0, 94.0, 2.0)[0] == Water("kettle", 94.0)


def test_one_thermometer_of_any_name_is_the_waters_but_not_one_in_the_slurry() -> None:
    for channel, ready in (("probe", True), ("slurry", None)):
        kettle, channels = Kettle(), Channels()
        channels.heard(channel, 1.0)
        kettle.push(channel, 94.0)
        assert kettle.water(channels, 1.0, 94.0, 2.0)[0].ready is ready
