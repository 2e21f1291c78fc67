"""Bytes to lines, whatever ends them: CR, LF or CRLF."""

from __future__ import annotations

from drivers.decoders.measurement import Rejected, printable

LONGEST_LINE = 512
"""Bytes; more without a line end is no line of an instrument, and must not fill the memory."""


def split_lines(data: bytes) -> tuple[int, list[bytes]]:
    """Split off the complete lines; blank ones are left out.

    Of a run without an end that is longer than any line its last bytes are kept, one more than a line may
    have: the run is still known to be too long when its end arrives, and its tail is not taken for a line.

    :returns: how many bytes are used up, and the lines without their ends
    """
    lines = data.splitlines()
    used = len(data)
    if lines and data[-1] not in b"\r\n":
        used -= min(len(lines.pop()), LONGEST_LINE + 1)
    return used, [line for line in lines if line and not line.isspace()]


def unreadable(line: bytes, why: str) -> Rejected:
    """Say why a line is not readable; that it is too long comes before all else."""
    if len(line) > LONGEST_LINE:
        why = f"more than {LONGEST_LINE} bytes came without a line end"
    return Rejected(printable(line), why)
