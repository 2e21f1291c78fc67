"""A sign in another column of a line than its number: a plus or a minus, a letter, a word.

The columns beside the number that are one of a few things are put beside it as bytes, and the sign is looked
for among them as in any frame.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from drivers.decoders.pattern_words import PatternError
from drivers.learn.captures.capture import Capture
from drivers.learn.description.line_patterns import expression_of
from drivers.learn.doubts.left_lines import lines_read
from drivers.learn.doubts.sign_doubts import is_sign_weak, may_be_sign
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.number import SignPlace
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

_OTHER, _BETWEEN = 0xFF, ord(",")
"""What stands for anything else; and between two columns, so that they are not beside each other."""


@dataclass(frozen=True, eq=False)
class _Columns:
    """A number, and what its lines say beside it.

    :param one: the number, in lines with a byte for each column behind it
    :param words: what each of those bytes stands for, by its place: which part of the line, and its texts
    """

    one: Fit
    words: dict[int, tuple[int, dict[int, bytes]]]


def with_sign_in_column(one: Fit, capture: Capture, joined: ByteStream | None) -> Fit:
    """Give a number that a pattern reads with the sign that another column of its lines is, where one is.

    :param joined: the stream, for lines that were cut out of one
    """
    columns, make = _columns_of(one, capture, joined), one.kind.make
    if columns is None or not isinstance(make, LineMake):
        return one
    signed = settle_sign(columns.one, capture.loads, capture.quantity)
    sign = signed.number.sign
    if sign is None or is_sign_weak(signed, capture.loads):
        return one
    part, texts = columns.words[sign.offset]
    minus = [text for code, text in texts.items() if _is_minus(sign, code)]
    if len(minus) != 1 or not minus[0]:
        return one
    told = replace(make, sign=(part, minus[0]))
    try:
        expression_of(told, one.number.width)
    except PatternError:
        return one
    return replace(signed, kind=replace(signed.kind, make=told, part_of=None))


def has_sign_in_column(one: Fit, capture: Capture, joined: ByteStream | None) -> bool:
    """Say whether another column of the lines changes as a number turns at nought, which it does not pass.

    :param one: a number that a pattern reads
    :param joined: the stream, for lines that were cut out of one
    """
    columns = _columns_of(one, capture, joined)
    if columns is None:
        return False
    signed = settle_sign(columns.one, capture.loads, capture.quantity)
    is_clear = signed.number.sign is not None and not is_sign_weak(signed, capture.loads)
    return is_clear or may_be_sign(columns.one)


def _is_minus(sign: SignPlace, code: int) -> bool:
    return bool(sign.is_negative(np.full((1, sign.offset + 1), code, dtype=np.uint8))[0])


def _columns_of(one: Fit, capture: Capture, joined: ByteStream | None) -> _Columns | None:
    """Put columns that are one of a few things beside a number without a sign; None where there are none."""
    make = one.kind.make
    if not isinstance(make, LineMake) or make.is_hex or has_been_negative(one):
        return None
    read = ((time_s, _with_absent(parts, make)) for time_s, parts in lines_read(capture, one, make, joined))
    lines = [each for each in read if len(each[1]) == len(make.tokens)]
    width = one.number.width
    texts = [parts[make.number_at][-width:].rjust(width) for _, parts in lines]
    bytes_of = [np.frombuffer(b"".join(texts), dtype=np.uint8).reshape(len(lines), width)]
    words: dict[int, tuple[int, dict[int, bytes]]] = {}
    for part in (at for at in range(len(make.tokens)) if at != make.number_at):
        column = [parts[part] for _, parts in lines]
        if code_of := _codes_of(column):
            codes = [code_of.get(text, _OTHER) for text in column]
            bytes_of.append(np.array([(_BETWEEN, code) for code in codes], dtype=np.uint8))
            at = width + 2 * len(words) + 1
            words[at] = part, {code: text for text, code in code_of.items()}
    if not words:
        return None
    times = np.array([time_s for time_s, _ in lines])
    kind = Kind(one.kind.stream, times, np.concatenate(bytes_of, axis=1)).seen_with(capture.loads)
    number = replace(one.number, offset=0)
    plain = fit(kind, number, capture.loads, capture.quantity) if kind is not None else None
    return None if plain is None else _Columns(plain, words)


def _with_absent(parts: list[bytes], make: LineMake) -> list[bytes]:
    """Give the parts of a line with nothing where it lacks the one that tells a state."""
    at = next((at for at, (sort, _) in enumerate(make.tokens) if sort == "any"), None)
    is_absent = at is not None and len(parts) == len(make.tokens) - 1
    return [*parts[:at], b"", *parts[at:]] if is_absent else parts


def _codes_of(texts: Sequence[bytes]) -> dict[bytes, int]:
    """Give a byte for each thing that a column is; none where it is always the same, or many things."""
    tally = Counter(texts)
    often = [text for text, count in tally.most_common(_MOST_WORDS) if count >= _FEWEST]
    if len(often) < 2 or sum(tally[text] for text in often) < _NEARLY_ALL * len(texts):
        return {}
    return dict(zip(often, _CODES, strict=False))
