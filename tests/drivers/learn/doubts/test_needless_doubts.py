"""What need not be doubted, and what a brewer must not be told."""

from __future__ import annotations

import struct
from collections.abc import Callable

import pytest

from drivers.learn.doubts.copy_doubts import doubts_of_copies
from drivers.learn.doubts.width_doubts import may_have_finer_digits
from drivers.learn.numbers.number import Number
from drivers.learn.weight.choosing import Choice
from tests.drivers.learn.small import captured, fitted, learned, reads, summed, xor


def _coarse(g: float, n: int) -> bytes:
    data = struct.pack(">BhBB", 0xA7, round(g / 5) * 5, 0x00, n % 251)
    return data + summed(data)


def _coarse_last(g: float, n: int) -> bytes:
    data = struct.pack(">BBh", 0xA7, n % 251, round(g / 5) * 5)
    return data + summed(data)


def _coarse_beside_flags(g: float, n: int) -> bytes:
    data = struct.pack("<BBBh", 0xA7, n % 251, 0x21 | 0x04 * (n % 160 > 9), round(g / 5) * 5)
    return data + summed(data)


@pytest.mark.parametrize("packet", [_coarse, _coarse_last, _coarse_beside_flags])
def test_steps_of_five_grams_are_a_display_s_where_nothing_that_moves_stands_below_them(packet):
    found = learned(packet, noise_g=2.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(125.0, 3)) == [125.0]


def _on_whole_tens(g: float, n: int) -> bytes:
    return bytes([round(abs(g) / 10), 7 * n % 256])


def _on_lower_parts(g: float, n: int) -> bytes:
    return struct.pack(">H", round(25.6 * abs(g)))


@pytest.mark.parametrize(("packet", "may_go_on"), [(_on_whole_tens, False), (_on_lower_parts, True)])
def test_a_byte_with_which_loads_are_no_nearer_a_line_holds_no_finer_digits(
    packet: Callable[[float, int], bytes], *, may_go_on: bool
):
    capture = captured(packet, (0.0, 124.0, 676.0, 333.0), 0.02, "ble")
    tens = fitted(capture, Number("integer", 0, 1, "big"))
    assert may_have_finer_digits(tens, capture.loads, frozenset()) == may_go_on


def test_a_check_right_behind_whole_grams_is_no_lower_byte_of_them():
    """With it, loads that are all alike from packet to packet are on a line as well."""

    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BBBH", 0xEF, 0xFD, n % 256 if n % 160 < 80 else 0x2A, 10 * max(round(g), 0))
        return data + xor(data)

    found = learned(frame, (0.0, 100.0, 300.0, 500.0), 0.0, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.0, 3), frame(124.0, 4), link="serial") == [123.0, 124.0]


def test_a_counter_behind_text_in_steps_of_five_grams_is_no_finer_digit():
    def frame(g: float, n: int) -> bytes:
        data = b"\xd9\x00" + b"%07d" % (10 * 5 * round(abs(g) / 5)) + struct.pack(">BH", 2 * n % 256, 0x13D0)
        return data + summed(data)

    found = learned(frame, (200.0, 100.0, 300.0, 735.0), 1.0, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(125.0, 3), link="serial") == [pytest.approx(125.0)]


def test_half_a_step_off_a_line_says_nothing_against_coarse_counts():
    """Ounces of which a kitchen scale shows whole ones only: half of one is 14 g."""

    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBBB", 0xA7, round(g / 28.349523125), 0x11, n % 251)
        return data + summed(data)

    found = learned(packet, (0.0, 43.0, 477.2, 379.0), 0.02)
    assert found.is_sure, found.reasons
    assert reads(found, packet(400.0, 3)) == [pytest.approx(14 * 28.349523125, abs=5.0)]


@pytest.mark.parametrize(("period", "is_damage"), [(40, True), (17, False)])
def test_readings_far_from_their_load_are_damage_as_far_as_chance_goes(period: int, *, is_damage: bool):
    """Of 348 at rest a fortieth is 9, and seven are usual of a fiftieth; 20 are not."""

    def packet(g: float, n: int) -> bytes:
        spoilt = 0x17 if n % period == 5 else 0
        return struct.pack(">BHB", 0xA7, round(10 * g) ^ spoilt << 8, n % 251)

    found = learned(packet, (150.0, 100.0, 250.0, 500.0), 0.02)
    assert any("far from their load" in reason for reason in found.reasons) != is_damage, found.reasons


def test_a_heavy_load_is_no_slip_for_what_light_ones_in_coarse_steps_make_of_it():
    def packet(g: float, n: int) -> bytes:
        drift_g = 0.4 * (n // 160 == 3)
        data = struct.pack(">BHB", 0xA7, round((g + drift_g) / 0.566), n % 251)
        return data + summed(data)

    found = learned(packet, (20.0, 0.0, 500.0, 50.0), noise_g=0.0)
    assert not found.mistakes


def test_damage_makes_no_lower_digits_of_a_byte_that_is_nought():
    def packet(g: float, n: int) -> bytes:
        data = bytes([0xA7, n % 251]) + bytes.fromhex(f"{max(round(g / 2.8349523), 0):04d}") + b"\x00\x5a"
        return data[:4] + bytes([1 << n // 61 % 4]) + data[5:] if n % 61 == 5 else data

    found = learned(packet, (0.0, 100.0, 250.0, 1000.0), noise_g=0.3)
    assert not any("Digits of its own" in reason for reason in found.reasons)


@pytest.mark.parametrize(("taken", "is_told"), [(frozenset[int](), True), (frozenset((4,)), False)])
def test_a_check_that_goes_with_a_single_byte_is_no_other_weight(taken: frozenset[int], *, is_told: bool):
    """Beside bytes that hardly change, a check is the number again as a rule, give or take a few bits."""

    def packet(g: float, n: int) -> bytes:
        tens = 2 * round(abs(g) / 20)
        return bytes([0xA4, tens, 0x00, 0x04, max(tens + {5: 5, 21: -5}.get(n % 32, 0), 0)])

    capture = captured(packet, (0.0, 1000.0, 748.0, 247.3), 1.0, "ble")
    tens, check = (fitted(capture, Number("integer", place, 1)) for place in (1, 4))
    choice = Choice(tens, copies=((check, "copy"),))
    said = [text for text, _ in doubts_of_copies(choice, tens, tens, taken)]
    assert any("hold the load as well" in text for text in said) == is_told
