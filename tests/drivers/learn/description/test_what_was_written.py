"""Bytes that the brewer had written to a device, in what was learned of it."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace

import pytest

from drivers.learn import Written, learn
from tests.drivers.learn.small import LOADS, UUID, captured, xor

COMMANDS = UUID.replace("fff1", "fff2")


def frame(g: float, n: int) -> bytes:
    data = b"\xa5\x5a" + struct.pack(">hB", round(10 * g), n % 256)
    return data + xor(data)


def line(g: float, n: int) -> bytes:
    return b"net %.1f g,%d\r\n" % (g, n % 3)


@pytest.mark.parametrize("packet", [frame, line])
def test_a_description_keeps_what_starts_the_device_and_what_keeps_it_awake(
    packet: Callable[[float, int], bytes],
):
    written = (Written(b"\x01\x10", COMMANDS), Written(b"\x05", COMMANDS, every_s=2.0))
    description = learn(replace(captured(packet, LOADS, 0.05, "ble"), written=written)).description
    assert description is not None
    assert description.start == (b"\x01\x10",)
    assert description.keep_alive is not None
    assert (description.keep_alive.data, description.keep_alive.every_s) == (b"\x05", 2.0)
    assert description.bluetooth is not None
    assert description.bluetooth.write == COMMANDS
