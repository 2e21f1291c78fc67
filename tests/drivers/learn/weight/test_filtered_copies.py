"""Filtered copies, and how they are told where steps are coarse or the pan is emptied between loads."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from drivers.learn import Load, learn
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.lagging import behind_s, goes_after, is_pulled
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import Kind
from drivers.learn.streams import streams_of
from drivers.learn.weight.costs import roughness
from drivers.learn.weight.laggards import without_laggards
from tests.drivers.learn.small import LOADS, captured, fitted, heard_together, learned, reads, summed, xor

PER_LOAD = 160
"""Packets of each load."""

Packet = Callable[[float, float, int], bytes]


def filtered(packet: Packet, part: float = 0.08) -> Callable[[float, int], bytes]:
    """Make packets of a weight, of the same filtered, both in g, and of a number.

    :param part: of what is missing, by which the filter comes nearer with each packet
    """
    slow_g = [0.0]

    def made(g: float, n: int) -> bytes:
        slow_g[0] += part * (g - slow_g[0])
        return packet(g, slow_g[0], n)

    return made


def emptied(packet: Callable[[float, int], bytes], packets: int = 25) -> Callable[[float, int], bytes]:
    """Let each load be taken off before the next one is put on."""
    return lambda g, n: packet(0.0 if n > PER_LOAD and n % PER_LOAD < packets else g, n)


def with_filter(
    loads: tuple[float, ...], noise_g: float, pressed_g: float = 0.0
) -> list[tuple[float, float]]:
    """Give a weight and the same filtered, g, as packets of some loads would have them one after the other.

    :param pressed_g: with what a hand presses and lifts, again and again, before a load comes to rest
    """
    rng, slow_g = np.random.default_rng(4), loads[0]
    found = []
    for load in loads:
        for n, noise in enumerate(rng.normal(0.0, noise_g, PER_LOAD)):
            now_g = load + noise + (-1) ** (n // 4) * pressed_g * (n < 40)
            slow_g += 0.08 * (now_g - slow_g)
            found.append((now_g, slow_g))
    return found


def loads_of(loads: tuple[float, ...]) -> list[Load]:
    """Give loads that stand for as many packets each, ten a second."""
    return [Load(load, 16.0 * at, 16.0 * at + 15.9) for at, load in enumerate(loads)]


def both_of(pairs: list[tuple[float, float]], per_g: float, loads: tuple[float, ...]) -> tuple[Fit, Fit]:
    """Fit a weight and a copy of it that stand in packets as counts of two bytes, ten a second."""
    rows = np.round(per_g * np.array(pairs)).astype(">u2").view(np.uint8).reshape(-1, 4)
    kind = Kind(0, 0.1 * np.arange(len(rows)), rows).seen_with(loads_of(loads))
    assert kind is not None
    weight, copy = (fit(kind, Number("integer", at, 2), loads_of(loads), "weight") for at in (0, 2))
    assert weight is not None
    assert copy is not None
    return weight, copy


@pytest.mark.parametrize("is_first", [True, False])
def test_of_two_copies_in_steps_of_ten_grams_the_one_that_lags_is_told(*, is_first: bool):
    """Each is as coarse as the other, so that both go over alike late."""

    def packet(g: float, slow_g: float, n: int) -> bytes:
        tens = [round(abs(each) / 10) for each in (slow_g, g)]
        first, second = tens if is_first else tens[::-1]
        data = struct.pack("<BBBBBBB", 0xB5, n % 256, 0x20, first, 0x20, second, 0x20)
        return data + summed(data)

    found = learned(filtered(packet), (0.0, 876.0, 200.0, 500.0), noise_g=0.5)
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.number.offset == (5 if is_first else 3)


def test_a_filtered_copy_with_a_check_is_told_on_another_characteristic_though_the_pan_is_emptied():
    """Seen from one load to the next, it is ahead at some and behind at others: it never comes to nought."""
    loads = (0.0, 546.0, 500.0, 400.0)
    prompt = emptied(lambda g, n: struct.pack("<Bf", 0x1E, g))

    def slow(g: float, slow_g: float, n: int) -> bytes:
        data = struct.pack("<Bf", 0xC5, slow_g)
        return data + xor(data)

    late = emptied(filtered(slow))
    found = learn(heard_together(captured(prompt, loads, 0.1, "ble"), captured(late, loads, 0.1, "ble")))
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.kind.stream == 0


def test_a_copy_that_has_hardly_come_to_rest_is_told_by_how_it_goes_though_some_packets_are_damaged():
    """What creeps at rest is no noise; and what is damaged goes further than all of the rest together."""
    loads = (300.0, 200.0, 500.0, 400.0)

    def slow(g: float, slow_g: float, n: int) -> bytes:
        damaged_g = 7919 * n % 1000
        return struct.pack(">HfH", 0x7DA9, 49.42 * (damaged_g if n % 41 == 40 else slow_g), n)

    prompt = emptied(lambda g, n: struct.pack(">BfB", 0xF6, 49.42 * g, n % 256))
    late = emptied(filtered(slow, 0.03))
    capture = heard_together(*(captured(each, loads, 0.05, "ble") for each in (prompt, late)))
    said = []
    for stream, place in zip(streams_of(capture), (1, 2), strict=True):
        (kind,) = (one for one in stream.kinds if not one.selectors)
        seen = kind.seen_with(capture.loads)
        assert seen is not None
        said.append(fit(seen, Number("float", place, 4, "big"), capture.loads, "weight"))
    weight, copy = said
    assert weight is not None
    assert copy is not None
    assert behind_s(copy, weight) > 1.0
    assert behind_s(weight, copy) <= 0.0


def test_a_copy_goes_to_where_the_weight_is_however_far_that_springs_up_and_down():
    """Hands press and lift between the loads: the weight goes many times their way, its filter hardly any."""
    loads = (300.0, 500.0, 380.0, 1000.0)
    weight, copy = both_of(with_filter(loads, noise_g=0.0, pressed_g=90.0), 4.25, loads)
    assert weight.path > 3.0 * max(copy.path, 1.0)
    assert without_laggards([copy, weight]) == ([weight], [copy])


def test_filtered_grams_lag_behind_ounces_that_are_far_coarser():
    """Steps of a twentieth of an ounce stand still for several packets while the grams go on."""

    def packet(g: float, slow_g: float, n: int) -> bytes:
        data = struct.pack(">BHH", 0xB3, 5 * round(20.0 * g / 28.349523125), round(10.0 * slow_g))
        return data + summed(data)

    found = learned(filtered(packet, 0.2), (0.0, 10.0, 20.0, 200.0), noise_g=0.0)
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.number.offset == 1


def test_a_noisy_weight_is_not_drawn_to_what_a_filter_makes_of_it():
    """Its noise leaves the filtered one and comes back to it, which looks as if it went there."""
    loads = (250.0, 100.0, 500.0, 20.0)
    weight, copy = both_of(with_filter(loads, noise_g=0.15), 100.0, loads)
    assert is_pulled(copy, weight)
    assert not is_pulled(weight, copy)


@pytest.mark.parametrize("part", [0.02, 0.04])
def test_a_copy_that_creeps_is_no_rival_though_the_weight_goes_much_further_up_and_down(part: float):
    """The pan is emptied between loads that differ little: the weight goes four times as far as those do."""

    def packet(g: float, slow_g: float, n: int) -> bytes:
        data = struct.pack(">BhhB", 0xA7, round(10 * slow_g), round(10 * g), n % 256)
        return data + summed(data)

    found = learned(emptied(filtered(packet, part)), (300.0, 200.0, 500.0, 400.0), noise_g=0.05)
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.number.end == 5


def test_what_jumps_is_not_what_another_number_goes_after():
    def packet(g: float, slow_g: float, n: int) -> bytes:
        return struct.pack(">BhhHB", 0xA7, round(10 * g), round(10 * slow_g), 7919 * n % 5000, n % 256)

    capture = captured(emptied(filtered(packet)), (0.0, 200.0, 500.0, 400.0), 0.05, "ble")
    weight, slow = (fitted(capture, Number("integer", at, 2, "big")) for at in (1, 3))
    assert goes_after(slow, weight)
    assert not goes_after(weight, slow)
    frames = weight.kind.frames.copy()
    frames[:, 3:5] = frames[:, 5:7]
    assert not goes_after(weight, replace(slow, kind=replace(slow.kind, frames=frames)))


def test_grams_and_ounces_in_floats_are_one_weight():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">Bff", 0xA7, g, g / 28.349523125)
        return data + xor(data)

    found = learned(packet, noise_g=0.2)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.4)]


def test_a_noisy_byte_of_a_filtered_copy_does_not_show_how_far_a_weight_goes():
    """What goes less far than its own noise goes nowhere, and makes no other number rough."""
    rng, weights, loads = np.random.default_rng(3), [], []
    for at, load in enumerate(LOADS):
        loads.append(Load(load, 16.0 * at, 16.0 * at + 15.9))
        weights += [0.0] * 20 + [load] * (PER_LOAD - 20)
    slow = np.convolve(weights, np.ones(40) / 40)[: len(weights)]
    noisy = np.clip(np.round((slow + rng.normal(0.0, 8.0, slow.size)) / 7.5), 0, 255)
    frames = [struct.pack(">HB", round(10 * g), int(each)) for g, each in zip(weights, noisy, strict=True)]
    rows = np.frombuffer(b"".join(frames), dtype=np.uint8).reshape(-1, 3)
    kind = Kind(0, 0.1 * np.arange(len(rows)), rows).seen_with(loads)
    assert kind is not None
    weight, byte = (fit(kind, Number("integer", *place), loads, "weight") for place in ((0, 2), (2, 1)))
    assert weight is not None
    assert byte is not None
    assert weight.path > 2.0 > byte.path
    assert roughness([weight, byte])(weight) == 0.0
