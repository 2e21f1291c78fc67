"""Sums and exclusive or, where hardly anything tells them apart."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor


@pytest.mark.parametrize("check", [summed, xor])
def test_a_sum_over_a_byte_that_changes_at_a_time_may_be_an_exclusive_or_and_either_is_read(check):
    """A sign of minus nought, and a weight in one byte: no two bits have met, as they do beyond 255 g."""

    def packet(g: float, n: int) -> bytes:
        steps = max(round(g), 0)
        data = struct.pack("<HB", steps, 0xFF * (steps == 0 and n % 9 == 4))
        return b"\x02\x55" + data + check(data) + b"\xed"

    light = learned(packet, (200.0, 50.0, 0.0, 100.0), 0.2)
    assert light.is_sure, light.reasons
    assert 'kind = ["sum8", "xor8"]' in light.toml
    assert any("exclusive or" in finding for finding in light.findings)
    assert reads(light, packet(200.0, 1), packet(927.0, 1)) == [200.0, 927.0]
    heavy = learned(packet, (200.0, 50.0, 0.0, 100.0, 900.0), 0.2)
    assert f'kind = "{"sum8" if check is summed else "xor8"}"' in heavy.toml
    assert not any("exclusive or" in finding for finding in heavy.findings)


def test_a_sum_of_sixteen_bits_is_no_weight_though_light_loads_change_little_else():
    """In steps of 0.1 oz half a kilogram changes one byte of the weight; a flag of rest is in the sum too."""

    def packet(g: float, n: int) -> bytes:
        data = b"\x03\xa5" + struct.pack("<iB", round(g / 2.8349523), 0x48 if n % 160 < 20 else 0x40)
        return data + struct.pack("<H", sum(data))

    found = learned(packet, (0.0, 87.4, 200.0, 500.0), 0.5)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-45.0, 1), packet(1312.0, 100)) == [
        pytest.approx(-45.36, abs=0.01), pytest.approx(1312.58, abs=0.01)
    ]  # fmt: skip


def test_a_sum_of_few_frames_each_of_which_came_once_is_a_check():
    """A pan that rests without noise says the same frame over and over: of so few, no code comes again."""

    def packet(g: float, n: int) -> bytes:
        data = b"\x36\xa5" + round(g).to_bytes(3, "big", signed=True)
        return data + summed(data)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert found.outside is not None
    assert found.outside.check is not None
    assert found.outside.check.kind == "sum8"


def test_the_end_of_a_frame_may_be_what_its_sum_would_carry():
    """A mark of 03 stands behind a sum of eight bits, and all sums are from 0x300 to 0x3FF."""

    def packet(g: float, n: int, millivolts: int = 3795) -> bytes:
        data = b"\xf8\x7b" + struct.pack("<hBHB", round(g / 2), 0x8C, millivolts, 0x37)
        return data + summed(data) + b"\x03"

    found = learned(lambda g, n: packet(max(g, 0.0), n), (0.0, 50.0, 200.0, 240.0), 0.5)
    assert found.is_sure, found.reasons
    assert reads(found, packet(124.0, 1, 3600)) == [pytest.approx(124.0)]


def test_a_sum_written_as_digits_of_few_frames_is_a_check():
    """Each load rests on one frame, so few codes come again; those on the way are right as well."""

    def packet(g: float, n: int) -> bytes:
        data = b"\xfe\xa5\x04" + round(100 * g).to_bytes(4, "big", signed=True)
        return data + b"%02X" % (sum(data) % 256)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert found.outside is not None
    assert found.outside.check is not None
    assert (found.outside.check.kind, found.outside.check.is_hex) == ("sum8", True)


def test_two_digits_that_count_the_loads_are_no_check():
    def packet(g: float, n: int) -> bytes:
        return b"\xfe\xa5\x04" + round(100 * g).to_bytes(4, "big", signed=True) + b"%02d" % (20 + n // 160)

    found = learned(packet, noise_g=0.0)
    assert found.outside is not None
    assert found.outside.check is None
