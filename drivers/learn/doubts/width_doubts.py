"""Whether a number has room for what such an instrument must be able to say, and on which side it goes on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drivers.learn.captures.capture import UNIT_OF, Load, Quantity
from drivers.learn.doubts.further import below_nought, beyond_bytes, beyond_end
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.packets.kinds import on_way
from drivers.learn.signs.flags import FEW_CODES
from drivers.learn.weight.needless import is_lowest_busy
from drivers.learn.widths.capacity import LARGE_G, LEAST_BELOW_G, LEAST_G, capacity, room_below
from drivers.learn.widths.wider import is_closed, is_order_open, may_go_on
from drivers.learn.widths.words import may_have_upper_word

_LEAST_CAPACITY = {"weight": LEAST_G, "temperature": 105.0}
"""What any instrument of the kind can say, g or °C."""
_TWO_POUNDS_G = 907.0
"""The same of one that counts in ounces: 32 of them, as a round figure there."""

_OF_SMALL = 0.45
"""Share of it that is enough for a number that has no byte to go on in: there are small instruments."""

_HEAVY_G, _REACH_G = 5000.0, 3000.0
"""What the largest of them can; and what a number is given room for as long as it may have it."""

_OF_TEXT = tuple(b"0123456789.,")
_WIDEST = 4
"""Bytes of a number, at most."""

_ONE_BYTE = 255.0
"""The largest count of a byte."""

_IDLE, _UNUSUAL = 4, 4.0
"""Counts of a step that two bits below a number make; and how unlikely a scale is that they make of a round
one, a natural logarithm."""

_STILL_BOTH = 0.98
_STILL = 0.93
"""Share of packets in which a byte is the same, from which on it is none that counts."""

_OF_TWO_DIGITS, COARSEST_G = 100.0, 2.9
"""Values of two digits; a tenth of an ounce is the coarsest step of a scale that is brewed with, g."""

_NEARER, _HARDLY_OFF = 0.5, 0.1
"""How far off a line the loads are with a byte of the number, of what they are without it; and in steps
without it, where those hardly show it."""

_FEWEST_ON_WAY = 3
"""Values of digits while a load moves, beside those at rest; a state is fewer."""

_HALVED = tuple(1 << power for power in range(1, 17))
"""Denominators of scales by which a number without its lowest byte counts as roundly."""


def doubts_of_width(
    one: Fit, copies: Iterable[Fit], quantity: Quantity, taken: frozenset[int]
) -> Iterator[tuple[str, float | None]]:
    """Doubt a number that has no room for what such an instrument must be able to say.

    :param copies: other numbers that follow the loads
    :param taken: places of its check
    :returns: why, a sentence, and the load that would tell, g or °C
    """
    most, unit = capacity(one), UNIT_OF[quantity]
    least = _TWO_POUNDS_G if _is_in_ounces(one) else _LEAST_CAPACITY[quantity]
    least *= _OF_SMALL if is_closed(one) else 1.0
    if one.is_bare and may_go_on(one, taken):
        least *= 2.0  # bare counts begin anywhere, and converters have more bits
    beyond = beyond_bytes(one, least)
    if most < least:
        text = f"The number that was found ends at {most:.0f} {unit}; a load beyond that would tell more."
        yield text, beyond
    elif quantity == "weight" and most < LARGE_G and _may_have_no_sign(one):
        # A vessel that is lifted off is at hand, and no scale is overloaded by it.
        text = f"It ends at {most:.0f} g if its highest bit is a sign, which nothing below zero has shown."
        yield text, below_nought(float(np.abs(one.loads_of(one.levels)).max()))
    elif quantity == "weight" and most < _REACH_G and _has_idle_bits(one):
        text = f"Its lowest bits never change: it may go on above {most:.0f} g, below flags."
        yield text, beyond_end(one)
    elif (
        quantity == "weight"
        and most < (LARGE_G if one.scale else _HEAVY_G)
        and may_have_upper_word(one, taken)
    ):
        text = f"It ends at {most:.0f} g if two bytes beside it, which no load has needed, are none of it."
        yield text, beyond_end(one)
    elif (
        quantity == "weight"
        and one.scale is None  # one in round steps that ends here is that of a scale of 3 kg, or 5
        and most < _HEAVY_G
        and _may_have_no_sign(one)
        and _has_still_beside(one, taken | _of_copies(one, copies))
    ):
        text = f"It ends at {most:.0f} g if the still byte beside it is neither a part of it nor a sign."
        yield text, below_nought(float(np.abs(one.loads_of(one.levels)).max()))
    elif quantity == "weight" and one.is_bare and (below := room_below(one)) < LEAST_BELOW_G:
        text = f"It ends {below:.0f} g below zero, which a vessel that is lifted off goes beyond."
        yield text, -LEAST_BELOW_G
    elif is_order_open(one, taken):
        yield "No load has needed a second byte, and it may stand on either side.", beyond
    elif quantity == "weight" and _may_be_one_byte(one):
        text = "No load has needed a second byte, and it may have none; a load below zero would tell."
        yield text, below_nought(float(np.abs(one.loads_of(one.levels)).max()))


def _may_be_one_byte(one: Fit) -> bool:
    """Say whether a number in steps so coarse that a byte is enough of them has only ever needed the lowest.

    The byte above it may be flags that have not been set, or the upper one of a number on its other side.
    """
    number = one.number
    if number.encoding != "integer" or number.width < 2 or number.mask or one.zero_kind != "none":
        return False
    if _ONE_BYTE / abs(one.per_unit) < LARGE_G:
        return False
    upper = one.kind.frames[:, sorted(number.covers - {number.lowest_at})]
    return not bool(upper[rows_in_place(one)].any())


def _may_have_no_sign(one: Fit) -> bool:
    """Say whether an integer of two bytes has never been below nought, so that its highest bit may count."""
    number = one.number
    is_short = number.encoding == "integer" and number.width == 2 and number.signed == "twos-complement"
    if not is_short or number.mask or one.zero_kind != "none":
        return False
    read = one.number.values(one.kind.frames[rows_in_place(one)])
    return not bool((read < -0.5 * one.grid).any())  # what is damaged is hardly in place


def _has_idle_bits(one: Fit) -> bool:
    """Say whether whole bytes have lowest bits that never change: a number packed in bits ends anywhere.

    What counts in tenths or hundredths goes in fours where a display's division is twenty of them.
    """
    number = one.number
    is_whole = number.encoding == "integer" and not number.mask and number.sign is None
    if not is_whole or one.zero_kind != "none" or (one.scale is not None and one.scale.cost < _UNUSUAL):
        return False
    says = number.values(one.kind.frames[rows_in_place(one)])
    return bool((says % _IDLE == 0).mean() > _STILL_BOTH)


def _has_still_beside(one: Fit, taken: frozenset[int]) -> bool:
    """Say whether a byte beside a number has always been nought: of an upper word, or a sign that is not set.

    A sign is one for plus as well, at times; before a number, so is the kind of a message.

    :param taken: places of its check, and of other numbers
    """
    number, frames = one.number, one.kind.frames
    first = 1 if one.kind.is_cut else 0  # where a frame begins
    beside = ((number.offset - 1, (0,)), (number.end, (0, 1)))
    return any(
        (frames[:, at] == code).mean() > _STILL_BOTH
        for at, codes in beside if first <= at < one.kind.length and at not in taken
        for code in codes
    )  # fmt: skip


def _of_copies(one: Fit, copies: Iterable[Fit]) -> frozenset[int]:
    """Give the places of other numbers that follow the loads, and of the bytes above each, needed or not."""
    own, kind = one.number.covers, one.kind
    found = frozenset[int]()
    for each in copies:
        is_beside = (each.kind.stream, each.kind.length) == (kind.stream, kind.length)
        if is_beside and not each.number.covers & own:
            number = each.number
            above = range(number.end - _WIDEST, number.offset), range(number.end, number.offset + _WIDEST)
            found |= number.covers | set(above[0] if number.order == "big" else above[1])
    return found - own


def _is_in_ounces(one: Fit) -> bool:
    return one.scale is not None and one.scale.unit in ("oz", "lb")


def may_have_finer_digits(one: Fit, loads: Sequence[Load], taken: frozenset[int]) -> bool:
    """Say whether a number goes in coarser steps than a scale's, and a byte below it may hold digits.

    What stays or is a flag holds no finer ones; nor does anything beside a float, which has all of its own,
    what is no text behind text, nor what leaves the loads as far off a line as they are without it.

    :param taken: places of its check
    """
    if one.step <= COARSEST_G or one.number.encoding == "float":
        return False
    number, frames = one.number, one.kind.frames
    below = {"big": {number.end}, "little": {number.offset - 1}}.get(
        number.order, {number.offset - 1, number.end}
    )
    if number.encoding == "ascii":
        below = {at for at in (number.end,) if at < one.kind.length and _are_of_text(frames[:, at])}
    tallies = {
        at: np.bincount(frames[:, at]) for at in below if 0 <= at < one.kind.length and at not in taken
    }
    return any(
        each.max() < _STILL_BOTH * len(frames) and (each > 0).sum() > FEW_CODES and _may_go_on(one, at, loads)
        for at, each in tallies.items()
    )


def _are_of_text(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte is a digit or a point as a rule."""
    return bool(np.isin(column, _OF_TEXT).mean() > _STILL)


def _may_go_on(one: Fit, at: int, loads: Sequence[Load]) -> bool:
    """Say whether coarse bytes may go on with one below: all loads are nearer a line with it, if it is."""
    number = one.number
    if number.encoding not in ("integer", "bcd") or number.mask:
        return True
    longer = replace(number, offset=min(at, number.offset), width=number.width + 1)
    again = fit(one.kind, longer, loads, "weight")
    return again is not None and again.worst < max(_NEARER * one.worst, _HARDLY_OFF * one.step)


def is_lowest_byte_still(one: Fit) -> bool:
    """Say whether the byte that should change most is nearly always the same, while the number moves."""
    number, frames = one.number, one.kind.frames
    if number.encoding not in ("integer", "bcd") or number.width < 2:
        return False
    if number.encoding == "bcd" and number.width > 2:
        first = number.end - 2 if number.order == "big" else number.offset
        lowest = frames[:, first : first + 2]
        if (lowest != np.median(lowest, axis=0)).any(axis=1).mean() < 1.0 - _STILL_BOTH:
            return True  # four digits that no load has needed, nor any on the way
    if number.encoding == "integer" and one.scale is not None and one.scale.scale.denominator not in _HALVED:
        return False  # that the whole counts roundly tells that it belongs to it
    above, place = number.highest_first[-2:]
    usual = np.bincount(frames[:, place]).max() / frames.shape[0]
    moving = np.bincount(frames[:, above]).max() / frames.shape[0]
    if number.encoding == "bcd" and (is_lowest_busy(one) or _is_needed(one)):
        return False
    return bool(usual > _STILL and moving < 0.8)


def _is_needed(one: Fit) -> bool:
    """Say whether digits have their lowest byte on the way, and no scale has such wide steps without it.

    At round loads it is nought, and a pan that settles at once is on the way in a few packets only.
    """
    if one.step * _OF_TWO_DIGITS <= COARSEST_G:
        return False
    lowest = one.kind.frames[:, one.number.lowest_at]
    moves = (lowest != np.bincount(lowest).argmax()) & on_way(one.kind)
    return np.unique(lowest[moves & rows_in_place(one)]).size >= _FEWEST_ON_WAY
