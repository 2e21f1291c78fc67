"""What was heard of an unknown instrument while known loads stood on it: raw bytes with their times."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

Quantity = Literal["weight", "temperature"]
Link = Literal["ble", "serial"]
UNIT_OF: dict[Quantity, str] = {"weight": "g", "temperature": "°C"}


@dataclass(frozen=True, slots=True)
class Stream:
    """One way by which bytes arrive: a Bluetooth characteristic, or the whole of a serial line.

    :param uuid: of the characteristic, in full length and lower case; empty for a serial line
    :param service: the service that it belongs to
    :param properties: what the characteristic offers, ``notify``, ``write`` ...
    """

    uuid: str = ""
    service: str = ""
    properties: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Arrival:
    """Bytes that arrived together.

    :param time_s: on the capture's own clock
    :param stream: index into the capture's streams
    """

    time_s: float
    stream: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Load:
    """A known load, and when it stood on the pan.

    :param value: g, or °C for a thermometer
    :param start_s: when it was there; the display may still have been settling
    :param end_s: when it was last known to be there; without it, until the next one
    """

    value: float
    start_s: float
    end_s: float = math.inf


@dataclass(frozen=True, slots=True)
class Written:
    """Bytes that the brewer had written to the device.

    :param uuid: the characteristic; empty for a serial line
    :param every_s: how often; None for once, at the beginning
    """

    data: bytes
    uuid: str = ""
    every_s: float | None = None


@dataclass(frozen=True, slots=True)
class Capture:
    """All that was heard.

    :param arrivals: in the order of their times
    :param loads: in the order in which they were put on; their stretches do not overlap
    :param baud: of a serial line
    :param parity: of a serial line, ``none``, ``even`` or ``odd``
    """

    link: Link
    streams: tuple[Stream, ...]
    arrivals: tuple[Arrival, ...]
    loads: tuple[Load, ...] = ()
    quantity: Quantity = "weight"
    written: tuple[Written, ...] = ()
    baud: int = 9600
    parity: str = "none"
    bytesize: int = 8
    notes: tuple[str, ...] = field(default=())

    def of_stream(self, stream: int) -> Iterator[Arrival]:
        """Give what arrived by one stream."""
        return (one for one in self.arrivals if one.stream == stream)

    def with_loads(self, values: tuple[float, ...]) -> Capture:
        """Give the same capture with other values typed for its loads, as many as there are."""
        loads = tuple(replace(load, value=value) for load, value in zip(self.loads, values, strict=True))
        return replace(self, loads=loads)

    def bounded(self) -> Capture:
        """Give the same capture with an end for each load: the next load's beginning, or the last arrival."""
        last_s = self.arrivals[-1].time_s if self.arrivals else 0.0
        nexts = [load.start_s for load in self.loads[1:]] + [last_s]
        pairs = zip(self.loads, nexts, strict=False)
        loads = tuple(load if load.end_s < math.inf else replace(load, end_s=end_s) for load, end_s in pairs)
        return replace(self, loads=loads)
