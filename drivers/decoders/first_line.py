"""The first line after opening a port: whole, or what was left of a line that was under way.

``12.3,93.4`` cut to ``2.3,93.4`` is a well-formed line and a false reading. A lost leading digit moves a
number by at least one more than its remaining digits can hold, so the following line tells; with a device
clock, which moves on by itself, the following two.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import Enum

from drivers.decoders.measurement import Decoder

# A scale at rest flickers about zero; a sign lost there is worth less than the line.
_REST = 0.5

_NUMBER = re.compile(rb"([+-]?)(?=\.?\d)(\d*)(\.?)\d*(?:[eE]([+-]?\d{1,3}))?")


class FirstLine(Enum):
    """What is known of the first line."""

    WHOLE = "whole"
    CUT = "cut"
    UNDECIDED = "undecided"


def judge_first_line(decoder: Decoder, first: bytes, later: Sequence[bytes]) -> FirstLine:
    """Say whether the first line after opening is whole.

    :param first: the line without its end
    :param later: the lines after it, as far as they have arrived
    """
    decoded = decoder.decode(first + b"\n")
    if decoded.last_rejected is not None:
        return FirstLine.CUT if decoded.last_rejected.unknown_unit is None else FirstLine.WHOLE
    number = decoder.leading_number(first)
    if number is None:
        return FirstLine.WHOLE
    seconds = [line.lstrip() for line in later if decoder.decode(line + b"\n").lines]
    if number.text:
        seconds = [line for line in seconds if _NUMBER.match(line)]
    if len(seconds) < (2 if number.is_clock else 1):
        return FirstLine.UNDECIDED
    growth = _value(seconds[1]) - _value(seconds[0]) if number.is_clock and number.text else 0.0
    return FirstLine.WHOLE if number_is_whole(number.text, seconds[0], growth) else FirstLine.CUT


def number_is_whole(first: bytes, second: bytes, growth: float = 0.0) -> bool:
    """Say whether a line's leading number kept all its digits, by the number in the line after it.

    :param first: the number as sent; may be empty or no number (``nan``)
    :param second: the number after it, or the line that it begins
    :param growth: how much larger the second is expected to be: the next step of a clock
    """
    one, two = _NUMBER.match(first), _NUMBER.match(second)
    if one is None:
        return bool(first) or two is None
    if two is None:
        return True
    if two[3] and not one[3]:
        return False  # "0." of "0.37" is missing
    difference = abs(float(one[0]) + growth - float(two[0]))
    if two[1] == b"-" and not one[1] and difference > _REST:
        return False  # the sign is missing
    smallest_loss = 10.0 ** min(len(one[2]) + int(one[4] or 0), 300)
    return difference < max(smallest_loss / 2.0, abs(growth) / 2.0)


def _value(text: bytes) -> float:
    match = _NUMBER.match(text)
    return float(match[0]) if match else float("nan")
