"""Where frames begin that begin with nothing that stays: where their check is right.

A check of two bytes is right elsewhere once in 65536 places. One of one byte is so once in 256: then a frame
begins where the one before has ended, or some whole frames behind that, as what is damaged is as long as what
is not; elsewhere, the next one must be right as well. Whichever can be told first is believed, so that it
does not matter how the bytes were cut in pieces on the way.
"""

from __future__ import annotations

from drivers.decoders.frame_shapes import checksum_test
from drivers.described.description import LONGEST_FRAME, Frame


class ToldByCheck:
    """Finds the frames of a stream by their check.

    :param frame: its description, with a length and a checksum
    """

    def __init__(self, frame: Frame) -> None:
        assert frame.length is not None and frame.checksum is not None
        self.length = frame.length
        self._is_in_order = checksum_test(frame.checksum)
        self._is_wide = frame.checksum.kind.endswith("16")

    def find(self, data: bytes, start: int, at: int) -> int | None:
        """Give the place of the next frame; None where none can be told yet.

        :param start: where the last good frame has ended
        :param at: where to look from: there, or behind it where what begins there cannot be read
        """
        length, in_step = self.length, at == start
        for end in range(at + length, len(data) + 1):
            last, before = end - length, end - 2 * length
            is_enough = self._is_wide or (in_step and (last - start) % length == 0)
            if is_enough and self._holds(data, last):
                return last
            if not is_enough and before >= at and self._holds(data, before) and self._holds(data, last):
                return before
        return None

    def may_go(self, start: int, end: int) -> int:
        """Say how many bytes need not be seen again, where none was found: a multiple of a frame's length."""
        tail = end - 2 * self.length
        return start + (tail - start) // self.length * self.length if tail - start > LONGEST_FRAME else start

    def _holds(self, data: bytes, at: int) -> bool:
        return self._is_in_order(data[at : at + self.length])
