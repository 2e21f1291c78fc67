"""Numbers that say no more than others of the same bytes: with digits of the next field, or such."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.carried import is_carried
from drivers.learn.numbers.decimals import are_sizes_told
from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit
from drivers.learn.numbers.halves import are_halves
from drivers.learn.numbers.last_digits import is_own, may_be_own
from drivers.learn.numbers.number import Number
from drivers.learn.numbers.scales import is_halved

_PLACED = ("integer", "bcd", "ascii")
_FEW_CODES, _FEW_MOVING, _HALVED = 3, 3, 2e-4
_HOLDS = 0.985
"""Share of the packets of one kind that hold the load: damaged ones do not."""

_AS_A_RULE, _CLEARLY_MORE = 0.6, 0.01

_ALMOST = 0.002
"""Share of packets by which damage alone makes a number with fewer bits seem better."""

_WRAPPED = 0.004
"""The same by which a number with fewer bits is worse because it has too few."""

_FAST, _MORE_OFTEN = 3.0, 0.3
"""Steps between two packets of a load that moves; how much more often digits of its own change then."""

_BUSY = 5
"""Values of a lowest byte of digits of which the last is always nought: ten, and not all of them seen."""

_POINTS = (0x2E, 0x2C)

_AS_COARSE = 0.99
"""Steps of a number with fewer digits, of which one with more goes in so wide ones that those add nothing."""

_SMOOTH, _FINE_ENOUGH, _MORE = 1.15, 0.12, 1.15

_JUMPING = 2.0
"""How much further up and down than all of its digits the first ones go that have a sign which is none."""


def without_longer_frames(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out frames that take in the next message, where the same number is in more that are shorter.

    What goes up and down in the shorter ones is two numbers in turn, and each longer one holds both.
    """
    counts: dict[tuple[object, ...], list[tuple[int, float, float]]] = {}

    def key(one: Fit) -> tuple[object, ...]:
        return one.kind.stream, one.number, one.scale

    for one in fits:
        if one.kind.is_cut and not one.kind.terminator and one.inside > 0.9:
            counts.setdefault(key(one), []).append(
                (one.kind.length, len(one.kind.frames) * one.inside, one.path)
            )

    def is_longer(one: Fit) -> bool:
        count = len(one.kind.frames) * one.inside
        return one.kind.is_cut and not one.kind.selectors and any(
            length < one.kind.length and often > _MORE * count and path <= _SMOOTH * one.path
            for length, often, path in counts.get(key(one), [])
        )  # fmt: skip

    return [one for one in fits if not is_longer(one)]


def without_narrower_kinds(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out packets picked out by a byte where another picks out the same and more that hold the load.

    What it picks out besides must hold the load as a rule, and go on with it: a few that do are chance, or
    damaged.
    """
    picked: dict[tuple[object, ...], list[Fit]] = {}
    for one in fits:
        if one.kind.selectors and one.inside > _HOLDS:
            picked.setdefault((id(one.kind.whole), one.number, one.scale), []).append(one)

    def is_narrower(one: Fit) -> bool:
        return bool(one.kind.selectors) and any(
            _picks_more(each, one)
            for each in picked.get((id(one.kind.whole), one.number, one.scale), [])
        )  # fmt: skip

    return [one for one in fits if not is_narrower(one)]


def _picks_more(wider: Fit, one: Fit) -> bool:
    """Say whether a byte picks out the packets that another does, and clearly more of the same kind."""
    more = len(wider.kind.frames) - len(one.kind.frames)
    held = len(wider.kind.frames) * wider.inside - len(one.kind.frames) * one.inside
    if (
        held <= max(_CLEARLY_MORE * len(one.kind.frames), _AS_A_RULE * more)
        or wider.path > _SMOOTH * one.path
    ):
        return False
    return bool(np.isin(one.kind.time_s, wider.kind.time_s).mean() > _HOLDS)


def without_idle_bytes(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers in halvings or digits that tell no more than without their lowest bytes."""
    roundly: dict[tuple[object, ...], list[Fit]] = {}
    for one in fits:
        if one.scale is not None and not is_halved(one.scale) and one.number.encoding in _PLACED:
            roundly.setdefault((id(one.kind), one.number.encoding, one.number.order), []).append(one)

    def is_idle(one: Fit) -> bool:
        shorter = roundly.get((id(one.kind), one.number.encoding, one.number.order), [])
        return any(
            _adds_nothing(one, each) for each in shorter
            if _goes_on(one.number, each.number) and each.path < _JUMPING * max(one.path, 1.0)
        )  # fmt: skip

    return [one for one in fits if not is_idle(one)]


def _goes_on(number: Number, shorter: Number) -> bool:
    """Say whether a number holds another one and more."""
    if number.encoding == "ascii":  # what stands before it is blank
        return number.offset < shorter.end < number.end
    return number.covers > shorter.covers


def _adds_nothing(one: Fit, shorter: Fit) -> bool:
    """Say whether a number tells no more than a shorter one, which ends one or some bytes before it."""
    if one.number.lowest_at in shorter.number.covers:
        return False
    if one.number.encoding == "bcd" and one.step > _AS_COARSE * shorter.step:
        return _is_lowest_idle(one)
    if one.step > 0.2 * shorter.step:
        return False
    if one.scale is None and _is_power_of_two(one.slope):
        return shorter.worst < 0.1 * shorter.step
    if one.scale is None:
        is_as_good = shorter.worst < one.worst + 0.5 * shorter.step
        # The upper bytes of bare counts are no multiples of anything.
        return is_as_good and (shorter.step < _FINE_ENOUGH or shorter.grid > 1.0)
    if is_halved(one.scale):
        is_as_good = shorter.worst < one.worst + 0.1 * shorter.step
        return is_as_good and not is_carried(one, abs(one.number.lowest_at - shorter.number.lowest_at))
    if one.number.encoding == "ascii":
        more = _digits_behind(one, shorter)
        if not all(may_be_own(shorter, place) for place in more):
            return True
        is_exact = shorter.worst < 0.02 * shorter.step and shorter.spreads.max() == 0.0
        is_exact &= shorter.cost < one.cost + 0.3
        is_exact &= one.worst > shorter.worst and _adds_digits(one, shorter)
        return is_exact and not any(is_own(shorter, place) for place in more)
    if one.number.encoding != "bcd" or shorter.step > 1.0:
        return False
    is_as_good = _off_round(shorter) < _off_round(one) + 0.2 * shorter.step and one.noise_units > (
        shorter.noise_units - 0.1 * shorter.step
    )
    return is_as_good and _is_lowest_idle(one) and not are_halves(one)


def _is_lowest_idle(one: Fit) -> bool:
    """Say whether the lowest byte is a few things only, also while the load moves: a sign, or a state."""
    codes = np.bincount(one.kind.frames[:, one.number.lowest_at])
    return int((codes >= 2).sum()) <= _FEW_CODES and not is_lowest_busy(one)


def _digits_behind(one: Fit, shorter: Fit) -> list[int]:
    """Give the places of the digits that a text has behind the end of a shorter one."""
    behind = range(shorter.number.end, one.number.end)
    return [place for place in behind if np.isin(one.kind.frames[:, place], _POINTS).mean() < 0.5]


def _off_round(one: Fit) -> float:
    """Give how far loads are off at most what the round scale says: a free line may take that in."""
    return one.worst + abs(one.slope / one.per_unit - 1.0) * float(np.abs(one.levels - one.zero).max()) / abs(
        one.slope
    )


def _is_power_of_two(slope: float) -> bool:
    """Say whether a factor that is not round is one of halvings, as a byte of another field makes it."""
    exponent = np.log2(abs(slope))
    return bool(exponent > 4.0 and abs(exponent - round(exponent)) < _HALVED)


def is_lowest_busy(one: Fit) -> bool:
    """Say whether the lowest byte is many things while the load moves, as the digits of a weight are."""
    number = one.number
    offset = number.offset + (number.order == "little")
    upper = replace(number, offset=offset, width=number.width - 1, mask=number.mask >> 8, sign=None)
    above = upper.values(one.kind.frames)
    rest = [float(np.nanmedian(above[rows])) for rows in one.kind.settled]
    with np.errstate(invalid="ignore"):
        moves = (above > min(rest)) & (above < max(rest))
        for level in rest:
            moves &= np.abs(above - level) > 1.0
    lowest = one.kind.frames[moves, number.lowest_at]
    return bool(lowest.size >= _FEW_MOVING and np.unique(lowest).size > min(0.6 * lowest.size, _BUSY))


def _adds_digits(one: Fit, shorter: Fit) -> bool:
    """Say whether a text that begins like a shorter one goes on with the digits of another number.

    They are something else at most loads, and stay what they are while the load moves. What goes on with a
    point is one number.
    """
    frames, begins, ends = one.kind.frames, shorter.number.end, one.number.end
    if np.isin(frames[:, begins:ends], _POINTS).any(axis=1).mean() > 0.5:
        return False
    says = shorter.number.values(frames)
    more = one.number.values(frames) - says
    apart = [abs(float(np.nanmedian(more[rows]))) > 1e-9 for rows in one.kind.settled]
    if sum(apart) <= 0.5 * len(apart):
        return False
    others = (np.diff(frames[:, begins:ends].astype(np.int16), axis=0) != 0).any(axis=1)
    with np.errstate(invalid="ignore"):
        moves = np.abs(np.diff(says)) > _FAST * shorter.step
    # The last packet before a silence stands for several: none follows on itself.
    rests = np.concatenate([rows[:-1][np.diff(rows) == 1] for rows in one.kind.settled])
    turn_at_rest = float(others[rests].mean()) if rests.size else 0.0
    return bool(moves.sum() >= _FEW_MOVING and others[moves].mean() < turn_at_rest + _MORE_OFTEN)


def without_needless_masks(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers below flags where the same bytes are as good with all their bits."""
    plain: dict[tuple[object, ...], Fit] = {}
    for one in fits:
        if one.number.encoding == "integer" and not one.number.mask:
            key = _same_bits(one)
            if key not in plain or one.inside > plain[key].inside:
                plain[key] = one

    def is_needless(one: Fit) -> bool:
        whole = plain.get(_same_bits(one)) if one.number.mask else None
        if whole is None:
            return False
        # What swings furthest wraps where a bit is left out that belongs to it.
        as_good = -_ALMOST if whole.zero_kind in KNOWN_ZEROS else _WRAPPED
        return whole.inside >= one.inside + as_good

    return [one for one in fits if not is_needless(one)]


def _same_bits(one: Fit) -> tuple[object, ...]:
    return id(one.kind), one.number.encoding, one.number.offset, one.number.width, one.number.order, one.scale


def without_marks_above(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers with a nought of their own that begin at nought without their highest bytes.

    Those stay what they are: digits or bits of something else that stands before the number.
    """
    plain: dict[tuple[object, ...], list[Fit]] = {}

    def key(one: Fit) -> tuple[object, ...]:
        return id(one.kind), one.number.encoding, one.number.order, one.number.lowest_at, one.scale

    for one in fits:
        if one.scale is not None and one.zero_kind in KNOWN_ZEROS and not one.number.mask:
            plain.setdefault(key(one), []).append(one)

    def has_mark(one: Fit) -> bool:
        return one.zero_kind == "round" and any(
            each.number.covers < one.number.covers and each.worst < one.worst + 0.5 * one.step
            for each in plain.get(key(one), [])
        )

    return [one for one in fits if not has_mark(one)]


def without_needless_decimals(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers with counted decimals where the same bytes are as good without."""
    plain = {
        (id(one.kind), one.number.offset, one.number.width, one.number.order) for one in fits
        if one.number.decimals_at < 0 and one.scale is not None and one.path < _SMOOTH and one.inside > 0.97
    }  # fmt: skip
    return [
        one for one in fits
        if one.number.decimals_at < 0
        or (are_sizes_told(one)
        and (id(one.kind), one.number.offset, one.number.width, one.number.order) not in plain)
    ]  # fmt: skip
