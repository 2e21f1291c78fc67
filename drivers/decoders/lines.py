"""Bytes to lines, whatever ends them: CR, LF or CRLF; or marks of ISO 646 around each, as STX and ETX."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from drivers.decoders.measurement import Decoded, Measurement, Rejected, printable

LONGEST_LINE = 512
"""Bytes; more without a line end is no line of an instrument, and must not fill the memory."""

_ENDS = b"\r\n\x01\x02\x03\x04"
_MARKS = bytes.maketrans(b"\x01\x02\x03\x04", b"\n\n\n\n")


def split_lines(data: bytes) -> tuple[int, list[bytes]]:
    """Split off the complete lines; blank ones are left out.

    Of a run without an end that is longer than any line its last bytes are kept, one more than a line may
    have: the run is still known to be too long when its end arrives, and its tail is not taken for a line.

    :returns: how many bytes are used up, and the lines without their ends
    """
    lines = data.translate(_MARKS).splitlines()
    used = len(data)
    if lines and data[-1] not in _ENDS:
        used -= min(len(lines.pop()), LONGEST_LINE + 1)
    return used, [line for line in lines if line and not line.isspace()]


def decode_lines(
    data: bytes,
    read: Callable[[bytes], Sequence[Measurement] | None],
    why: Callable[[bytes], Rejected],
) -> Decoded:
    """Decode all complete lines.

    :param read: gives a line's measurements, which may be none, or None where it cannot be read
    :param why: says why a line cannot
    """
    used, lines = split_lines(data)
    found: list[Measurement] = []
    rejected, last = 0, b""
    for line in lines:
        measurements = read(line)
        if measurements is None:
            rejected, last = rejected + 1, line
        else:
            found += measurements
    return Decoded(used, tuple(found), len(lines) - rejected, rejected, why(last) if rejected else None)


def unreadable(line: bytes, why: str) -> Rejected:
    """Say why a line is not readable; that it is too long comes before all else."""
    if len(line) > LONGEST_LINE:
        why = f"more than {LONGEST_LINE} bytes came without a line end"
    return Rejected(printable(line), why)
