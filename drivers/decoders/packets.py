"""Binary frames and packets by a description: found, checked, read.

::

    AA 55 | 04 D2 | 01 | 7C      [[frame]]  header = [0xAA, 0x55], length = 6
    |       |       |    `------ checksum over what stands before it
    |       |       `----------- stable flag
    |       `------------------- weight, 1234 steps of 0.1 g
    `--------------------------- header

Known garblings: a stream opened in mid-frame, lost and changed bytes, noise between frames, a header inside a
weight. Where a candidate fails its check, the next one is looked for from its second byte on, so a damaged
frame never takes the good one after it along. Every stretch of bytes between candidates counts as one
rejected frame, once the next candidate shows where it ends. With a checksum nothing damaged is read; without
one, whatever has the right shape is believed, unless another header stands inside it and none behind it: then
it has lost bytes, and the next frame begins at that header. As long as nothing has come behind, it is
believed: a reading must not wait for the next.

Frames that begin with nothing that stays are found by their check, see ``told_by_check``.
"""

from __future__ import annotations

import re

from drivers.decoders.frame_fields import FrameFields
from drivers.decoders.frame_shapes import NO_FRAME, WAIT, FrameShape, RefusedError
from drivers.decoders.measurement import Decoded, LeadingNumber, Measurement, Rejected
from drivers.decoders.raw_sensors import SensorSet
from drivers.decoders.told_by_check import ToldByCheck
from drivers.described.description import LONGEST_FRAME, Description, Frame

_SHOWN_BYTES = 16


class _Kind:
    """One kind of frame, ready for use."""

    def __init__(self, frame: Frame, sensors: SensorSet) -> None:
        self.characteristic = frame.characteristic
        self.shape, self.fields = FrameShape(frame), FrameFields(frame, sensors)


class PacketDecoder:
    """The decoder of a described device.

    :param description: with at least one frame
    """

    def __init__(self, description: Description) -> None:
        self._kinds = [_Kind(frame, description.sensors) for frame in description.frames]
        shapes = [kind.shape for kind in self._kinds]
        self._header_bytes = max(shape.header_bytes for shape in shapes)
        pattern = re.compile(b"|".join(b"(%b)" % shape.pattern for shape in shapes), re.DOTALL)
        self._search, self._begins = pattern.search, pattern.match
        self._only_header = shapes[0].literal_header if len(shapes) == 1 else b""
        frame = description.frames[0]
        self._by_check = ToldByCheck(frame) if len(shapes) == 1 and frame.is_told_by_check else None

    def decode_packet(self, data: bytes, characteristic: str = "") -> tuple[Measurement, ...] | Rejected:
        """Decode one packet that arrived whole, as Bluetooth notifications do.

        :param characteristic: UUID that it came from, in full length; empty where it does not matter
        """
        kind = self._kind_of(data, characteristic)
        if kind is None:
            return _rejected(data, "it begins like no packet that is described")
        try:
            kind.shape.check_packet(data)
            return kind.fields.measurements(data)
        except RefusedError as refused:
            return _rejected(data, refused.why, refused.unknown_unit)

    def battery_percent(self, data: bytes, characteristic: str = "") -> int | None:
        """Give the battery's charge, where a packet holds it and is in order."""
        kind = self._kind_of(data, characteristic)
        if kind is None or not kind.fields.has_battery:
            return None
        try:
            kind.shape.check_packet(data)
            return kind.fields.battery_percent(data)
        except RefusedError:
            return None

    def decode(self, data: bytes) -> Decoded:
        """Decode all complete frames of a stream."""
        found: list[Measurement] = []
        frames = rejected = at = start = 0  # start: of the bytes that belong to no good frame
        why: RefusedError | None = None  # what is wrong with the candidate that stands there
        last, battery = None, None
        while (candidate := self._next(data, start, at)) is not None:
            at, kind = candidate
            if at > start:
                rejected += 1
                last = self._stretch(data[start:at], why)
            length = kind.shape.length_at(data, at)
            in_step = length == NO_FRAME or self._in_step(kind, data, at, length)
            if length == WAIT or in_step is None:
                return Decoded(at, tuple(found), frames, rejected, last, battery)
            start, why = at, None
            try:
                if not in_step:
                    raise RefusedError("the next frame begins inside it")
                measurements, charge = self._read(kind, data, at, length)
            except RefusedError as refused:
                why = refused
                at += 1
                continue
            found += measurements
            battery = battery if charge is None else charge
            frames += 1
            at += length
            start = at
        used = self._may_go(start, len(data))
        return Decoded(used, tuple(found), frames, rejected, last, battery)

    def leading_number(self, line: bytes) -> LeadingNumber | None:
        """Give none: a frame that has lost its head is not read."""
        return None

    def _kind_of(self, data: bytes, characteristic: str) -> _Kind | None:
        for kind in self._kinds:
            if characteristic and kind.characteristic not in ("", characteristic):
                continue
            if kind.shape.begins(data):
                return kind
        return None

    def _next(self, data: bytes, start: int, at: int) -> tuple[int, _Kind] | None:
        """Find the next place where a frame may begin, or does where its check alone tells that.

        :param start: of the bytes that belong to no good frame
        """
        if self._by_check is None:
            return self._candidate(data, at)
        place = self._by_check.find(data, start, at)
        return (place, self._kinds[0]) if place is not None else None

    def _candidate(self, data: bytes, at: int) -> tuple[int, _Kind] | None:
        """Find the next place where a frame may begin."""
        if self._only_header:
            found = data.find(self._only_header, at)
            return (found, self._kinds[0]) if found >= 0 else None
        match = self._search(data, at)
        return (match.start(), self._kinds[(match.lastindex or 1) - 1]) if match else None

    def _in_step(self, kind: _Kind, data: bytes, at: int, length: int) -> bool | None:
        """Say whether a frame without a check has lost no bytes; None where more bytes must come to tell."""
        end = at + length
        if not kind.shape.is_unchecked or end + self._header_bytes > len(data) or self._begins(data, end):
            return True
        inside, is_open = at, False
        while (candidate := self._candidate(data, inside + 1)) is not None and candidate[0] < end:
            inside = candidate[0]
            its_length = candidate[1].shape.length_at(data, inside)
            its_end = inside + its_length
            is_open |= its_length == WAIT
            if its_length > 0 and (its_end + self._header_bytes > len(data) or self._begins(data, its_end)):
                return False
        return None if is_open else True

    def _read(
        self, kind: _Kind, data: bytes, at: int, length: int
    ) -> tuple[tuple[Measurement, ...], int | None]:
        if length == NO_FRAME:
            raise RefusedError("its length is impossible")
        frame = data[at : at + length]
        kind.shape.check(frame)
        charge = kind.fields.battery_percent(frame) if kind.fields.has_battery else None
        return kind.fields.measurements(frame), charge

    def _may_go(self, start: int, end: int) -> int:
        """Say how many bytes need not be seen again when no further candidate is among them.

        A stretch is kept until the next candidate ends it, so that it is counted once however it was cut in
        pieces; of a long one only the end, which a header may begin in.
        """
        if self._by_check is not None:
            return self._by_check.may_go(start, end)
        tail = end - 2 * self._header_bytes
        return tail if tail - start > LONGEST_FRAME else start

    def _stretch(self, stretch: bytes, why: RefusedError | None) -> Rejected:
        if why is None or len(stretch) > LONGEST_FRAME:
            shown = self._header_bytes if self._by_check is None else self._by_check.length
            return _rejected(stretch[-shown:], "no frame begins there")
        return _rejected(stretch, why.why, why.unknown_unit)


def _rejected(data: bytes, why: str, unknown_unit: str | None = None) -> Rejected:
    more = " ..." if len(data) > _SHOWN_BYTES else ""
    return Rejected(data[:_SHOWN_BYTES].hex(" ") + more, why, unknown_unit)
