"""How unlikely it is that some bytes, read in some way, are the weight: a sum of natural logarithms."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.byte_orders import WORD_ORDERS
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.grids import IDLE
from drivers.learn.numbers.halves import are_halves
from drivers.learn.numbers.last_digits import ends_in_another
from drivers.learn.numbers.neighbours import above
from drivers.learn.numbers.scales import is_halved
from drivers.learn.packets.kinds import (
    Kind,
    beginning,
    has_loose_digits,
    is_unpadded,
    on_way,
    usual_gap_s,
)
from drivers.learn.widths.capacity import LARGE_G

_ENCODING_COST = {"integer": 0.0, "bcd": 0.3, "ascii": -2.0, "float": 0.0, "digits": 0.6, "hex": 1.0}
_OUTSIDE_COST = 60.0
_SELECTED_COST, _NOUGHT_COST, _NEAR_COST, _OWN_COST, _VARIED_COST = 0.6, 0.3, 1.5, 2.0, 1.0
_MANY, _FEW_TENS = 0.2, 6
_TOO_FINE_COST, _IDLE_COST, _HALF_BYTE_COST = 6.0, 6.0, 2.0
"""How unlikely a number is that is finer than any converter, or has lower bytes that stand idle, or an odd
number of digits of sixteen; natural logarithms, as all costs."""

_TWENTIES = np.arange(5) * 0x20
"""Two digits that count in twenties."""

MOST_COUNTS = float(1 << 24)
"""What a converter tells apart at most."""

_FURTHER_BACK = 0.05
_WORDS_COST = 1.5
"""Few pass registers on in words of an order of their own."""

_LAST_DIGIT_STEPS = (1, 2, 5)
_FEW_DAMAGED, _COUNTED, _WITH_IT = 0.005, 0.8, 0.4
"""Share of packets in which a digit is damaged, or goes up as a counter does; of changes of a number's
lowest digit with which the one below it changes."""

_AS_GOOD, _AS_OFTEN, _FINELY = 0.01, 0.6, 0.03
"""Share of packets that damage may take; of the packets of one kind that another must have to show as much of
the way; and of the span of the loads, a step with its noise in which ups and downs can be seen."""

_HEAVIER = 1.5
"""What any scale can weigh, of the heaviest load."""

_NEARLY_ALWAYS = 0.9
"""Share of the lines in which a place holds a digit, or a point, but for damage and wider numbers."""

_MANY_PAIRS = 8
"""Pairs of decimal digits that a byte of anything else is not."""

_DIGITS, _NO_DIGIT = tuple(b"0123456789"), 0xFF
_OF_TEXT, _POINT = tuple(b"0123456789."), tuple(b".")


def total_cost(one: Fit) -> float:
    """Say how unlikely a fit is, the lower the better: beforehand, and by what it leaves unexplained."""
    number = one.number
    cost = one.cost + _ENCODING_COST[number.encoding]
    cost += _OUTSIDE_COST * max(0.0, 0.99 - one.inside)
    near = range(number.offset - 1, number.end + 1)  # what stands there tells no kinds apart
    cost += _NEAR_COST * any(place in near for place, _ in one.kind.selectors)
    cost += _OWN_COST * _is_picked_by_itself(one)
    # A nought tells messages apart less likely than a byte that names them.
    cost += _NOUGHT_COST * any(value in (0x00, 0xFF) for _, value in one.kind.selectors)
    cost += _VARIED_COST * sum(_varies_in_others(one.kind, *each) for each in one.kind.selectors)
    # What names a message stands before what it says.
    cost += sum(_SELECTED_COST + _FURTHER_BACK * place for place, _ in one.kind.selectors)
    cost += 0.8 * (one.kind.make is not None)
    if number.encoding in ("integer", "bcd", "digits"):
        lowest = np.bincount(one.kind.frames[:, number.lowest_at], minlength=256)
        last = np.arange(256) >> 4 if number.swapped else np.arange(256) & 15
        is_tens = number.encoding == "bcd" and lowest[last != 0].sum() < 0.02 * lowest.sum()
        is_few = int((lowest >= 2).sum()) < (_FEW_TENS if is_tens else 12)
        few = number.width > 1 and is_few and not (is_tens and _goes_in_twenties(lowest))
        cost += 2.0 * (few and not (number.encoding == "bcd" and are_halves(one)))
        cost += 5.0 * (number.encoding in ("bcd", "integer") and _are_digits(one))
        wide = max(number.width - 2, 0)
        # Bare counts come from converters of 24 bits; the byte behind them is another one.
        cost += 0.25 * wide if one.scale is not None else (0.0, 0.3, 1.5)[min(wide, 2)]
        cost += _TOO_FINE_COST * counts_too_finely(one)
    if one.kind.is_cut and not one.kind.terminator:
        cost += 0.4 * max(0.0, 2.0 - beginning(one.kind.frames))
    # What is bare counts is whole; a float, or a text with a point, is in the unit that is shown.
    cost += 4.0 * (one.scale is None and (number.encoding == "float" or _has_point(one)))
    if one.scale is None:  # the line is all that speaks for it
        allowed = 0.1 + 0.001 * one.span + 2.0 * one.step + one.noise_units
        cost += 0.7 * min(one.worst / allowed, 8.0)
    # What stands last is a check as a rule.
    cost += 0.4 * (number.encoding == "integer" and number.end == one.kind.length)
    cost += 3.0 * (has_loose_digits(one.kind, number.covers) or has_own_loose_digits(one))
    cost += 2.0 * (number.encoding == "ascii" and _goes_on(one, _OF_TEXT))
    cost += 4.0 * (number.encoding == "ascii" and _goes_on(one, _POINT))  # its decimals are left out
    cost += _HALF_BYTE_COST * (number.encoding == "hex" and number.width % 2)
    cost += 2.0 * (number.encoding in ("digits", "bcd", "ascii") and _leaves_out_digit(one))
    cost += 6.0 * (number.encoding == "ascii" and _is_behind_point(one))
    cost += 1.5 * bool(number.mask) + 3.0 * (number.encoding == "float" and number.width == 2)
    cost += 0.1 * (number.order == "little") + 0.3 * number.swapped
    cost += _WORDS_COST * (number.order in WORD_ORDERS)
    if number.sign is not None and number.sign.offset not in (number.offset - 1, number.end):
        cost += 1.0
    # Of what is round, a byte that is never needed is no part.
    cost += _IDLE_COST * (one.grid == IDLE and one.scale is not None and not is_halved(one.scale))
    cost += _IDLE_COST * ends_in_another(one)
    cost += 0.4 * (number.signed == "sign-bit") + 3.5 * (number.decimals_at >= 0)
    return cost


def _goes_in_twenties(often: NDArray[np.int64]) -> bool:
    """Say whether lowest digits are 00, 20, 40, 60 and 80, as those of a display in steps of two are.

    :param often: how often each byte came, shape (256,)
    """
    return np.array_equal(np.flatnonzero(often >= 2), _TWENTIES)


def counts_too_finely(one: Fit) -> bool:
    """Say whether bare counts go further from load to load than a converter tells apart."""
    return one.scale is None and one.number.encoding == "integer" and float(np.ptp(one.levels)) >= MOST_COUNTS


def has_own_loose_digits(one: Fit) -> bool:
    """Say whether a line is of the length that it is by the digits that the loads have needed.

    Those may be enough for what most scales can weigh: thousands of grams, one of kilograms.
    """
    number = one.number
    if number.encoding != "ascii" or not is_unpadded(one.kind, number.offset, number.end):
        return False
    needed = max(LARGE_G, _HEAVIER * float(np.abs(one.loads_of(one.levels)).max()))
    return 10.0 ** _whole_digits(one) / abs(one.per_unit) < needed


def _whole_digits(one: Fit) -> int:
    """Give how many digits a text has before its point."""
    part = one.kind.frames[:, one.number.offset : one.number.end]
    is_point = (part == ord(".")).mean(axis=0) > _NEARLY_ALWAYS
    whole = part[:, : int(is_point.argmax())] if is_point.any() else part
    return int((np.isin(whole, _DIGITS).mean(axis=0) > _NEARLY_ALWAYS).sum())


def _varies_in_others(kind: Kind, place: int, value: int) -> bool:
    """Say whether a byte that tells a kind is many things in others: it may be the same there as well."""
    if not isinstance(kind.whole, Kind):
        return False
    column = kind.whole.frames[:, place]
    others = column[column != value]
    return bool(np.unique(others).size > max(4.0, _MANY * others.size))


def _goes_on(one: Fit, characters: tuple[int, ...]) -> bool:
    """Say whether a text goes on behind the number with some characters, which a number has."""
    if one.number.end >= one.kind.length:
        return False
    return bool(np.isin(one.kind.frames[:, one.number.end], characters).mean() > 0.9)


def _leaves_out_digit(one: Fit) -> bool:
    """Say whether the byte below digits is one as well: all that a step lets it be, and others with them.

    Or whether it is two of them, as in BCD, and many. The upper digit of another number hardly ever changes
    with the lowest of this one; that of a counter goes up by the same each time.
    """
    number, frames = one.number, one.kind.frames
    at = number.end if number.order == "big" else number.offset - 1
    if not 0 <= at < one.kind.length or at in dict(one.kind.selectors):
        return False
    below, lowest = frames[:, at].astype(np.int64), frames[:, number.lowest_at]
    if number.encoding == "ascii":
        below = np.where(np.isin(below, _DIGITS), below - _DIGITS[0], _NO_DIGIT)
    codes = np.flatnonzero(np.bincount(below) > _FEW_DAMAGED * below.size)
    if number.encoding == "bcd":
        are_digits = codes.size >= _MANY_PAIRS and bool(((codes >> 4 < 10) & (codes & 0x0F < 10)).all())
    else:
        are_digits = any(np.array_equal(codes, np.arange(0, 10, step)) for step in _LAST_DIGIT_STEPS)
    if not are_digits:
        return False
    goes_up = np.bincount(np.diff(below) % 10, minlength=10)[1:].max()
    others = np.diff(below)[np.diff(lowest.astype(np.int64)) != 0] != 0
    return bool(goes_up < _COUNTED * below.size and others.size and others.mean() > _WITH_IT)


def _has_point(one: Fit) -> bool:
    """Say whether a number is a text with a point in it."""
    if one.number.encoding != "ascii":
        return False
    part = one.kind.frames[:, one.number.offset : one.number.end]
    return bool((part == ord(".")).any(axis=1).mean() > 0.9)


def _is_behind_point(one: Fit) -> bool:
    """Say whether a text begins with the decimals of a number."""
    at, frames = one.number.offset - 1, one.kind.frames
    if at < 0 or (frames[:, at] == ord(".")).mean() > 0.9:
        return at >= 0
    own = frames[:, one.number.offset : one.number.end]
    is_decimal = at > 0 and (frames[:, at] == ord(",")).mean() > 0.9 and np.isin(own, _DIGITS).mean() > 0.98
    return bool(is_decimal and np.isin(frames[:, at - 1], _DIGITS).mean() > 0.9)


def _is_picked_by_itself(one: Fit) -> bool:
    """Say whether packets were picked out by a byte that may be the number's own upper one."""
    places = {*above(one.number, one.kind.length), *one.number.covers}
    return any(place in places and value in (0, 0xFF) for place, value in one.kind.selectors)


def _are_digits(one: Fit) -> bool:
    """Say whether several bytes of a number go up and down and never beyond nine: each is a digit."""
    part = one.kind.frames[:, one.number.offset : one.number.end]
    sorts = [np.unique(column).size for column in part.T]
    return sum(size >= 4 for size in sorts) >= 2 and bool((part < 10).mean() > 0.98)


def coarseness(one: Fit) -> float:
    """Give what a reading leaves open, g or °C: its step, its noise, its distance from a straight line."""
    return one.step / 3.0 + one.noise_units + one.worst + 0.01


def roughness(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what it costs a fit to go further up and down than another: bytes of two numbers jump.

    Another one that leaves out packets is no measure: those may be the ones in which the pan swings; nor is
    what arrives seldom, or seldom while the load moves, as what is silent at rest does not.
    """
    good = [
        one for one in fits
        if one.inside > 0.9 and one.step + one.noise_units < _FINELY * one.span
        and one.worst < 0.01 * one.span + one.step
    ]  # fmt: skip
    # What was picked out by a flag of rest has no ups and downs at all; few bits wrap where it swings far.
    whole = [one for one in good if not one.kind.selectors and not one.number.mask] or good
    ways = np.array([(one.path, *_packets_of(one)) for one in whole] or [(1.0, 0.0, 0.0, 0.0, 1.0)])

    def cost(one: Fit) -> float:
        inside, count, moving, gap_s = _packets_of(one)
        shows_all = (ways[:, 1] > inside - _AS_GOOD) & (ways[:, 2] > _AS_OFTEN * count)
        shows_all &= (ways[:, 3] >= _AS_OFTEN * moving) & (_AS_OFTEN * ways[:, 4] < gap_s + 1e-3)
        paths = ways[shows_all, 0]
        least = max(float(paths.min(initial=one.path)), 0.85)
        return min(3.0 * max(0.0, one.path / least - 1.15), 4.0)

    return cost


def _packets_of(one: Fit) -> tuple[float, float, float, float]:
    """Give the share of packets in which a number is in place, how many there are, how many of those came
    while no load was at rest, and the usual time between two, s.
    """
    kind = one.kind
    return one.inside, float(len(kind.frames)), float(on_way(kind).sum()), usual_gap_s(kind.time_s)
