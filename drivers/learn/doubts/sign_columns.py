"""Whether another column of a line tells that its number is below nought: a sign, a letter, a word.

A pattern reads one number of a line by itself. The columns beside it that are one of a few things are put
beside it as bytes, and the sign is looked for among them as in any frame.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from drivers.learn.captures.capture import Capture
from drivers.learn.doubts.left_lines import lines_read
from drivers.learn.doubts.sign_doubts import is_sign_weak, may_be_sign
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.kinds import Kind
from drivers.learn.packets.line_makes import LineMake
from drivers.learn.signs.below_zero import has_been_negative, settle_sign

_MOST_WORDS, _NEARLY_ALL = 6, 0.97
"""Things that a column is that may tell a sign, and the share of the lines in which it is one of those."""

_FEWEST = 3
"""Lines with such a thing that is no damage."""

_CODES = (0x00, 0x33, 0x55, 0x66, 0x99, 0xAA)
"""Bytes that stand for those; any two differ in four bits, so that they are no flags."""

_OTHER = 0xFF
"""What stands for anything else."""


def has_sign_in_column(one: Fit, capture: Capture, joined: ByteStream | None) -> bool:
    """Say whether another column of the lines changes as a number turns at nought, which it does not pass.

    :param one: a number that a pattern reads
    :param joined: the stream, for lines that were cut out of one
    """
    make = one.kind.make
    if not isinstance(make, LineMake) or make.is_hex or has_been_negative(one):
        return False
    lines = [(time_s, parts) for time_s, parts in lines_read(capture, one, make, joined)
             if len(parts) == len(make.tokens)]  # fmt: skip
    others = [at for at in range(len(make.tokens)) if at != make.number_at]
    columns = [_codes_of([parts[at] for _, parts in lines]) for at in others]
    told = [column for column in columns if column is not None]
    if not told:
        return False
    width = one.number.width
    texts = b"".join(parts[make.number_at][-width:].rjust(width) for _, parts in lines)
    number = np.frombuffer(texts, dtype=np.uint8).reshape(len(lines), width)
    # What stands between them sets the columns apart from each other, as a separator does.
    beside = [np.stack((np.full(len(lines), ord(",")), column), axis=1) for column in told]
    times = np.array([time_s for time_s, _ in lines])
    frames = np.concatenate((number, *beside), axis=1).astype(np.uint8)
    kind = Kind(one.kind.stream, times, frames).seen_with(capture.loads)
    plain = kind and fit(kind, one.number, capture.loads, capture.quantity)
    if not plain:
        return False
    signed = settle_sign(plain, capture.loads, capture.quantity)
    if signed.number.sign is None:
        return may_be_sign(plain)
    return not is_sign_weak(signed, capture.loads) or may_be_sign(plain)


def _codes_of(texts: Sequence[bytes]) -> np.ndarray | None:
    """Give a byte for each thing that a column is; None where it is always the same, or many things."""
    tally = Counter(texts)
    often = [text for text, count in tally.most_common(_MOST_WORDS) if count >= _FEWEST]
    if len(often) < 2 or sum(tally[text] for text in often) < _NEARLY_ALL * len(texts):
        return None
    code = dict(zip(often, _CODES, strict=False))
    return np.array([code.get(text, _OTHER) for text in texts], dtype=np.uint8)
