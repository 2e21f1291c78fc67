"""Numbers of four bytes that stand in two words, in an order of their own."""

from __future__ import annotations

import struct

import pytest

from drivers.decoders.byte_orders import Order, highest_first
from tests.drivers.learn.small import learned, reads, summed


@pytest.mark.parametrize("order", ["cdab", "badc"])
@pytest.mark.parametrize("form", [">i", ">f"])
def test_words_in_an_order_of_their_own_are_read(order: Order, form: str):
    def packet(g: float, n: int) -> bytes:
        counts = round(1000 * g)
        # Each of these orders is its own reverse.
        data = b"\xa7" + highest_first(struct.pack(form, counts), order) + bytes([n % 256])
        return data + summed(data)

    found = learned(packet, noise_g=0.01)
    assert found.is_sure, found.reasons
    assert f'order = "{order}"' in found.toml
    assert reads(found, packet(1234.567, 3), packet(-12.345, 4)) == pytest.approx([1234.567, -12.345])


def test_a_float_in_steps_comes_before_one_with_bytes_of_two_numbers():
    """The upper word and two bytes of a copy lie within half a per cent, and on as straight a line here."""

    def packet(g: float, n: int) -> bytes:
        g += 0.3 * (280.0 < g < 320.0)  # what was typed is rounded
        steps = 10 * round(100 * g)
        data = struct.pack(">f", steps)
        slow = max(round(10 * g), 0) * 100
        return b"\xa7\x10" + data[2:] + data[:2] + slow.to_bytes(3, "big") + bytes([n % 256])

    found = learned(packet, (0.0, 300.0, 929.0, 20.0), 0.01)
    assert found.description is not None, found.reasons
    assert 'order = "cdab"' in found.toml
    assert reads(found, packet(543.21, 3)) == pytest.approx([543.21])
