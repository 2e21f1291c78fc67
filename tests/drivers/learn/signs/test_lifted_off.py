"""A vessel that was tared and is lifted off between two loads: far below nought, where no load is."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import pytest

from drivers.learn import Arrival, Capture, Learned, Load, Stream, learn
from drivers.learn.checks.check import Check
from drivers.learn.doubts.sign_doubts import without_chance_sign
from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.packets.kinds import Kind
from drivers.learn.signs.below_zero import undamaged
from drivers.learn.signs.crossings import turns_on_way
from drivers.learn.signs.dips import Reflections
from tests.drivers.learn.small import UUID, reads, summed

LOADS, HEAVY = (0.0, 123.4, 401.7, 250.0), (183.7, 200.0, 819.9, 50.0)
VESSEL_G, EVERY_S, NOISE_G = -296.3, 0.1, 0.05
_TENTHS = 10


def lifted(
    slows_by: float = 0.5, off: int = 30, put_on: tuple[float, ...] = LOADS
) -> tuple[list[tuple[float, float]], list[Load]]:
    """Give weights in g with their times, and the loads: after each, the vessel is off for some packets."""
    rng, weights, loads, shown_g = random.Random(7), [], [], 0.0
    for load in put_on:
        for goal_g, count in ((load, 90), (VESSEL_G, off)):
            first_s = len(weights) * EVERY_S
            for _ in range(count):
                shown_g = goal_g + (shown_g - goal_g) * slows_by
                weights.append((len(weights) * EVERY_S, shown_g + rng.gauss(0.0, NOISE_G)))
            if goal_g == load:
                loads.append(Load(load, first_s, first_s + (count - 1) * EVERY_S))
    return weights, loads


def learned(
    packet: Callable[[int, int], bytes], slows_by: float = 0.5, per_g: int = _TENTHS, off: int = 30,
    put_on: tuple[float, ...] = LOADS,
) -> Learned:  # fmt: skip
    """Learn an instrument that makes packets of parts of a gram, tenths as a rule, and a count."""
    weights, loads = lifted(slows_by, off, put_on)
    arrivals = tuple(
        Arrival(time_s, 0, packet(round(weight_g * per_g), at))
        for at, (time_s, weight_g) in enumerate(weights)
    )
    return learn(Capture("ble", (Stream(UUID),), arrivals, tuple(loads)))


def _bcd(value: int, width: int) -> bytes:
    return bytes.fromhex(f"{value:0{2 * width}d}")


def _sign_byte(value: int, at: int) -> bytes:
    body = bytes([0xA5, at % 251, 2 if value < 0 else 1]) + abs(value).to_bytes(2, "little")
    return body + summed(body)


def _sign_in_flags(value: int, at: int) -> bytes:
    body = b"\x5e" + abs(value).to_bytes(3, "little") + bytes([0x10 * (value < 0), at % 251])
    return body + summed(body)


def _bcd_with_sign(value: int, at: int) -> bytes:
    return bytes([0x90, 0x5A, at % 251, 0x2D if value < 0 else 0x20]) + _bcd(abs(value), 3)


def _digits_with_sign_far_off(value: int, at: int) -> bytes:
    body = bytes([0x15, 0x80 * (value < 0), at % 251, 0x33]) + b"%07d" % abs(value)
    return body + summed(body)


def _sign_bit_on_top(value: int, at: int) -> bytes:
    body = bytes([0xCA, at % 251]) + (abs(value) | (value < 0) << 31).to_bytes(4, "big")
    return body + summed(body)


def _sign_above_nought(value: int, at: int) -> bytes:
    return bytes([0x68, at % 251, value < 0]) + abs(value).to_bytes(3, "big") + b"\xb1"


@pytest.mark.parametrize(
    "packet",
    [
        _sign_byte,
        _sign_in_flags,
        _bcd_with_sign,
        _digits_with_sign_far_off,
        _sign_bit_on_top,
        _sign_above_nought,
    ],
)
@pytest.mark.parametrize("slows_by", [0.15, 0.7])
def test_what_flips_where_the_number_is_reflected_at_nought_is_its_sign(packet, slows_by):
    found = learned(packet, slows_by)
    assert found.is_sure, found.reasons
    assert not found.never_negative
    assert reads(found, packet(-4321, 3), packet(4321, 4), packet(0, 5)) == pytest.approx(
        [-432.1, 432.1, 0.0]
    )


def test_a_short_dip_shows_a_sign_where_no_packet_is_damaged():
    """Six packets below nought, of which two are a step below it, of 20 g."""
    tens = [0] * 30 + [-2, -18, -18, -18, -18, -2] + [0] * 54
    loads = [Load(0.0, 5.0, 8.9)]
    for load in (120.0, 500.0, 240.0):
        first_s = len(tens) * EVERY_S
        loads.append(Load(load, first_s, first_s + 8.9))
        tens += [round(load / 10)] * 90
    frames = np.array([(abs(one), one < 0) for one in tens], dtype=np.uint8)
    kind = Kind(0, EVERY_S * np.arange(len(tens)), frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 0, 1, sign=SignPlace(1, 0x01, (1,))), loads, "weight")
    assert one is not None
    assert without_chance_sign(one, one, loads, "weight") is one
    assert without_chance_sign(one, None, loads, "weight").number.sign is None


def test_a_digit_goes_on_below_a_sign_bit():
    def packet(value: int, at: int) -> bytes:
        digits = int(f"{abs(value):06d}", 16) | (value < 0) << 23
        body = bytes([0x66, at % 251]) + digits.to_bytes(3, "big")
        return body + summed(body)

    found = learned(packet, per_g=100, off=10)
    assert found.is_sure, found.reasons
    assert reads(found, packet(122520, 0), packet(-43210, 0)) == pytest.approx([1225.2, -432.1])


def _integer(value: int, at: int, width: int, order: str) -> bytes:
    body = bytes([0x5A, at % 251]) + value.to_bytes(width, order, signed=True)
    return body + summed(body)


def _offset_binary(value: int, at: int) -> bytes:
    body = bytes([0x73, at % 251]) + (value + (1 << 31)).to_bytes(4, "little")
    return body + summed(body)


def _hexadecimal(value: int, at: int) -> bytes:
    body = bytes([0x02, at % 251]) + b"%06X" % (value % (1 << 24))
    return body + summed(body)


@pytest.mark.parametrize(
    "packet",
    [
        pytest.param(lambda value, at: _integer(value, at, 3, "big"), id="three bytes"),
        pytest.param(lambda value, at: _integer(value, at, 4, "little"), id="four bytes"),
        pytest.param(_offset_binary, id="nought is the middle of the range"),
        pytest.param(_hexadecimal, id="hexadecimal text"),
    ],
)
def test_bytes_that_are_filled_below_nought_are_the_numbers_own(packet):
    found = learned(packet)
    assert found.is_sure, found.reasons
    assert reads(found, packet(45163, 3), packet(-4321, 4)) == pytest.approx([4516.3, -432.1])


def test_a_byte_that_stays_nought_below_nought_is_none_of_the_numbers():
    def packet(value: int, at: int) -> bytes:
        body = bytes([0x5A, at % 251]) + value.to_bytes(2, "little", signed=True) + b"\0"
        return body + summed(body)

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-4321, 4)) == pytest.approx([-432.1])


def test_a_flag_of_motion_shows_no_dip():
    weights, loads = lifted()
    grams = np.array([weight_g for _, weight_g in weights])
    sizes = np.abs(np.round(grams * _TENTHS)).astype(np.int64)
    moves = np.abs(np.gradient(grams)) > 1.0
    frames = np.column_stack((sizes >> 8, sizes & 0xFF, grams < 0.0, moves)).astype(np.uint8)
    kind = Kind(0, np.array([time_s for time_s, _ in weights]), frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 0, 2), loads, "weight")
    assert one is not None
    dips = Reflections(sizes / _TENTHS, one)
    assert dips.are_clear(SignPlace(2, 0xFF, (1,)).is_negative(frames))
    assert not dips.are_clear(SignPlace(3, 0xFF, (1,)).is_negative(frames))
    assert not dips.are_clear(~moves)


def test_a_packet_that_is_missing_as_a_load_is_lifted_off_lets_nothing_jump_over_nought():
    # The pan is emptied: a flow is below nought from there until the next load is put on.
    weights_g = [1000.0] * 40 + [1000.0 * 0.8**n for n in range(1, 25)]
    weights_g += [600.0 - 600.0 * 0.8**n for n in range(1, 80)] + [0.0] * 40
    times_s = np.array([0.1 * n + 0.1 * (n >= 40) for n in range(len(weights_g))])
    values = np.array([round(10 * g) for g in weights_g])
    frames = values.astype(">u2").view(np.uint8).reshape(-1, 2)
    loads = (Load(1000.0, 0.0, 3.9), Load(600.0, 6.6, 14.4), Load(0.0, 14.5, 18.4))
    kind = Kind(0, times_s, frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 0, 2, "big"), loads, "weight")
    assert one is not None
    minus = np.zeros(len(frames), dtype=bool)
    minus[40:64] = True
    assert not Reflections(np.abs(one.loads_of(values)), one).are_clear(minus)


def test_a_sign_that_a_load_has_all_the_way_down_to_nought_is_none():
    # A filter is slow: three packets after the change, more than four fifths of it are left.
    sizes_g = np.array([50.0] * 40 + [49.1, 45.6, 41.5, 36.0, 25.0, 16.8, 9.8, 5.3, 2.7, 1.4, 0.7])
    sizes_g = np.concatenate((sizes_g, [0.0] * 40, [30.0] * 40))
    frames = np.round(10 * sizes_g).astype(">u2").view(np.uint8).reshape(-1, 2)
    loads = (Load(50.0, 0.0, 3.9), Load(0.0, 5.1, 9.0), Load(30.0, 9.1, 13.0))
    kind = Kind(0, 0.1 * np.arange(len(frames)), frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 0, 2, "big"), loads, "weight")
    assert one is not None
    minus = np.zeros(len(frames), dtype=bool)
    minus[40:51] = True
    assert turns_on_way(10 * sizes_g, minus, one)
    assert not turns_on_way(10 * sizes_g, np.zeros(len(frames), dtype=bool), one)


def test_a_display_that_goes_on_with_every_third_packet_goes_through_nought():
    arrivals, loads, held, at = [], [], 0.0, 0
    for load in LOADS:
        for goal_g, count in ((load, 90), (VESSEL_G, 90)):
            first_s = (at + 60) * EVERY_S
            for _ in range(count):
                held += max(min(goal_g - held, 45.0), -45.0) if at % 3 == 0 else 0.003 * (goal_g - held)
                value = round(held * _TENTHS)
                data = bytes([0xA5, 0xFF * (value < 0), 0]) + _bcd(abs(value), 2)
                arrivals.append(Arrival(at * EVERY_S, 0, data))
                at += 1
            if goal_g == load:
                loads.append(Load(load, first_s, (at - 1) * EVERY_S))
    found = learn(Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(loads)))
    assert reads(found, bytes([0xA5, 0xFF, 0]) + _bcd(2932, 2)) == [pytest.approx(-293.2)]


def test_a_number_that_is_nearly_at_nought_before_it_comes_to_rest_there_goes_through_it():
    """What is shown is sent twice each time, and nearly all of the way lies between two of those."""
    loads = [Load(g, 8.0 + 9.0 * at, 16.5 + 9.0 * at) for at, g in enumerate((0.0, 334.0, 849.0, 180.0))]
    arrivals, off = [], (0, 0, -2, -142, -133, -134, -134, -134, -133, -134, 11, -1)
    for at in range(220):
        time_s = 0.2 * at
        on_pan = [round(load.value) for load in loads if load.start_s <= time_s]
        value = off[at // 2] if at // 2 < len(off) else on_pan[-1] if on_pan else 0
        data = bytes([0x80 * (at < 12), 0x80 * (value < 0)]) + _bcd(abs(value), 3)
        arrivals.append(Arrival(time_s, 0, data))
    found = learn(Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(loads)))
    assert reads(found, b"\x00\x80\x00\x01\x24") == [-124.0]


def test_a_temperature_that_rises_once_after_a_vessel_was_lifted_off_is_no_sign():
    """It stands beside the number, and was another one until the first load was on its way."""
    loads = [Load(g, 8.0 + 9.0 * at, 16.5 + 9.0 * at) for at, g in enumerate(LOADS)]
    arrivals, shown_g = [], 0.0
    for at in range(440):
        time_s = at * EVERY_S
        on_pan = [load.value for load in loads if load.start_s - 0.4 <= time_s]
        goal_g = VESSEL_G if 5 < at < 40 else on_pan[-1] if on_pan else 0.0
        shown_g = goal_g + (shown_g - goal_g) * 0.6
        value = round(shown_g * _TENTHS)
        body = bytes([0xA5, 0x08, 0xFF * (value < 0)]) + abs(value).to_bytes(2, "little")
        body += bytes([0x17 + (at > 100), at % 251])
        arrivals.append(Arrival(time_s, 0, body + summed(body)))
    found = learn(Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(loads)))
    below = bytes([0xA5, 0x08, 0xFF]) + (2932).to_bytes(2, "little") + bytes([0x18, 9])
    assert reads(found, below + summed(below)) == [pytest.approx(-293.2)]


def test_packets_are_in_order_in_which_a_copy_that_no_check_covers_goes_below_nought():
    """The check covers the number and its flags, and not the copy in whole grams before it."""

    def packet(value: int, at: int) -> bytes:
        body = f"{abs(value):06d}".encode() + bytes([0x13 ^ 0x04 * (value < 0)])
        return bytes([0x6B, at % 251]) + (value // 10).to_bytes(4, "big", signed=True) + body + summed(body)

    weights, loads = lifted()
    values = [round(_TENTHS * weight_g) for _, weight_g in weights]
    frames = np.array([list(packet(value, at)) for at, value in enumerate(values)], dtype=np.uint8)
    below = np.flatnonzero(frames[:, 2] == 0xFF)
    few = np.delete(np.arange(len(frames)), below[4:])
    kind = Kind(0, EVERY_S * few, frames[few]).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("ascii", 6, 6), loads, "weight")
    assert one is not None
    clean = undamaged(one, Check("sum8", 13, 6, 13), (0x6B,), loads, "weight")
    assert clean is not None
    assert len(clean.kind.frames) == len(few)


def test_a_sign_is_seen_though_packets_are_missing_at_the_end_of_one_of_its_dips():
    """They come in blocks, so that their times do not tell."""
    weights, loads = lifted(slows_by=0.7)
    grams = np.array([weight_g for _, weight_g in weights])
    first = int(np.flatnonzero(grams < -20.0)[0])
    values = np.round(_TENTHS * np.delete(grams, [first - 1, first])).astype(np.int64)
    frames = np.abs(values).astype(">u2").view(np.uint8).reshape(-1, 2)
    kind = Kind(0, EVERY_S * np.arange(len(frames)), frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 0, 2, "big"), loads, "weight")
    assert one is not None
    dips = Reflections(np.abs(values) / _TENTHS, one)
    assert dips.are_clear(values < 0)
    assert not dips.are_clear(np.abs(np.gradient(values)) > _TENTHS)


def _sign_bit_below_flags(value: int, at: int) -> bytes:
    upper, lower = divmod(abs(value), 256)
    body = bytes([0x55, 0x80 * (at % 120 > 20), 0x80 | 0x40 * (value < 0) | upper, lower, 0x21, at % 251])
    return body + summed(body)


def test_a_sign_bit_below_flags_is_found_though_the_loads_fill_the_number():
    """Two's complement has no room for the heaviest load, so that there seems to be no sign at all."""
    found = learned(_sign_bit_below_flags, put_on=HEAVY)
    assert reads(found, _sign_bit_below_flags(-588, 5)) == [-58.8]


def _signed_below_flags(value: int, at: int) -> bytes:
    counts = (value * 20 & 0xFFFFF) | 0x100000 | 0x800000 * (at % 120 > 20)
    body = b"\x5a\x24" + counts.to_bytes(3, "big") + bytes([0x31, at % 251])
    return body + summed(body)


def test_bits_below_flags_that_wrap_below_nought_go_on_with_those_that_are_filled_there():
    found = learned(_signed_below_flags, put_on=HEAVY)
    assert reads(found, _signed_below_flags(-978, 5), _signed_below_flags(4321, 5)) == [-97.8, 432.1]
