"""What docs/bluetooth.md says is what the drivers do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("bleak", reason="pip install bleak")

from drivers import bluetooth, bluetooth_described, bluetooth_standard, bthome_listener
from drivers.address import parse_address
from drivers.bluetooth_standard import StandardServices
from drivers.device import ChannelNames
from drivers.transports.bluetooth import Offered, Packet

PAGE = (Path(__file__).parents[2] / "docs" / "bluetooth.md").read_text(encoding="utf-8")


def options_of(scheme: str) -> dict[str, str]:
    """Give the table of a scheme's options: name to default."""
    section = PAGE.partition(f"## Options of `{scheme}:`")[2].partition("\n## ")[0]
    return {
        name: default.strip() for name, default in re.findall(r"^\| `(\w+)` \|.*\|(.*)\|$", section, re.M)
    }


def test_every_option_is_explained():
    assert set(options_of("ble")) == set(bluetooth._OPTIONS)
    assert set(options_of("bthome")) == set(bthome_listener._OPTIONS)


def test_the_defaults_are_the_codes():
    silent = f"{bluetooth_standard.SILENT_S:g}; {bluetooth_described.SILENT_S:g} for a described device"
    assert options_of("ble")["silent_s"] == silent
    assert options_of("ble")["timeout_s"] == f"{bluetooth.TIMEOUT_S:g}"
    assert options_of("bthome")["silent_s"] == f"{bthome_listener.SILENT_S:g}"


class PaperLink:
    """Every standard characteristic at once, with nothing behind it."""

    numbers = (0x2A9D, 0x2A9E, 0x2A1C, 0x2A1E, 0x2A6E, 0x2A19)

    def __init__(self) -> None:
        self.offered = tuple(
            Offered("", f"0000{number:04x}-0000-1000-8000-00805f9b34fb", number, number != 0x2A9E, True, ())
            for number in self.numbers
        )

    async def read(self, handle: int) -> bytes:
        return b"\x38\0\0\0" if handle == 0x2A9E else b"\x61"

    async def subscribe(self, handle: int) -> None:
        return


@given(st.lists(st.tuples(st.sampled_from((0x2A9D, 0x2A1C, 0x2A1E, 0x2A6E, 0x2A19)), st.binary(max_size=24))))
async def test_no_packet_on_a_standard_characteristic_raises(packets):
    listening = StandardServices(parse_address("ble:x"), ChannelNames())
    await listening.prepare(PaperLink())
    for handle, data in packets:
        decoded = listening.decode(Packet(0.0, handle, data))
        assert decoded.measures == (handle != 0x2A19)
        assert bool(decoded.rejected) != bool(decoded.measurements) or not decoded.measures
    assert listening.battery_percent is not None
    assert 0 <= listening.battery_percent <= 100
