"""A description held against the capture that it was learned from, by the decoder that will use it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.measurement import Decoder, Measurement, Rejected
from drivers.decoders.packets import PacketDecoder
from drivers.decoders.pattern_lines import PatternLines
from drivers.described import Description
from drivers.learn.capture import Arrival, Capture
from drivers.learn.fitting import Fit
from drivers.learn.framed import Outside
from drivers.learn.framing import ByteStream
from drivers.learn.headers import Header, places_of
from drivers.learn.kinds import fixed_bytes
from drivers.learn.left_lines import lines_unread
from drivers.learn.line_makes import LineMake
from drivers.learn.numbers import Floats, Frames
from drivers.learn.pauses import Places
from drivers.reading import CELSIUS, GRAM

_SETTLED_FROM = 0.45
_MOST_TRIED = 4
_LONG_HEADER, _MOST_REFUSED = 3, 0.3
_SELDOM, _FEWEST_RESTING = 0.6, 4
"""Share of messages of another kind that look like the load by chance, and how many come at rest."""

_CLEARLY_MORE, _NEARLY_AS_MANY, _FAR_FEWER, _MANY = 1.04, 0.95, 0.2, 0.3
"""Readings of pieces put together beside those of each piece by itself, and how many are refused."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What the real decoder makes of a capture.

    :param readings: how many values it gave
    :param rejected: how many packets or frames it refused
    :param levels: its median at each load, g or °C; NaN where there is none
    :param fewest: the fewest readings at any load
    :param astray: how many of those at rest are far from their load
    :param beyond: how many are far beyond all loads, at rest or not
    """

    readings: int
    rejected: int
    levels: tuple[float, ...]
    fewest: int
    astray: int = 0
    at_rest: int = 0
    beyond: int = 0

    @property
    def right(self) -> int:
        """How many readings are not far from what they should be."""
        return self.readings - 3 * self.astray


def reads_more(joined: Proof, apart: Proof) -> bool:
    """Say whether pieces put together tell more than each by itself, or as much and explain the rest."""
    if joined.readings > _CLEARLY_MORE * apart.readings:
        return True
    is_as_good = joined.readings > _NEARLY_AS_MANY * apart.readings
    is_much_left = apart.rejected > _MANY * apart.readings
    return is_as_good and is_much_left and joined.rejected < _FAR_FEWER * apart.rejected


def near(one: Fit) -> float:
    """Give how far from its load one reading at rest may be, g or °C."""
    return 0.03 * one.span + 8.0 * one.noise_units + 3.0 * one.step


def closely(one: Fit) -> float:
    """Give the same where another kind of message may say something near the load by chance, g or °C."""
    return 0.006 * one.span + 8.0 * one.noise_units + 3.0 * one.step


def prove(description: Description, capture: Capture, near: float) -> Proof:
    """Decode a capture by a description.

    :param near: how far from its load a reading at rest may be, g or °C
    """
    times, values, rejected = [], [], 0
    for time_s, measurement in decoded(description, capture):
        if measurement is None:
            rejected += 1
        else:
            times.append(time_s)
            values.append(measurement)
    when, what = np.array(times), np.array(values)
    levels, fewest = [], len(values)
    astray = at_rest = 0
    for load in capture.loads:
        first_s = load.start_s + _SETTLED_FROM * (load.end_s - load.start_s)
        part = what[(when >= first_s) & (when <= load.end_s)] if len(values) else what
        fewest = min(fewest, len(part))
        at_rest += len(part)
        astray += int((np.abs(part - load.value) > near).sum())
        levels.append(float(np.median(part)) if len(part) else float("nan"))
    typed = [0.0, *(load.value for load in capture.loads)]
    reach = 1.2 * (max(typed) - min(typed)) + near
    beyond = int(((what < min(typed) - reach) | (what > max(typed) + reach)).sum()) if len(values) else 0
    return Proof(len(values), rejected, tuple(levels), fewest, astray, at_rest, beyond)


def unread(
    capture: Capture, one: Fit, outside: Outside, proof: Proof, joined: ByteStream | None
) -> tuple[int, int]:
    """Count what holds the load as well and is not read.

    :param joined: the stream, for frames that were cut out of one
    :returns: how many packets or frames are left out, and of how many
    """
    if isinstance(one.kind.make, LineMake):
        return lines_unread(capture, one, one.kind.make, joined)
    if one.kind.terminator:
        return 0, 0
    if joined is not None and outside.check is not None:
        begun, refused = _refused(joined, outside)
        if refused > _MOST_REFUSED * begun:
            return refused, begun
    begins, times, frames = _packets(capture, one) if joined is None else _places(joined, one, outside)
    if not len(frames):
        return 0, 0
    says = one.loads_of(one.number.values(frames))
    good = np.ones(len(frames), dtype=bool)
    for place, byte in enumerate(outside.header):
        if byte is not None:
            good &= frames[:, place] == byte
    if outside.check is not None:
        good &= outside.check.holds(frames)
    if outside.terminator:
        good &= (frames[:, -len(outside.terminator) :] == np.frombuffer(outside.terminator, np.uint8)).all(
            axis=1
        )
    # What looks like a frame inside one that is read is chance.
    free = good | ~_overlaps(begins, begins[good], frames.shape[1])
    at_rest, weighs = np.zeros(len(frames), dtype=bool), np.zeros(len(frames), dtype=bool)
    for load in capture.loads:
        first_s = load.start_s + _SETTLED_FROM * (load.end_s - load.start_s)
        here = (times >= first_s) & (times <= load.end_s) & free
        with np.errstate(invalid="ignore"):
            weighs |= here & (np.abs(says - load.value) <= np.where(good, near(one), closely(one)))
        at_rest |= here
    strange = _of_other_kinds(frames, outside, at_rest & ~good, weighs)
    weighs &= good | ~strange
    is_marked = outside.check is not None or len(_solid(outside.header)) > 1
    if is_marked or joined is None:
        weighs |= free & ~at_rest & ~good & ~strange & _between_loads(says, one, capture)
    held, read = int(weighs.sum()), int((weighs & good).sum())
    # A frame taken for twice its length swallows the next one, header and all.
    return max(held - read, int((weighs & at_rest).sum()) - proof.at_rest), held


def _refused(joined: ByteStream, outside: Outside) -> tuple[int, int]:
    """Count frames that begin with a long header, and how many of them the check refuses.

    Where the check holds by chance, in two messages taken for one, it refuses many that begin alike.
    """
    header = _solid(outside.header)
    if len(header) < max(_LONG_HEADER, len(outside.header)) or outside.check is None:
        return 0, 0
    begins = np.arange(max(len(joined.data) - outside.length + 1, 0))
    for place, byte in enumerate(header):
        begins = begins[joined.data[begins + place] == byte]
    holds = outside.check.holds(joined.data[begins[:, None] + np.arange(outside.length)])
    refused = begins[~holds]
    return len(begins), int((~_overlaps(refused, begins[holds], outside.length)).sum())


def _solid(header: Header) -> list[int]:
    return [byte for byte in header if byte is not None]


def _between_loads(says: Floats, one: Fit, capture: Capture) -> NDArray[np.bool_]:
    """Say which packets hold something between the lightest load and the heaviest, none of them nought."""
    loads = [load.value for load in capture.loads]
    with np.errstate(invalid="ignore"):
        return np.asarray((says > min(loads) + closely(one)) & (says < max(loads) - closely(one)))


def _of_other_kinds(
    frames: Frames, outside: Outside, at_rest: NDArray[np.bool_], weighs: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Say which packets are messages of another kind: what looks like a weight in them seldom is the load."""
    others = np.zeros(len(frames), dtype=bool)
    for place, byte in enumerate(outside.header):
        if byte is None:
            continue
        unlike = ~others & (frames[:, place] != byte)
        resting = int((unlike & at_rest).sum())
        if resting >= _FEWEST_RESTING and (unlike & weighs).sum() < _SELDOM * resting:
            others |= unlike
    return others


def _overlaps(begins: Places, others: Places, length: int) -> NDArray[np.bool_]:
    """Say which frames share bytes with others, themselves among them."""
    if not others.size:
        return np.zeros(begins.size, dtype=bool)
    after = np.searchsorted(others, begins)
    following = others[np.minimum(after, others.size - 1)] - begins
    before = begins - others[np.maximum(after - 1, 0)]
    return np.asarray((np.abs(following) < length) | (np.abs(before) < length))


def _packets(capture: Capture, one: Fit) -> tuple[Places, Floats, Frames]:
    """Give all packets of the length of those that were chosen."""
    packets = [each for each in capture.of_stream(one.kind.stream) if len(each.data) == one.kind.length]
    frames = np.frombuffer(b"".join(each.data for each in packets), dtype=np.uint8)
    times = np.array([each.time_s for each in packets])
    begins = np.arange(len(packets), dtype=np.int64) * one.kind.length
    return begins, times, frames.reshape(len(packets), one.kind.length)


def _places(joined: ByteStream, one: Fit, outside: Outside) -> tuple[Places, Floats, Frames]:
    """Give all places of a stream where a frame may stand, be its header as it was found or not.

    With a check, this is where the first byte and the check are right; without, where all that is fixed
    before the number is, but for what stands next to it, which may be a sign, and for the first, which may be
    the end of the frame before.
    """
    data = joined.data
    usual = fixed_bytes(one.kind.frames)
    picked = {at for at, _ in one.kind.selectors}  # other packets may hold the weight as well
    marks = [at for at in range(min(places_of(one))) if usual[at] is not None and at not in picked]
    if outside.check is not None:
        marks = marks[:1]
    elif len(marks) > 3:
        marks = [at for at in marks if at not in (one.number.offset - 1, one.number.end)][-2:]
    good = np.ones(max(len(data) - outside.length + 1, 0), dtype=bool)
    for at in marks:
        good &= data[at : at + len(good)] == usual[at]
    begins = np.flatnonzero(good)
    frames = data[begins[:, None] + np.arange(outside.length)]
    if outside.check is not None and len(frames) > _MOST_TRIED * len(one.kind.frames):
        return begins[:0], np.zeros(0), frames[:0]  # the first byte is anywhere, and says nothing
    if outside.check is not None and len(frames):
        holds = outside.check.holds(frames)
        begins, frames = begins[holds], frames[holds]
    return begins, joined.time_s[begins + outside.length - 1], frames


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
