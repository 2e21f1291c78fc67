"""Loads that were typed wrongly: by a digit that is hardly seen, and where no factor is round."""

from __future__ import annotations

import struct

import pytest

from drivers.learn import learn
from tests.drivers.learn.small import captured, learned


def tenths(weight_g: float, n: int) -> bytes:
    return struct.pack(">BhB", 0xA7, round(10 * weight_g), n % 256)


def odd(weight_g: float, n: int) -> bytes:
    return struct.pack(">BiB", 0xA7, round(37.2163 * weight_g), n % 256)


def typed(packet, loads: tuple[float, ...], *, really: tuple[float, ...]):
    """Learn an instrument that had other loads on it than were typed."""
    return learn(captured(packet, really, 0.05, "ble").with_loads(loads))


@pytest.mark.parametrize("packet", [tenths, odd])
def test_one_digit_that_is_wrong_by_less_than_a_hundredth_is_told(packet):
    found = typed(packet, (0.0, 20.3, 100.0, 435.0), really=(0.0, 20.3, 100.0, 432.0))
    assert not found.is_sure
    assert "Load 4 was typed as 435 g and reads as 432.0 g" in found.mistakes[0]


@pytest.mark.parametrize(
    ("loads", "words"),
    [
        ((0.0, 250.0, 123.4, 500.0), "Loads 2 and 3 look swapped"),
        ((0.0, 123.4, 250.0, 0.5), "it looks like kg"),
        ((0.0, 123.4, 520.0, 500.0), "Load 3 was typed as 520 g and reads as 250.0 g"),
    ],
)
def test_slips_are_told_where_the_factor_is_not_round(loads, words):
    found = typed(odd, loads, really=(0.0, 123.4, 250.0, 500.0))
    assert not found.is_sure
    assert words in found.mistakes[0]


def test_loads_of_a_kitchen_scale_are_no_slips():
    found = typed(tenths, (0.0, 123.0, 250.0, 500.0), really=(0.0, 124.0, 250.2, 499.6))
    assert found.is_sure, found.reasons
    assert not found.mistakes


@pytest.mark.parametrize(("per_g", "nought"), [(10.0, 0), (3117.8, 41_230)], ids=["tenths", "bare counts"])
def test_a_load_below_nought_is_no_slip_where_the_display_has_nothing_below_nought(per_g: float, nought: int):
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BIB", 0xA7, nought + max(round(per_g * g), 0), n % 256)

    found = learned(packet, (0.0, -148.5, 100.0, 250.0, 500.0))
    assert found.is_sure, found.reasons
    assert found.reasons[-1] == "For loads below zero it shows 0."
