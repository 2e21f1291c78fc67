"""A description held against the capture that it was learned from, by the decoder that will use it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from drivers.decoders.measurement import Decoder, Measurement, Rejected
from drivers.decoders.packets import PacketDecoder
from drivers.decoders.pattern_lines import PatternLines
from drivers.described import Description
from drivers.learn.capture import Arrival, Capture
from drivers.reading import CELSIUS, GRAM

_SETTLED_FROM = 0.45


@dataclass(frozen=True, slots=True)
class Proof:
    """What the real decoder makes of a capture.

    :param readings: how many values it gave
    :param rejected: how many packets or frames it refused
    :param levels: its median at each load, g or °C; NaN where there is none
    :param fewest: the fewest readings at any load
    """

    readings: int
    rejected: int
    levels: tuple[float, ...]
    fewest: int


def prove(description: Description, capture: Capture) -> Proof:
    """Decode a capture by a description."""
    times, values, rejected = [], [], 0
    for time_s, measurement in decoded(description, capture):
        if measurement is None:
            rejected += 1
        else:
            times.append(time_s)
            values.append(measurement)
    when, what = np.array(times), np.array(values)
    levels, fewest = [], len(values)
    for load in capture.loads:
        first_s = load.start_s + _SETTLED_FROM * (load.end_s - load.start_s)
        part = what[(when >= first_s) & (when <= load.end_s)] if len(values) else what
        fewest = min(fewest, len(part))
        levels.append(float(np.median(part)) if len(part) else float("nan"))
    return Proof(len(values), rejected, tuple(levels), fewest)


def decoded(description: Description, capture: Capture) -> Iterator[tuple[float, float | None]]:
    """Give each value with its time; None for what was refused."""
    incremental = Incremental(description, capture)
    for arrival in capture.arrivals:
        yield from incremental.push(arrival)


class Incremental:
    """Decodes arrival by arrival; bytes go the way that they go in the drivers.

    :param capture: where the streams and the quantity stand
    """

    def __init__(self, description: Description, capture: Capture) -> None:
        lines = description.lines
        self._decoder: Decoder = (
            PatternLines(lines.pattern, sensors=description.sensors) if lines else PacketDecoder(description)
        )
        self._bluetooth, self._streams = description.bluetooth, capture.streams
        self._unit = GRAM if capture.quantity == "weight" else CELSIUS
        self._kept: dict[int, bytes] = {}

    def push(self, arrival: Arrival) -> Iterator[tuple[float, float | None]]:
        """Give what has become readable; None for what was refused."""
        uuid, bluetooth = self._streams[arrival.stream].uuid, self._bluetooth
        if bluetooth is not None and uuid not in bluetooth.notify:
            return
        if bluetooth is not None and not bluetooth.is_joined and isinstance(self._decoder, PacketDecoder):
            result = self._decoder.decode_packet(arrival.data, uuid)
            if isinstance(result, Rejected):
                yield arrival.time_s, None
            else:
                yield from self._values(result, arrival.time_s)
            return
        end = b"\n" if bluetooth is not None and not bluetooth.is_joined else b""
        data = self._kept.get(arrival.stream, b"") + arrival.data + end
        out = self._decoder.decode(data)
        self._kept[arrival.stream] = data[out.used :]
        for _ in range(out.rejected):
            yield arrival.time_s, None
        yield from self._values(out.measurements, arrival.time_s)

    def _values(
        self, measurements: tuple[Measurement, ...], time_s: float
    ) -> Iterator[tuple[float, float | None]]:
        for one in measurements:
            if one.unit == self._unit and one.value == one.value:
                yield time_s, one.value
