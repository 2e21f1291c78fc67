"""How far a number counts, and whether that is enough for what is weighed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.number import Number

LEAST_G = 999.0
"""What any scale can weigh, g: four digits of tenths, and no less."""

LEAST_BELOW_G = 300.0
"""What a server weighs that is tared and lifted off, g."""

LARGE_G = 2000.0
"""What most scales that are brewed with can weigh, g."""

_CUT_OFF, _FEWEST_ABOVE = 0.4, 6
"""Share of an empty pan's packets that say nought, and how many say two steps or more, where nothing below is
shown: of a noise that is shown on both sides so many would be below.
"""

COUNTED = ("integer", "bcd", "digits", "hex")
"""Encodings of which each byte adds room: texts and floats have any."""

_REACH = {"weight": (1.5, 3000.0), "temperature": (2.0, 350.0)}
"""What an instrument can say: times the largest load, and at least, g or °C."""

_ROUNDING = 1e-9
"""Of shares of packets."""


def most_counts(one: Fit, loads: Sequence[Load], quantity: Quantity) -> float:
    """Give how many counts an instrument of this kind must be able to say."""
    times, least = _REACH[quantity]
    reach = max(times * max(abs(load.value) for load in loads), least)
    return reach * abs(one.per_unit) + abs(one.zero if one.zero_kind != "half" else 0.0)


def largest_count(number: Number) -> float:
    """Give the largest count that a number can say with a sign, or in digits."""
    if number.encoding in ("bcd", "digits"):
        return 10.0 ** (number.width * (2 if number.encoding == "bcd" else 1)) - 1
    if number.encoding == "hex":
        return 16.0**number.width / 2
    return 2.0 ** (8 * number.width - 1)


def reaches(one: Fit) -> float:
    """Give how far a number counts: to the end of its range, where its nought is near the middle of that."""
    number = one.number
    if number.encoding == "integer" and not number.signed and one.zero > 2.0 ** (8 * number.width - 2):
        return 2.0 ** (8 * number.width)
    return largest_count(number)


def capacity(one: Fit) -> float:
    """Give the largest load that the chosen number has room for, g or °C; infinite for text and floats."""
    number = one.number
    if number.encoding not in COUNTED:
        return math.inf
    least, most = _ends_of(number)
    return (most - one.zero if one.per_unit > 0 else one.zero - least) / abs(one.per_unit)


def has_room(one: Fit) -> bool:
    """Say whether bare counts have room for what any scale can weigh: else they go on, whatever is there."""
    return not one.is_bare or (capacity(one) >= LEAST_G and room_below(one) >= LEAST_BELOW_G)


def _ends_of(number: Number) -> tuple[float, float]:
    """Give the least count that a number can say, and the largest or the one beyond it."""
    if number.encoding != "integer":
        return 0.0, largest_count(number)
    bits = number.mask.bit_length() if number.mask else 8 * number.width
    return (-(2.0 ** (bits - 1)), 2.0 ** (bits - 1)) if number.signed else (0.0, 2.0**bits)


def room_below(one: Fit) -> float:
    """Give how far below nothing the chosen number goes, g or °C; infinite where it may have a sign apart."""
    number = one.number
    if number.encoding != "integer" or number.mask or number.sign is not None:
        return math.inf
    least, most = _ends_of(number)
    return (one.zero - least if one.per_unit > 0 else most - one.zero) / abs(one.per_unit)


def with_room(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the sign off bare counts that have no room for a heavy load with it: they begin anywhere."""
    return _with_room(one, "", loads, quantity) if one.number.signed else one


def without_sign_below_nought(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the sign off a number that needs the bit for heavy loads, where it shows nought for all below."""
    number = one.number
    is_customary = number.encoding == "integer" and number.signed == "twos-complement" and not number.mask
    if not is_customary or quantity != "weight" or capacity(one) >= LARGE_G or not _is_cut_off(one):
        return one
    return fit(one.kind, replace(number, signed=""), loads, quantity) or one


def _is_cut_off(one: Fit) -> bool:
    """Say whether the noise of an empty pan ends at nought, with all of the lower half of it there."""
    if one.zero_kind != "none":
        return False
    at_rest = (one.number.values(one.kind.frames[rows]) for rows in one.kind.settled)
    return any(
        bool((said >= 0.0).all() and (said == 0.0).mean() > _CUT_OFF)
        and int((said >= 2.0 * one.grid).sum()) >= _FEWEST_ABOVE
        for said in at_rest
    )


def with_room_below(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take bare counts without room for a heavy load as counts below nought, where they have it so."""
    return one if one.number.signed else _with_room(one, "twos-complement", loads, quantity)


def _with_room(one: Fit, signed: str, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Read bare counts without room for a heavy load with another sign, where they have it so."""
    number = one.number
    if number.encoding != "integer" or number.mask or has_room(one):
        return one
    sign = number.sign if signed else None
    other = fit(one.kind, replace(number, signed=signed, sign=sign), loads, quantity)
    is_as_good = other is not None and other.inside >= one.inside - _ROUNDING
    return other if other is not None and is_as_good and has_room(other) else one
