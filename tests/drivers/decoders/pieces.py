"""What every decoder must do with any bytes: the same, however they were cut in pieces on the way."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from drivers.decoders.lines import LONGEST_LINE
from drivers.decoders.measurement import Decoder, Measurement


def assert_pieces_agree(
    decoder: Decoder, data: bytes, cuts: Sequence[int], longest_kept: int = LONGEST_LINE + 1
) -> None:
    """Check that the bytes give the same however they were cut on the way, and are not hoarded."""
    whole = decoder.decode(data)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    found: list[Measurement] = []
    lines, rejected, last, kept = 0, 0, None, b""
    for start, end in itertools.pairwise(edges):
        decoded = decoder.decode(kept + data[start:end])
        kept = (kept + data[start:end])[decoded.used :]
        assert len(kept) <= longest_kept
        found += decoded.measurements
        lines += decoded.lines
        rejected += decoded.rejected
        last = decoded.last_rejected or last
    # repr, because one "no value" (NaN) is not equal to another
    assert repr(tuple(found)) == repr(whole.measurements)
    assert (lines, rejected, last) == (whole.lines, whole.rejected, whole.last_rejected)
