"""A described Bluetooth device that passes a stream on: frames and lines, cut anywhere."""

from __future__ import annotations

import asyncio
from functools import partial

import pytest

from drivers import open_device
from tests.drivers import listening

A = "C0:FF:EE:00:00:03"
SERVICE, NOTIFY = "0000fff0-0000-1000-8000-00805f9b34fb", "0000fff1-0000-1000-8000-00805f9b34fb"
FRAMES = """
[[frame]]
header = [0xA5]
length = 4
[frame.checksum]
kind = "sum8"
at = 3
[[frame.field]]
holds = "weight"
offset = 1
width = 2
order = "big"
scale = 0.1
unit = "g"
"""
LINES = '[lines]\npattern = "\\\\W weight"\n'

take = partial(listening.take, within_s=10)


def frame(tenths: int) -> bytes:
    body = b"\xa5" + tenths.to_bytes(2, "big")
    return body + bytes([sum(body) & 0xFF])


@pytest.mark.parametrize(
    ("rest", "joined", "stream", "cut"),
    [
        (FRAMES, True, b"".join(map(frame, (0, 123, 2500, 5000))), 3),
        (FRAMES, True, b"".join(map(frame, (0, 123, 2500, 5000))), 16),
        (LINES, True, b"W 0.0\nW 12.3\nW 250.0\nW 500.0\n", 5),
        (LINES, False, b"W 0.0 W 12.3W 250.0W 500.0", 0),
    ],
)
async def test_what_is_cut_anywhere_is_read_whole(bluez, tmp_path, rest, joined, stream, cut):
    path = tmp_path / "radio.toml"
    flag = "true" if joined else "false"
    path.write_text(
        f'name = "r"\nkind = "ble"\n[ble]\nnotify = "fff1"\njoined = {flag}\n{rest}', encoding="utf-8"
    )
    bluez.tell("device", A, name="R", services={SERVICE: {NOTIFY: {"flags": ["notify"]}}})
    pieces = (
        [stream[at : at + cut] for at in range(0, len(stream), cut)]
        if cut
        else [b"W 0.0", b"W 12.3", b"W 250.0", b"W 500.0"]
    )
    async with open_device(f"ble:{A}?described={path}&timeout_s=4") as device:
        taking = asyncio.create_task(take(device, 4))
        await asyncio.sleep(0.05)
        for piece in pieces:
            bluez.tell("notify", A, NOTIFY, [piece.hex()])
        readings = await taking
    assert [reading.value for reading in readings] == [0.0, 12.3, 250.0, 500.0]
