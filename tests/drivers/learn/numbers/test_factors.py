"""Factors that are not round: what tells them beside the loads, and when a round one is meant after all."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.carried import is_carried
from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import Kind
from tests.drivers.learn.small import learned, reads, xor

LIGHT = (0.0, 50.0, 87.4, 100.0)
HEAVY_G = 640.0


def counts(g: float, per_g: float, zero: int = 0) -> bytes:
    return (zero + round(per_g * g)).to_bytes(3, "big", signed=True)


def test_where_nothing_counts_as_nought_light_loads_tell_a_factor():
    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + counts(g, 702.15) + bytes([n % 256])

    found = learned(packet, LIGHT, 0.08)
    assert found.is_sure, found.reasons
    assert reads(found, packet(HEAVY_G, 1)) == [pytest.approx(HEAVY_G, abs=0.1)]


def test_a_copy_in_ounces_tells_a_factor_better_than_light_loads():
    def packet(g: float, n: int) -> bytes:
        ounces = round(100 * g / 28.349523125)
        return b"\xa7" + counts(g, 803.39, -51_753) + struct.pack(">hB", ounces, n % 256)

    found = learned(packet, (0.0, 87.4, 200.0, 250.0), 0.3)
    assert found.is_sure, found.reasons
    assert reads(found, packet(HEAVY_G, 1)) == [pytest.approx(HEAVY_G, abs=0.1)]


def test_a_text_with_a_factor_of_its_own_is_read_with_its_decimals():
    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + b"%9.1f" % (31.47 * g) + bytes([n % 256, 0x17])

    found = learned(packet, (0.0, 87.4, 200.0, 500.0), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.45, 7)) == [pytest.approx(123.45, abs=0.01)]


def test_light_loads_and_a_noisy_pan_leave_a_factor_open():
    found = learned(lambda g, n: b"\xa7" + counts(g, 803.39, -51_753) + bytes([n % 256]), LIGHT, 0.4)
    assert not found.is_sure
    assert "factor" in " ".join(found.reasons)
    assert found.further_g == pytest.approx(700.0)


def test_a_display_that_jumps_by_more_than_a_gram_tells_a_factor_as_well_as_it_can_show():
    """Nobody gives a display steps in which it never stands still."""

    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + struct.pack(">hB", round(6.57 * g), n % 256)

    found = learned(packet, (0.0, 100.0, 200.0, 500.0), 0.9)
    assert found.is_sure, found.reasons
    assert reads(found, packet(HEAVY_G, 1)) == [pytest.approx(HEAVY_G, abs=0.25)]


@pytest.mark.parametrize(
    ("loads", "asks"),
    [
        pytest.param((0.0, 300.0, 833.0), 1250.0, id="heavier than what has lain"),
        pytest.param((0.0, 250.0, 900.0, 1473.0), None, id="no scale may carry so much"),
    ],
)
def test_what_tells_a_factor_is_heavier_than_all_that_has_lain(loads, asks):
    found = learned(lambda g, n: b"\xa7" + counts(g, 803.39, -51_753) + bytes([n % 256]), loads, 3.0)
    assert not found.is_sure
    (reason,) = (each for each in found.reasons if "factor may be off" in each)
    assert ("a heavier one would tell" in reason) == (asks is not None)
    assert found.further_g == asks


@pytest.mark.parametrize("per_g", [200.073, 200.0])
def test_a_factor_near_a_round_one_is_as_it_was_measured_where_nothing_is_any_number(per_g):
    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + counts(g, per_g, -3722) + bytes([n % 256])

    found = learned(packet, (0.0, 50.0, 87.4, 400.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(0.0, 1), packet(HEAVY_G, 1)) == [
        pytest.approx(0.0, abs=0.02), pytest.approx(HEAVY_G, abs=0.05)
    ]  # fmt: skip


def test_an_empty_pan_that_shows_the_upper_half_of_its_noise_only_is_empty():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BHB", 0xA6, 10 * max(round(g), 0), n % 256)

    found = learned(packet, (0.0, 100.0, 67.0), 1.1)
    assert reads(found, struct.pack(">BHB", 0xA6, 9000, 7)) == [pytest.approx(900.0)]


def test_counts_whose_upper_bytes_are_nearly_thousandths_of_a_pound_are_read_whole():
    def packet(g: float, n: int) -> bytes:
        return struct.pack("<BBBI", 0xCE, 0x57, 2 if g < 0 else 1, abs(round(564.565 * g)))

    found = learned(packet, (0.0, -70.0, 20.0, 1501.0), 0.032)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BBBI", 0xCE, 0x57, 1, 564565)) == [pytest.approx(1000.0, abs=0.02)]


def test_bare_counts_that_are_nought_on_an_empty_pan_are_what_is_shown():
    shown = [0.0]

    def packet(g: float, n: int) -> bytes:
        shown[0] += 0.6 * (g - shown[0])
        return struct.pack("<iI", round(737.8 * shown[0]), 12_000_000 + round(344.6 * (g + 0.1 * (n % 3))))

    found = learned(packet, (0.0, 20.0, 200.0, 500.0), 0.02)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<iI", 73780, 12_100_000)) == [pytest.approx(100.0, abs=0.02)]


@pytest.mark.parametrize("drift_g", [-1.4, 1.3])
def test_an_empty_pan_that_shows_a_step_is_no_nought_of_the_coding(drift_g):
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BhB", 0xA6, 10 * round(g), n % 256)

    found = learned(lambda g, n: packet(g + drift_g, n), (0.0, 100.0, 339.0, 658.0), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-120.0, 1), packet(HEAVY_G, 1)) == [-120.0, HEAVY_G]


def test_a_display_that_shows_nothing_below_nought_leaves_its_round_factor():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BHB", 0xA6, 10 * max(round(g - 1.2), 0), n % 256)

    found = learned(packet, (0.0, 200.0, 339.0, 658.0), 0.2)
    assert found.is_sure, found.reasons
    assert reads(found, packet(1501.2, 1)) == [1500.0]


def test_a_number_that_has_no_step_between_the_loads_does_not_follow_them():
    loads = tuple(Load(g, 10.0 * at, 10.0 * at + 9.0) for at, g in enumerate((0.0, 200.0, 350.0)))
    smallest = np.repeat(np.array([[0xA6, 0, 1], [0xA6, 0, 5], [0xA6, 0, 2]], np.uint8), 40, axis=0)
    kind = Kind(0, np.arange(120) / 4.0, smallest).seen_with(loads)
    assert kind is not None
    assert fit(kind, Number("float", 1, 2), loads, "weight") is None


def test_loads_that_lie_off_the_line_by_more_than_they_were_typed_leave_a_factor_open():
    drifted_g = {0.0: 0.0, 100.0: 0.15, 250.0: -0.1, 500.0: 0.1}

    def packet(g: float, n: int) -> bytes:
        return (
            b"\xa7"
            + counts(g + drifted_g[min(drifted_g, key=lambda at: abs(at - g))], 47.37)
            + bytes([n % 256])
        )

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.03)
    assert not found.is_sure
    assert "factor" in " ".join(found.reasons)


def test_whole_counts_in_a_float_are_a_converters_however_near_a_tenth_of_a_gram():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BfBB", 0x97, round(9.98931 * g), n % 256, 0x5A)
        return data + bytes([-sum(data) % 256])

    found = learned(packet, (0.0, 200.0, 95.7, 460.6), 0.1)
    assert found.is_sure, found.reasons
    data = struct.pack(">BfBB", 0x97, round(9.98931 * HEAVY_G), 3, 0x5A)
    assert reads(found, data + bytes([-sum(data) % 256])) == [pytest.approx(HEAVY_G, abs=0.1)]


def test_counts_that_are_nearly_quarters_by_light_loads_want_a_heavy_one():
    def packet(g: float, n: int) -> bytes:
        data = b"\x0f" + counts(g, 3.99526) + bytes([n % 256])
        return data + bytes([sum(data) % 256])

    found = learned(packet, (0.0, 68.5, 100.0, 50.0), 0.2)
    assert not found.is_sure or found.choice.best is None or found.choice.best.scale is None
    heavy = learned(packet, (0.0, 68.5, 100.0, 50.0, 900.0), 0.2)
    assert heavy.is_sure, heavy.reasons
    assert reads(heavy, packet(HEAVY_G, 1)) == [pytest.approx(HEAVY_G, abs=0.3)]


@pytest.mark.parametrize("is_own", [True, False])
def test_a_lowest_byte_that_begins_again_where_the_others_go_up_is_their_own(*, is_own: bool):
    rng = np.random.default_rng(3)
    counts_at = np.concatenate([np.round(256.0 * g + rng.normal(0.0, 3.0, 60)) for g in (0.0, 50.0, 364.1)])
    frames = np.array([np.frombuffer(struct.pack(">i", int(each) + 4096), np.uint8) for each in counts_at])
    if not is_own:
        frames[:, 3] = rng.integers(0, 256, len(frames))
    loads = tuple(Load(g, 10.0 * at, 10.0 * at + 9.9) for at, g in enumerate((0.0, 50.0, 364.1)))
    kind = Kind(0, np.arange(180) / 6.0, frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 1, 3), loads, "weight")
    assert one is not None
    assert is_carried(one, 1) == is_own


def test_digits_that_halvings_fit_worse_than_a_factor_of_their_own_are_doubted():
    def packet(g: float, n: int) -> bytes:
        data = b"\xaa\x57" + bytes([n % 251]) + bytes.fromhex(f"{max(round(g / 0.03126), 0):06d}")
        return data + xor(data)

    found = learned(packet, (0.0, 282.9, 1425.9, 1000.0), 0.02)
    assert not found.is_sure
    assert any("nearly round" in reason for reason in found.reasons), found.reasons
