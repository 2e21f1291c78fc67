"""A sign that stands apart: a byte or a bit that is set when, and only when, the number is below nought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.neighbours import NOT_NEEDED
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.packets.arrays import without_single
from drivers.learn.signs.dips import Reflections
from drivers.learn.signs.flags import goes_far, is_bit_of_number, is_busy
from drivers.learn.signs.shown_signs import Shown
from drivers.learn.signs.sign_places import (
    is_carried,
    is_counted_over,
    is_far_from_nought,
    is_lesser_sign,
    is_set_at,
    is_top_of_signed,
    signs_at,
)
from drivers.learn.signs.signs_of_copies import Copies

_JUMPS, _MOST_JUMPS = 30.0, 4.0
"""What a sign costs with which the number goes further up and down than with another, for each share of its
way, and at most."""

_AS_FILLED = 0.98
"""Share of packets in which bytes of one number are filled alike."""

_AS_MUCH, _ONE_MORE, _NEAR = 0.9, 1, 2.0
"""Share of what is seen below nought by which two signs show the same, and packets; what it is worth to stand
beside."""

_AT_NOUGHT = 0.1
"""Share of the packets with a sign that say nought, by which one says so more often than another."""


class _Found(NamedTuple):
    """What may be a sign.

    :param score: how well it explains the number
    :param minus: packets in which it is set, shape (n,)
    """

    score: float
    sign: SignPlace
    minus: np.ndarray


def sign_apart(
    one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity, fewest: int, taken: frozenset[int]
) -> Fit | None:
    """Look for a byte or a bit that is set when, and only when, a number near zero is below it."""
    if one.zero_kind in ("odd", "round") and is_far_from_nought(one):
        return _below_own_nought(one, plain, loads, quantity, fewest, taken)
    shown = Shown.of(one, plain, loads, fewest, taken)
    clear, found = _found(shown)
    clear, found = (_not_of_copies(each, one, plain, taken) for each in (clear, found))
    beside = [each for each in found if each.sign.offset in shown.near]
    found = _shown_most(_least_at_nought(clear, beside, shown.steps), shown.reflections) or found
    if not found:
        return None
    return fit(one.kind, replace(plain, sign=_best_of(found, shown)), loads, quantity)


def _found(shown: Shown) -> tuple[list[_Found], list[_Found]]:
    """Give the signs that show clearly what lies below nought, and those that explain the number."""
    frames, plain, taken = shown.one.kind.frames, shown.plain, shown.taken
    clear: list[_Found] = []
    found: list[_Found] = []
    for place in shown.places():
        own = plain.own_bits(place)
        for sign in signs_at(frames, place, shown.plus, shown.fewest):
            minus = sign.is_negative(frames)
            if sign.mask & own or is_carried(frames, place, minus, plain.covers | taken):
                continue
            column, is_another = frames[:, place], place not in plain.covers
            if is_counted_over(column, minus) or (
                is_another and is_top_of_signed(column, minus, shown.fewest)
            ):
                continue
            if is_another and is_bit_of_number(column, sign.mask, is_close=shown.is_close(place)):
                continue
            where = 0.3 * (sign.mask == 0xFF) + 0.5 * (place in (plain.offset - 1, plain.end))
            where -= 0.4 * _is_upper_byte(frames, place, plain.covers | taken)
            if shown.are_clear(minus):
                # Another byte that stays from before a dip until behind it is set at the noughts there.
                at_nought = float((np.abs(shown.steps[minus]) < 0.5).mean())
                clear.append(_Found(where + _NEAR * (place in shown.near) - at_nought, sign, minus))
            if shown.is_none(place, sign, minus):
                continue
            score = shown.score(place, minus) + where
            if score > 0:
                found.append(_Found(score, sign, minus))
    return clear, found


def _best_of(found: list[_Found], shown: Shown) -> SignPlace:
    """Give the sign that explains most; with another number's upper byte the weight jumps."""
    known = [each.minus for each in found]
    found = [each for each in found if not is_lesser_sign(each.minus, known, shown.steps)]
    gone = [_gone(shown.values, each.minus) for each in found]
    jumps = [min(_JUMPS * (way / max(min(gone), 1e-9) - 1.0), _MOST_JUMPS) for way in gone]
    return found[int(np.argmax([each.score - jump for each, jump in zip(found, jumps, strict=True)]))].sign


def _below_own_nought(
    one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity, fewest: int, taken: frozenset[int]
) -> Fit | None:
    """Look for the sign of bare counts whose nought is far below that of the pan: few loads go through it."""
    if one.scale is not None or plain.encoding != "integer" or plain.mask:
        return None
    frames, at_rest = one.kind.frames, np.concatenate(one.kind.settled)
    reflections = Reflections(np.abs(plain.values(frames) / one.per_unit), one)
    clear: list[_Found] = []
    for place in range(one.kind.length):
        if place in taken or place in plain.covers or is_busy(frames[:, place]):
            continue
        for sign in signs_at(frames, place, at_rest, fewest):
            minus = sign.is_negative(frames)
            if not is_set_at(minus, at_rest, fewest) and reflections.are_clear(minus):
                clear.append(_Found(0.0, sign, minus))
    found = _shown_most(_not_of_copies(clear, one, plain, taken), reflections)
    return fit(one.kind, replace(plain, sign=found[0].sign), loads, quantity) if found else None


def _not_of_copies(found: list[_Found], one: Fit, plain: Number, taken: frozenset[int]) -> list[_Found]:
    """Leave out what is an end of a copy."""
    copies = Copies(one, plain, taken)
    return [each for each in found if not copies.have_end_at(each.sign.offset, each.minus)]


def _least_at_nought(clear: Sequence[_Found], beside: Sequence[_Found], steps: np.ndarray) -> list[_Found]:
    """Leave out what stays set at nought, where another one is not: a temperature, a clock, or a charge.

    Before the loads it may change once only, so that all that was below nought is set, and more besides.

    :param beside: others that explain the number, and stand beside it
    """
    with np.errstate(invalid="ignore"):
        shares = [float((np.abs(steps[each.minus]) < 0.5).mean()) for each in (*clear, *beside)]
    least = min(shares, default=0.0)
    return [each for each, share in zip(clear, shares, strict=False) if share <= least + _AT_NOUGHT]


def _shown_most(clear: Sequence[_Found], reflections: Reflections) -> list[_Found]:
    """Keep the signs that show about as much of what lies below nought as the one that shows most."""
    shown = [
        in_dips - elsewhere for in_dips, elsewhere in (reflections.shown_by(each.minus) for each in clear)
    ]
    most = max(shown, default=0)
    least = min(_AS_MUCH * most, most - _ONE_MORE)
    return [each for each, count in zip(clear, shown, strict=True) if count >= least]


def _gone(sizes: np.ndarray, minus: np.ndarray) -> float:
    """Give how far a number goes up and down altogether, with a sign; single ones astray are damage."""
    signed = np.where(minus, -sizes, sizes)
    steps = np.abs(np.diff(without_single(signed)))
    return float(steps[np.isfinite(steps)].sum())


def _is_upper_byte(frames: np.ndarray, place: int, taken: frozenset[int]) -> bool:
    """Say whether a byte may be an upper one of another signed number, a slower copy for instance.

    :param taken: places that belong to a check, or to the number whose sign it may be
    """
    if not np.isin(frames[:, place], NOT_NEEDED).mean() > _AS_FILLED or 0xFF not in frames[:, place]:
        return False
    for step in (-1, 1):
        at = place + step
        while 0 <= at < frames.shape[1] and (frames[:, at] == frames[:, place]).mean() > _AS_FILLED:
            at += step
        if 0 <= at < frames.shape[1] and at not in taken and goes_far(frames[:, at]):
            return True
    return False
