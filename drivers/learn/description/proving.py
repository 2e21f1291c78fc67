"""A description held against the capture that it was learned from, by the decoder that will use it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from drivers.decoders.checked_lines import described_lines
from drivers.decoders.measurement import Decoder, Measurement, Rejected
from drivers.decoders.packets import PacketDecoder
from drivers.described import Description
from drivers.learn.captures.capture import Arrival, Capture
from drivers.learn.numbers.fitting import Fit
from drivers.learn.packets.arrays import Floats, Marks
from drivers.learn.packets.kinds import settled_rows
from drivers.reading import CELSIUS, GRAM

_BEYOND = 1.5
"""By how much a vessel that is tared and lifted off may be heavier than the heaviest load."""

STEP = 0.5
"""Share of the span of the loads that one reading is from the next while the load changes, at most."""

_CLEARLY_MORE, _NEARLY_AS_MANY, _FEWER, _FAR_FEWER, _MANY = 1.04, 0.95, 0.5, 0.2, 0.3
"""Readings of pieces put together beside those of each piece by itself, and how many are refused."""

_ACROSS, _OF_GAINED = 0.1, 0.3
"""Share of frames that several notifications make, where they are pieces of a stream; and of those that are
read only when pieces are put together."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What the real decoder makes of a capture.

    :param readings: how many values it gave
    :param rejected: how many packets or frames it refused
    :param levels: its median at each load, g or °C; NaN where there is none
    :param fewest: the fewest readings at any load
    :param astray: how many of those at rest are far from their load
    :param far: those that are far beyond all loads, at rest or not, and not led to from those step by step
    :param beyond_in_row: how many of those go on from another one just before, as what is damaged does not
    :param across: how many were put together from several arrivals, or came with another one
    """

    readings: int
    rejected: int
    levels: tuple[float, ...]
    fewest: int
    astray: int = 0
    at_rest: int = 0
    far: tuple[float, ...] = ()
    beyond_in_row: int = 0
    across: int = 0

    @property
    def beyond(self) -> int:
        """How many readings are far beyond all loads."""
        return len(self.far)

    @property
    def right(self) -> int:
        """How many readings are not far from what they should be."""
        return self.readings - 3 * self.astray


def reads_more(joined: Proof, apart: Proof, *, is_checked: bool) -> bool:
    """Say whether pieces put together tell more than each by itself, or as much and explain the rest.

    Where most messages come whole, what is gained are those that come in several pieces, and those that have
    a piece of the next one behind them. A check does not hold by chance where no message begins.

    :param is_checked: whether the frames of what is put together have a check
    """
    is_more = joined.right > _CLEARLY_MORE * apart.right
    if is_more and (is_checked or joined.across > _OF_GAINED * (joined.readings - apart.readings)):
        return True
    if not are_pieces(joined):
        return False
    if joined.readings > _CLEARLY_MORE * apart.readings:
        return True
    if joined.readings > apart.readings and joined.rejected < _FEWER * apart.rejected:
        return True
    is_as_good = joined.readings > _NEARLY_AS_MANY * apart.readings
    is_much_left = apart.rejected > _MANY * apart.readings
    return is_as_good and is_much_left and joined.rejected < _FAR_FEWER * apart.rejected


def are_pieces(joined: Proof) -> bool:
    """Say whether notifications were pieces of a stream: frames were put together from several."""
    return joined.across > _ACROSS * joined.readings


def near(one: Fit) -> float:
    """Give how far from its load one reading at rest may be, g or °C."""
    return 0.03 * one.span + 8.0 * one.noise_units + 3.0 * one.step


def prove(description: Description, capture: Capture, near: float) -> Proof:
    """Decode a capture by a description.

    :param near: how far from its load a reading at rest may be, g or °C
    """
    times, values, rejected, across = [], [], 0, 0
    incremental = Incremental(description, capture)
    for arrival in capture.arrivals:
        is_begun = incremental.has_begun(arrival.stream)
        read = [value for _, value in incremental.push(arrival)]
        some = [value for value in read if value is not None]
        rejected += len(read) - len(some)
        if len(some) > 1 or (is_begun and len(read) == 1):
            across += len(some)
        times += [arrival.time_s] * len(some)
        values += some
    when, what = np.array(times), np.array(values)
    levels, fewest = [], len(values)
    astray = at_rest = 0
    for load in capture.loads:
        part = what[settled_rows(when, load)]
        fewest = min(fewest, len(part))
        at_rest += len(part)
        astray += int((np.abs(part - load.value) > near).sum())
        levels.append(float(np.median(part)) if len(part) else float("nan"))
    typed = [0.0, *(load.value for load in capture.loads)]
    reach = _BEYOND * (max(typed) - min(typed)) + near
    is_beyond = (what < min(typed) - reach) | (what > max(typed) + reach)
    is_between = (what >= min(typed) - near) & (what <= max(typed) + near)
    is_beyond &= ~is_led_to(what, is_between, STEP * (max(typed) - min(typed)))
    in_row = is_beyond[1:] & is_beyond[:-1] & (np.abs(np.diff(what)) < max(typed) - min(typed))
    return Proof(
        readings=len(values),
        rejected=rejected,
        levels=tuple(levels),
        fewest=fewest,
        astray=astray,
        at_rest=at_rest,
        far=tuple(what[is_beyond].tolist()),
        beyond_in_row=int(in_row.sum()),
        across=across,
    )


def is_led_to(values: Floats, is_known: Marks, step: float) -> Marks:
    """Say which readings follow in steps that are small from one that is known, or lead to one.

    A pan that is loaded or lifted goes on from where it was; what is damaged jumps there and back.

    :param step: how far one reading is from the next at most
    """
    if not len(values):
        return is_known
    run = np.concatenate([[0], np.cumsum(np.abs(np.diff(values)) >= step)])
    return np.asarray(np.bincount(run, weights=is_known)[run] > 0)


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
        is_text = description.lines is not None
        self._decoder: Decoder = described_lines(description) if is_text else PacketDecoder(description)
        self._bluetooth, self._streams = description.bluetooth, capture.streams
        self._unit = GRAM if capture.quantity == "weight" else CELSIUS
        self._kept: dict[int, bytes] = {}

    def has_begun(self, stream: int) -> bool:
        """Say whether bytes wait for what comes next on a stream."""
        return bool(self._kept.get(stream))

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
