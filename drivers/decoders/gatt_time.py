"""The Date Time field of the Bluetooth services (0x2A08): year u16; month, day, hour, minute, second u8."""

from __future__ import annotations

from datetime import datetime

DATE_TIME_BYTES = 7

_EPOCH = datetime(1970, 1, 1)


def decode_date_time(data: bytes) -> float | None:
    """Give the device's clock in seconds since 1970, in the device's own time zone, which it does not tell.

    None where the field is too short, a part of it is 0 ("not known"), or it names no day there is: a clock
    that was never set must not cost a weight.
    """
    if len(data) < DATE_TIME_BYTES:
        return None
    try:
        moment = datetime(int.from_bytes(data[:2], "little"), *data[2:DATE_TIME_BYTES])
    except ValueError:
        return None
    return (moment - _EPOCH).total_seconds()
