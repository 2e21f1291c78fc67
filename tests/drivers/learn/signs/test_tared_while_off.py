"""A vessel is tared, lifted off, and the pan tared again: it was below nought once, and no load is."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import pytest

from drivers.learn import Arrival, Capture, Learned, Load, Stream, learn
from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import Kind
from drivers.learn.signs.dips import Reflections
from tests.drivers.learn.small import UUID, reads, summed

LOADS = (0.0, 123.4, 401.7, 250.0)
VESSEL_G, EVERY_S, SETTLES_BY = 296.3, 0.1, 0.5
PLACED, TARED, TARED_AGAIN, FIRST_LOAD = 20, 70, 130, 150
"""Packets at which the vessel is put on, the pan tared, and tared again with the vessel off; and the first of
a load."""

LIFTED = 90


def shown(vessel_g: float = VESSEL_G) -> tuple[np.ndarray, list[Load]]:
    """Give what is on the pan less the tare, g, every tenth of a second; nought is tracked, and exact."""
    on_pan_g, tare_g, weights_g, loads = 0.0, 0.0, [], []
    for at in range(FIRST_LOAD + 90 * len(LOADS)):
        load = (at - FIRST_LOAD) // 90
        goal_g = LOADS[load] if load >= 0 else vessel_g if PLACED <= at < LIFTED else 0.0
        on_pan_g = goal_g + (on_pan_g - goal_g) * SETTLES_BY
        if at in (TARED, TARED_AGAIN):
            tare_g = on_pan_g
        if load >= 0 and (at - FIRST_LOAD) % 90 == 0:
            loads.append(Load(LOADS[load], at * EVERY_S, (at + 89) * EVERY_S))
        weights_g.append(on_pan_g - tare_g)
    return np.array(weights_g), loads


def tared(packet: Callable[[float, int], bytes], noise_g: float = 0.0) -> Learned:
    """Learn an instrument that makes packets of a weight, g, and a count."""
    rng = random.Random(3)
    weights_g, loads = shown()
    arrivals = tuple(
        Arrival(EVERY_S * at, 0, packet(g + rng.gauss(0.0, noise_g), at)) for at, g in enumerate(weights_g)
    )
    return learn(Capture("ble", (Stream(UUID),), arrivals, tuple(loads)))


def _tenths(g: float) -> tuple[int, bool]:
    return abs(round(10 * g)), round(10 * g) < 0


def _byte_before(g: float, at: int) -> bytes:
    size, is_below = _tenths(g)
    body = bytes([0xA5, at % 251, 1 + is_below]) + size.to_bytes(3, "little")
    return body + summed(body)


def _bit_of_flags(g: float, at: int) -> bytes:
    size, is_below = _tenths(g)
    return bytes([0xCA, 0x21 | 4 * is_below, at % 251]) + bytes.fromhex(f"{size:06d}")


def _minus_behind(g: float, at: int) -> bytes:
    size, is_below = _tenths(g)
    return bytes([0x90, at % 251]) + b"%06d" % size + (b"-" if is_below else b" ")


def _top_bit(g: float, at: int) -> bytes:
    size, is_below = _tenths(g)
    body = bytes([0x5E, at % 251]) + (size | is_below << 31).to_bytes(4, "little")
    return body + summed(body)


def _minus_nought(g: float, at: int) -> bytes:
    body = bytes([0xA5, at % 251, 0x80 * (g < 0.0)]) + bytes.fromhex(f"{_tenths(g)[0]:06d}")
    return body + summed(body)


@pytest.mark.parametrize(
    ("packet", "noise_g"),
    [
        (_byte_before, 0.0), (_bit_of_flags, 0.0), (_minus_behind, 0.0), (_top_bit, 0.0),
        (_byte_before, 0.05), (_minus_nought, 0.02),
    ],
)  # fmt: skip
def test_what_is_set_while_a_tared_vessel_is_off_is_the_sign(
    packet: Callable[[float, int], bytes], noise_g: float
):
    found = tared(packet, noise_g)
    assert found.is_sure, found.reasons
    assert not found.never_negative
    assert reads(found, packet(-78.9, 3), packet(78.9, 4)) == pytest.approx([-78.9, 78.9])


@pytest.mark.parametrize(("codes", "rests_g"), [(b"NP", 0.01), (b"-+", 0.03)])
def test_a_minus_at_most_noughts_is_one_where_it_shows_what_lies_below_nought(codes: bytes, rests_g: float):
    """The pan rests a little below nought; what was lifted off tells that it is no flag of an empty pan.

    A written minus is one also where it stays from noughts before that until those behind it.
    """

    def packet(g: float, at: int) -> bytes:
        return bytes([0x5A, at % 251, codes[int(g >= 0.0)]]) + bytes.fromhex(f"{_tenths(g)[0]:06d}")

    found = tared(lambda g, at: packet(g + (0.01 if at % 8 == 3 else -rests_g), at), 0.01)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-78.9, 3), packet(78.9, 4)) == pytest.approx([-78.9, 78.9])


def test_what_is_filled_with_ones_below_nought_picks_no_messages_out_of_a_stream():
    """Counts that lag far behind stand before the digits; below nought, their upper bytes name no kind."""
    weights_g, loads = shown()
    arrivals, late_g = [], 0.0
    for at, g in enumerate(weights_g):
        late_g += 0.03 * (g - late_g)
        size, is_below = 10 * _tenths(g)[0], g < -0.05 or (abs(g) < 0.05 and at % 8 == 3)
        counts = round(20 * late_g).to_bytes(4, "big", signed=True)
        frame = b"\xfe\x3a\x30" + counts + bytes.fromhex(f"{size + 800_000 * is_below:06d}")
        frame += bytes([16 * (at % 90 < 20), 1, 0x40 + at * 7 % 3]) + b"\r\n"
        arrivals.append(Arrival(EVERY_S * at, 0, frame))
        if at % 10 == 4:
            frame = b"\xfe\x3a\x27" + bytes([0, at % 20, *bytes(8)]) + b"\r\n"
            arrivals.append(Arrival(EVERY_S * at + 0.03, 0, frame))
    found = learn(Capture("serial", (Stream(),), tuple(arrivals), tuple(loads)))
    assert found.is_sure, found.reasons
    below = b"\r\n\xfe\x3a\x30\xff\xff\xf0\x22" + bytes.fromhex("807890") + b"\x00\x01\x40\r\n"
    assert reads(found, b"\r\n", below, link="serial")[-1] == pytest.approx(-78.9)


@pytest.mark.parametrize("warmer_at", [TARED_AGAIN + 1, TARED_AGAIN + 8])
def test_a_temperature_that_rises_as_the_pan_is_tared_again_is_no_sign(warmer_at: int):
    def packet(g: float, at: int) -> bytes:
        size, is_below = _tenths(g)
        body = bytes([0x13 + (at >= warmer_at), at % 251, 0x53]) + (size | is_below << 23).to_bytes(3, "big")
        return body + summed(body)

    found = tared(packet)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-78.9, 3), packet(78.9, 999)) == pytest.approx([-78.9, 78.9])


def test_a_flag_that_the_pan_is_tared_is_no_sign():
    def packet(g: float, at: int) -> bytes:
        size, is_below = _tenths(g)
        flags = 0x10 * (TARED <= at < TARED_AGAIN) | 0x02 * is_below
        return bytes([0xCA, flags, at % 251]) + bytes.fromhex(f"{size:06d}")

    found = tared(packet)
    assert found.is_sure, found.reasons
    tared_flag, minus = (bytes([0xCA, flags, 3]) + bytes.fromhex("000789") for flags in (0x10, 0x02))
    assert reads(found, tared_flag, minus) == pytest.approx([78.9, -78.9])


def _reflections(vessel_g: float = VESSEL_G, first: int = 0) -> tuple[Reflections, np.ndarray]:
    weights_g, loads = shown(vessel_g)
    weights_g[:first] = 0.0
    frames = np.round(10 * np.abs(weights_g)).astype(">u2").view(np.uint8).reshape(-1, 2)
    kind = Kind(0, EVERY_S * np.arange(len(frames)), frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 0, 2, "big"), loads, "weight")
    assert one is not None
    return Reflections(np.round(np.abs(weights_g), 1), one), np.round(weights_g, 1)


@pytest.mark.parametrize(
    ("first", "end"),
    [
        pytest.param(LIFTED + 3, TARED_AGAIN, id="it begins on the way"),
        pytest.param(LIFTED, TARED_AGAIN - 9, id="it ends before the pan is tared"),
        pytest.param(TARED, TARED_AGAIN, id="it tells that the pan is tared"),
    ],
)
def test_what_is_set_for_another_while_shows_no_dip(first: int, end: int):
    dips, weights_g = _reflections()
    assert dips.are_clear(weights_g < 0.0)
    other = np.zeros(len(weights_g), dtype=bool)
    other[first:end] = True
    assert not dips.are_clear(other)


@pytest.mark.parametrize("vessel_g", [700.0, 1100.0])
def test_a_vessel_is_as_heavy_as_what_has_stood_on_the_pan(vessel_g: float):
    """Else what is far from nought may be a number that has begun again at the end of its bytes."""
    dips, weights_g = _reflections(vessel_g)
    assert dips.are_clear(weights_g < 0.0)
    dips, weights_g = _reflections(vessel_g, first=TARED)
    assert not dips.are_clear(weights_g < 0.0)


def test_a_sign_that_is_shown_of_what_rounds_to_nought_is_asked_for():
    """The pan was below nought by a step at most; what tells an empty pan is set at most noughts."""

    def packet(g: float, at: int) -> bytes:
        rest_g = {20: 0.08, 35: -0.08}.get(at % 50, 0.03 if at % 50 < 30 else -0.03)
        shown_g = g + rest_g
        data = bytes([0xA7, at % 251, 0x80 * (shown_g < 0.0)]) + b"%05d" % _tenths(shown_g)[0]
        return data + summed(data)

    loads = [Load(g, 30.0 * at, 30.0 * at + 29.9) for at, g in enumerate(LOADS)]
    arrivals = [Arrival(EVERY_S * at, 0, packet(LOADS[at // 300], at)) for at in range(300 * len(LOADS))]
    found = learn(Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(loads)))
    assert not found.is_sure
    assert found.further_g is not None
    assert found.further_g < 0.0
