"""Lines that a description says: what follows its pattern, behind a check of the whole line where it has one.

``+ 250.0*1E`` with the pattern ``weight*`` and a check over all before it gives 250.0 g; with one character
changed on the way it gives nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from drivers.decoders.field_numbers import number_reader
from drivers.decoders.frame_shapes import checksum_test
from drivers.decoders.pattern_lines import HexDigits, PatternLines
from drivers.described.description import Checksum, Description


def described_lines(
    description: Description, weight: str | None = None, temperature: str | None = None
) -> PatternLines:
    """Give the decoder of a description's lines.

    :param description: with lines that have a pattern
    :param weight: channel name of unnamed weights
    :param temperature: the same for temperatures
    :raises PatternError: with the position at fault
    """
    lines = description.lines
    assert lines is not None
    taken_out = without_check(lines.checksum) if lines.checksum else None
    counts = lines.counts
    digits = HexDigits(counts.bits.width, number_reader(counts, Fraction(1))) if counts else None
    return PatternLines(
        lines.pattern, weight, temperature, description.sensors, taken_out, digits, lines.minus
    )


def without_check(checksum: Checksum) -> Callable[[bytes], bytes | None]:
    """Give what takes the check out of a line; None where it is wrong."""
    is_right, at, width = checksum_test(checksum), checksum.at, checksum.width

    def text_of(line: bytes) -> bytes | None:
        if not is_right(line):
            return None
        first = at if at >= 0 else len(line) + at
        return line[:first] + line[first + width :]

    return text_of
