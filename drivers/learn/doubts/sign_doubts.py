"""Whether a number may have a sign that has not been understood: what speaks for one, and for none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.neighbours import beside
from drivers.learn.numbers.number import SignPlace
from drivers.learn.packets.arrays import Floats
from drivers.learn.packets.kinds import is_header_like
from drivers.learn.signs.below_zero import has_been_negative, has_own_sign
from drivers.learn.signs.crossings import turns_on_way
from drivers.learn.signs.dips import Reflections
from drivers.learn.signs.flags import FEW_CODES, goes_far, in_steps, only_counts
from drivers.learn.signs.rare_signs import is_in_order, is_written
from drivers.learn.signs.sign_places import (
    flickers,
    goes_on_slowly,
    is_counted_over,
    is_far_from_nought,
    times_set,
)

_FEWEST, _EXACT, _NEAR_STEPS = 2, 8, 10.0
_FEWEST_FAR, _OF_MINUS, _MOST_LOST = 4, 0.03, 0.01
_BOTH_WAYS = 0.1
"""Small numbers not below nought for each below it, at least."""

_MIXED, _COMES = 0.1, 0.03
"""Share of noughts with a bit that is there at some of them only; how often it comes, of all near nought."""

_AT_MOST_NOUGHTS = 0.7
"""Share of noughts from which on what is set there may tell that the pan is empty."""

_OFTEN = 3
"""Packets with a byte of flags that is no damage."""

_CHANCE, _FEWEST_TIMES = 1e-5, 3
"""How likely it is at most that something else is set at small numbers alone, and how often it must come."""

_TEXT = frozenset(b"\t\r\n") | frozenset(range(0x20, 0x7F))

_DAMAGED = 0.25
"""Share of the packets with a bit set that may be damaged ones."""


def may_be_sign(one: Fit, fewest: int = _FEWEST, taken: frozenset[int] = frozenset()) -> bool:
    """Say whether a byte beside a number without sign is another one near zero, and only there.

    :param fewest: packets that make it look so
    :param taken: places of a check, which holds for all of them
    """
    number, frames = one.number, one.kind.frames
    if number.encoding == "float" or number.sign is not None or one.zero_kind == "half":
        return False  # a float has its own as a rule: what is not clearly another one leaves no doubt
    if number.encoding == "ascii" and has_own_sign(one, fewest):
        return False
    if one.zero_kind in ("odd", "round") or (number.signed and has_been_negative(one, fewest)):
        return False
    values = np.abs(one.loads_of(number.values(frames)))
    near = values <= 0.12 * one.span + 4.0 * one.noise_units
    if near.all():
        return False
    reach = 3.0 * one.step + 6.0 * one.noise_units
    for level in np.abs(one.loads_of(one.levels)):
        if level > 2.0 * reach:
            near &= np.abs(values - level) > reach  # a small load is none below nought
    below_step = values < 0.5 * one.step
    for place in beside(number, frames):
        column = frames[:, place]
        if goes_on_slowly(column) or only_counts(column):
            continue
        usual = int(np.bincount(column[~near], minlength=256).argmax())
        tally = np.bincount(column[column != usual], minlength=256)
        tally[tally < fewest] = 0  # damage
        other = column == int(tally.argmax())
        often = int(other.sum())
        if often < fewest or often < 0.6 * tally.sum() or (column[~near] == usual).mean() < 0.95:
            continue
        if often == 1 and not is_in_order(one, int(np.flatnonzero(other)[0]), place, taken):
            continue  # a check of one byte lets it pass
        if often == 1 and _is_damaged(one, other, values):
            continue
        small = near & ~below_step
        if (other & small).sum() >= 0.8 * often or _is_on_one_side(other, small, below_step, values):
            return True
    close = values <= 0.01 * one.span + 8.0 * (one.step + one.noise_units)
    return not close.all() and _may_be_flag(one, close, below_step, fewest, taken)


def _is_damaged(one: Fit, other: np.ndarray, sizes: Floats) -> bool:
    """Say whether the one packet with another byte goes on with those beside it, or they rest far above it.

    Nothing goes through nought from there and back in one packet.
    """
    at, near = int(np.flatnonzero(other)[0]), 3.0 * one.step + 6.0 * one.noise_units
    before, behind = sizes[max(at - 1, 0)], sizes[min(at + 1, len(sizes) - 1)]
    least = min(before, behind)
    if turns_on_way(np.abs(one.number.values(one.kind.frames)), other, one):
        return bool(sizes[at] < 2.0 * least)  # a pan that comes to rest swings below nought
    return bool(abs(behind - before) <= near and least > sizes[at] + near)


def _is_on_one_side(other: np.ndarray, small: np.ndarray, nought: np.ndarray, sizes: Floats) -> bool:
    """Say whether a byte is another one at some small numbers, and not at others that are as small.

    So is a sign that is shown of what rounds to nought as well. What tells an empty pan is set at most of
    those.

    :param small: packets near nought, and not at it
    """
    known = other & small
    if min(known.sum(), (nought & ~other).sum()) <= _FEWEST or (other & ~small & ~nought).any():
        return False
    others = small & ~other & (sizes <= sizes[known].max())
    return bool(others.sum() > _FEWEST and other[nought].mean() < _AT_MOST_NOUGHTS)


def _may_be_flag(
    one: Fit, near: np.ndarray, below_step: np.ndarray, fewest: int, taken: frozenset[int]
) -> bool:
    """Say whether a bit anywhere is another one near nought only, and never at nought itself.

    :param fewest: 1 where no packet is damaged
    """
    taken = one.number.covers | taken
    is_clean = fewest == 1
    for place in range(one.kind.length):
        column = one.kind.frames[:, place]
        if place in taken or goes_far(column, FEW_CODES) or goes_on_slowly(column):
            continue
        for bit in range(8):
            bits = (column >> bit & 1).astype(bool)
            other = bits != (bits[~near].mean() > 0.5)
            if is_counted_over(column, other):
                continue
            often = int(other.sum())
            if often == 1 and _is_one_step_below(one, place, other, below_step, taken, is_clean=is_clean):
                return True
            if times_set(other) < 2:
                continue  # a sign comes and goes
            alike = int(np.bincount(column[other]).max(initial=0))  # what is damaged differs
            if alike < (_FEWEST if is_clean else _FEWEST + 1):
                continue
            few = 0.0 if is_clean else _DAMAGED * often
            if int((other & (~near | below_step)).sum()) <= few:
                return True
            if (other & ~near).sum() <= few and _is_mixed(other, near, below_step):
                return True
    return False


def _is_mixed(other: np.ndarray, near: np.ndarray, below_step: np.ndarray) -> bool:
    """Say whether a bit comes and goes near nought, and is there at some noughts only.

    So does the sign of what has not been rounded yet.
    """
    if not below_step.any() or not _MIXED < float(other[below_step].mean()) < 1.0 - _MIXED:
        return False
    comes = int((np.diff(other[near].astype(np.int8)) > 0).sum())
    return bool((other & near & ~below_step).sum() >= _FEWEST and comes >= _COMES * near.sum())


def _is_one_step_below(
    one: Fit, place: int, other: np.ndarray, below_step: np.ndarray, taken: frozenset[int], *, is_clean: bool
) -> bool:
    """Say whether the one packet with a bit set is in order else, and a step or two from nought."""
    at = int(np.flatnonzero(other)[0])
    frames = one.kind.frames
    size = abs(float(one.loads_of(one.number.values(frames[at : at + 1]))[0]))
    if below_step[at] or not size <= 3.5 * one.step or one.noise_units > 3.0 * one.step:
        return False
    # What has come once only may be damaged; but not where a single bit differs from what is usual.
    tally = np.bincount(frames[:, place])
    if not is_clean and place == 0 and is_header_like(int(tally.argmax())):
        return False
    if not is_clean and (tally >= _OFTEN).sum() == 1 and _is_written(one):
        return False
    often = np.flatnonzero(tally >= (_OFTEN if is_clean else tally.max())).tolist()
    if len(often) > 1 and {int(frames[at, place]) - 1, int(frames[at, place]) + 1} & set(often):
        return False  # a value that changes slowly
    return is_in_order(one, at, place, taken) and any(
        (int(frames[at, place]) ^ code).bit_count() == 1 for code in often
    )


def _is_written(one: Fit) -> bool:
    """Say whether packets are text throughout: a sign is written there, and no bit of a letter or a comma."""
    usual = (int(np.bincount(column).argmax()) for column in one.kind.frames.T)
    return one.number.encoding == "ascii" and all(byte in _TEXT for byte in usual)


def is_sign_weak(one: Fit, loads: Sequence[Load], fewest: int = _EXACT) -> bool:
    """Say whether a sign that was found may be something else: no load was below zero to show it.

    :param fewest: packets below zero that show it; fewer than usual where none is damaged
    """
    sign, frames = one.number.sign, one.kind.frames
    if sign is None or is_written(sign) or min(load.value for load in loads) < 0:
        return False
    in_dips = _FEWEST if fewest == _EXACT else 1
    minus, size, far = _below_zero(one, sign, in_dips)
    if Reflections(size, one).are_clear(minus, in_dips):
        return False
    rest = frames[:, sign.offset] & ~np.uint8(sign.mask)
    varied = sign.offset not in one.number.covers and np.bincount(rest).max() < 0.9 * rest.size
    if far.sum() >= max(_FEWEST_FAR, _OF_MINUS * minus.sum()) or (
        varied and not _is_seen_below(in_steps(size, one.step), minus, fewest)
    ):
        return True
    # What is set at every small number, nought among them or not, may be a flag that says so.
    steps = np.round(in_steps(size, one.step))
    small = steps <= np.median(steps[minus]) if minus.any() else minus
    is_lopsided = (small & ~minus).sum() < _BOTH_WAYS * (small & minus).sum()
    return bool(is_lopsided and not _comes_beside_nought(steps, minus))


def _comes_beside_nought(steps: Floats, minus: np.ndarray) -> bool:
    """Say whether a sign comes and goes between a step or so and nought, and is never set at that.

    A pan that rests a step below nought shows so; what says that it is small would be set at nought as well.
    """
    nought = steps == 0
    return bool(nought.sum() >= _EXACT and not (minus & nought).any() and _comes(minus) >= _EXACT)


def without_chance_sign(one: Fit, clean: Fit | None, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take a sign off that is none: no load was below zero, and it is set at nought, or far from it.

    :param clean: the same in undamaged packets, where those are known
    """
    sign = one.number.sign
    if sign is None or is_written(sign) or min(load.value for load in loads) < 0:
        return one
    seen = one if clean is None else clean
    minus, size, far = _below_zero(seen, sign, _FEWEST if clean is None else 1)
    with np.errstate(invalid="ignore"):
        nought = size < 0.5 * one.step
    is_mostly_nought = (minus & nought).sum() > 0.5 * minus.sum() and not flickers(
        in_steps(size, one.step), minus
    )
    if is_mostly_nought:
        # Minus nought is shown for what rounds to it.
        is_mostly_nought = _comes(minus) < _FEWEST or not Reflections(size, seen).are_clear(minus)
    if far.sum() < max(_FEWEST_FAR, 0.1 * minus.sum()) and not is_mostly_nought:
        return one
    bare = replace(one.number, sign=None)
    signed = replace(bare, signed="twos-complement" if bare.encoding == "integer" else "")
    fits = (fit(one.kind, number, loads, quantity) for number in (signed, bare))
    return next((each for each in fits if each is not None and each.inside > one.inside - _MOST_LOST), one)


def _comes(minus: np.ndarray) -> int:
    """Count how often a sign comes."""
    return int((np.diff(minus.astype(np.int8)) > 0).sum())


def _below_zero(one: Fit, sign: SignPlace, fewest: int) -> tuple[np.ndarray, Floats, np.ndarray]:
    """Which packets say below zero, the sizes of all, and which of those below are too far from nought.

    A pan that has been emptied swings far below; then it goes through nought each time that the sign changes.

    :param fewest: packets that show a sign; 1 where none is damaged
    """
    minus = sign.is_negative(one.kind.frames)
    values = one.number.values(one.kind.frames)
    size = np.abs(values / one.per_unit if is_far_from_nought(one) else one.loads_of(values))
    with np.errstate(invalid="ignore"):
        far = minus & (size > 0.12 * one.span + 4.0 * one.noise_units)
    if Reflections(size, one).are_clear(minus, fewest):
        far[:] = False
    return minus, size, far


def _is_seen_below(steps: np.ndarray, minus: np.ndarray, fewest: int) -> bool:
    """Say whether a sign has come and gone again around nought, and never at nought itself.

    A few times are enough where it has not come elsewhere by chance: damage, or a flag of something else,
    would be set at noughts and at loads as well.
    """
    steps = np.round(steps)
    near = steps < _NEAR_STEPS
    below, nought = minus & near & (steps > 0), near & (steps == 0)
    above = near & ~minus & (steps > 0)
    chance = ((below.sum() + above.sum()) / len(steps)) ** below.sum()
    if chance < _CHANCE and _comes(minus) >= _FEWEST_TIMES and not (minus & ~below).any() and above.any():
        return True
    return bool(
        min(below.sum(), above.sum() + nought.sum()) >= fewest
        and ((minus & nought).sum() <= 0.02 * nought.sum() or flickers(steps, minus))
    )
