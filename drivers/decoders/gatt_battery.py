"""The Bluetooth Battery service: one byte, per cent."""

from __future__ import annotations

BATTERY_SERVICE = 0x180F
BATTERY_LEVEL = 0x2A19


def decode_battery_level(packet: bytes) -> int | None:
    """Decode what is read from or sent on 0x2A19: 0 to 100; None for anything else."""
    return packet[0] if len(packet) == 1 and packet[0] <= 100 else None
