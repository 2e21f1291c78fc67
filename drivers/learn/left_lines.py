"""Lines of text that a pattern does not read, and that hold the load as well."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drivers.learn.capture import Capture
from drivers.learn.fitting import Fit
from drivers.learn.framing import ByteStream, lines_of
from drivers.learn.kinds import settled_rows
from drivers.learn.line_makes import LineMake
from drivers.learn.texts import parts_of

_CLOSELY = 0.006
"""Share of the span of all loads by which another line may say something near the load by chance."""


def lines_unread(capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None) -> tuple[int, int]:
    """Count lines that are made otherwise and begin with the same number of parts as far as the load.

    :param joined: the stream, for lines that were cut out of one
    :returns: how many hold the load at rest or go on with it, and of how many
    """
    others = list(_others(capture, one, make, joined))
    held = len(one.kind.frames)
    if not others:
        return 0, held
    times, says = (np.array(column) for column in zip(*others, strict=True))
    near = _CLOSELY * one.span + 8.0 * one.noise_units + 3.0 * one.step
    typed = [load.value for load in capture.loads]
    weighs, at_rest = (np.zeros(times.size, dtype=bool) for _ in range(2))
    for load in capture.loads:
        rows = settled_rows(times, load)
        at_rest[rows] = True
        weighs[rows] = np.abs(says[rows] - load.value) <= near
    weighs |= ~at_rest & (says > min(typed) + near) & (says < max(typed) - near)
    return int(weighs.sum()), held + int(weighs.sum())


def _others(
    capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None
) -> Iterator[tuple[float, float]]:
    """Give the time of each line that is made otherwise, and what its number says at the same place."""
    arrivals = [(each.time_s, each.data) for each in capture.of_stream(one.kind.stream)]
    for time_s, line in lines_of(joined) if joined is not None else arrivals:
        parts = parts_of(line, is_checked=make.is_checked)
        if make.is_made_like(parts) or len(parts) <= make.number_at:
            continue
        sort, text = parts[make.number_at]
        if sort == "number":
            value = float(one.loads_of(np.array([float(text.replace(b" ", b"").replace(b"\t", b""))]))[0])
            yield time_s, value
