"""The outside of a frame: how it is found among bytes, how long it is, and whether it is in order."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from drivers.decoders.byte_orders import highest_first
from drivers.decoders.checksums import crc8, crc16, lrc8, sum8, sum16, xor8
from drivers.described.description import Bits, Checksum, Frame

WAIT = 0
"""The length of a frame whose end has not arrived."""

NO_FRAME = -1
"""The length of what begins like a frame and is none."""

_PLAIN = {"sum8": sum8, "sum16": sum16, "xor8": xor8, "lrc": lrc8}


class RefusedError(ValueError):
    """A frame that must not be read.

    :param why: a clause for the user
    :param unknown_unit: the unit's code, where it was the only thing wrong
    """

    def __init__(self, why: str, unknown_unit: str | None = None) -> None:
        self.why, self.unknown_unit = why, unknown_unit
        super().__init__(why)


class FrameShape:
    """One kind of frame from outside.

    :param frame: its description
    """

    def __init__(self, frame: Frame) -> None:
        self._frame, self._least = frame, frame.least_length
        header = frame.header
        if frame.length is not None and frame.terminator and frame.is_unmarked:
            # Without a header, the terminator at its distance is what tells a frame.
            header = (*(None,) * (frame.length - len(frame.terminator)), *frame.terminator)
        self.header_bytes = len(header)
        self.pattern = b"".join(b"." if byte is None else re.escape(bytes((byte,))) for byte in header)
        self.literal_header = b"" if None in header else bytes(byte for byte in header if byte is not None)
        self._header = re.compile(self.pattern, re.DOTALL)
        self._find_length = self._ended
        if frame.length is not None:
            self._find_length = self._fixed
        elif frame.length_field is not None:
            self._find_length = self._said
            self._said_bytes = frame.length_field.bits.offset + frame.length_field.bits.width
            self._said_less, self._adds = whole_number(frame.length_field.bits), frame.length_field.adds
        self.is_unchecked = frame.length is not None and not frame.checksum and not frame.terminator
        self._is_in_order = checksum_test(frame.checksum) if frame.checksum else None

    def begins(self, packet: bytes) -> bool:
        """Say whether a packet begins like this frame."""
        return self._header.match(packet) is not None

    def length_at(self, data: bytes, at: int) -> int:
        """Give the length of the frame that begins somewhere in a stream.

        :returns: in bytes; ``WAIT`` where more bytes must come first, ``NO_FRAME`` where it cannot be one
        """
        present = len(data) - at
        length = self._find_length(data, at, present)
        return WAIT if length > present else length

    def check_packet(self, packet: bytes) -> None:
        """Check a packet that arrived whole.

        :raises RefusedError: when it is too long, too short, or damaged
        """
        present = len(packet)
        if self._frame.length is None and not self._least <= present <= self._frame.longest:
            raise RefusedError(f"{present} bytes where {self._least} to {self._frame.longest} are expected")
        if self._frame.length is not None or self._frame.length_field is not None:
            length = self._find_length(packet, 0, present)
            if length != present:
                expected = "is impossible" if length == NO_FRAME else f"is {length} bytes, and {present} came"
                raise RefusedError(f"its length {expected}")
        self.check(packet)

    def check(self, frame: bytes) -> None:
        """Check a frame of the right length.

        :raises RefusedError: when its end or its checksum is wrong
        """
        if self._is_in_order is not None and not self._is_in_order(frame):
            raise RefusedError("its checksum is wrong")
        if self._frame.terminator and not frame.endswith(self._frame.terminator):
            raise RefusedError("it has the wrong end")

    # Each gives a length, and more than is present where it cannot know it yet.

    def _fixed(self, data: bytes, at: int, present: int) -> int:
        return self._frame.length or NO_FRAME

    def _said(self, data: bytes, at: int, present: int) -> int:
        """Give the length that the frame itself says."""
        if present < self._said_bytes:
            return present + 1
        length = self._said_less(data[at : at + self._said_bytes]) + self._adds
        return length if self._least <= length <= self._frame.longest else NO_FRAME

    def _ended(self, data: bytes, at: int, present: int) -> int:
        """Give the length up to the first terminator that is not inside the fields."""
        terminator, longest = self._frame.terminator, self._frame.longest
        least_end = at + self._least - len(terminator)
        found = data.find(terminator, least_end, at + longest)
        if found >= 0:
            return found + len(terminator) - at
        return NO_FRAME if present >= longest else present + 1


def whole_number(bits: Bits) -> Callable[[bytes], int]:
    """Give what reads some bytes of a frame as one whole number of no sign."""
    offset, order, mask, shift = bits.offset, bits.order, bits.mask, bits.shift
    part = slice(offset, offset + bits.width or None)
    if bits.width == 1 and not mask:
        return lambda frame: frame[offset]
    if order not in ("big", "little"):
        all_bits = mask or -1
        return lambda frame: (int.from_bytes(highest_first(frame[part], order)) & all_bits) >> shift
    if not mask:
        return lambda frame: int.from_bytes(frame[part], order)
    if bits.width == 1:
        return lambda frame: (frame[offset] & mask) >> shift
    return lambda frame: (int.from_bytes(frame[part], order) & mask) >> shift


def checksum_test(checksum: Checksum) -> Callable[[bytes], bool]:
    """Give what says whether a frame's checksum is right, by any of its kinds."""
    if checksum.or_kinds:
        kinds = (checksum.kind, *checksum.or_kinds)
        tests = [checksum_test(replace(checksum, kind=kind, or_kinds=())) for kind in kinds]
        return lambda frame: any(is_right(frame) for is_right in tests)
    compute = computation(checksum)
    covered = slice(checksum.start, checksum.stop)
    width = checksum.width // 2 if checksum.is_hex else checksum.width
    part, order, is_hex = (
        slice(checksum.at, checksum.at + checksum.width or None),
        checksum.order,
        checksum.is_hex,
    )

    def is_right(frame: bytes) -> bool:
        written = compute(frame[covered]).to_bytes(width, order)
        return frame[part] == written if not is_hex else frame[part].upper() == written.hex().upper().encode()

    if width == 1 and not is_hex:
        at = checksum.at
        return lambda frame: frame[at] == compute(frame[covered])
    return is_right


def computation(checksum: Checksum) -> Callable[[bytes], int]:
    """Give what works out a checksum, from the bytes that it covers."""
    if checksum.kind in _PLAIN:
        return _with_ends(_PLAIN[checksum.kind], checksum)
    crc = crc16 if checksum.kind == "crc16" else crc8
    return partial(
        crc,
        poly=checksum.poly,
        init=checksum.init,
        refin=checksum.refin,
        refout=checksum.refout,
        xorout=checksum.xorout,
    )


def _with_ends(compute: Callable[[bytes], int], checksum: Checksum) -> Callable[[bytes], int]:
    """Let a sum begin with something, and combine its result with something."""
    init, xorout = checksum.init, checksum.xorout
    if not init and not xorout:
        return compute
    bits = 16 if checksum.kind == "sum16" else 8
    mask = (1 << bits) - 1
    if checksum.kind == "xor8":
        return lambda data: compute(data) ^ init ^ xorout
    begun = -init if checksum.kind == "lrc" else init
    return lambda data: (compute(data) + begun & mask) ^ xorout
