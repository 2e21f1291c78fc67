"""Where a sign may stand apart from its number, and how well one explains what the number says."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.number import SignPlace
from drivers.learn.signs.flags import in_steps

EXACTLY = 10.0
"""What a sign scores more that comes below nought, and only there."""

_NEGATIVE_NOUGHT = 0.7
"""Share of noughts with a sign, from which on it is hardly one: minus nought is shown now and then."""

_EXACT = 8
"""Packets with a sign that are enough where the same sizes have not been seen without it."""

_SMALL, _FEWEST_SMALL, _OFTEN, _SELDOM = 3.5, 4, 0.1, 0.15
"""Steps of an empty pan's noise; how often it shows either sign at least; how often that changes, of those
packets; and the share of noughts, and of small numbers, with either sign at least."""

_FAR_OFF = 0.02
"""Share of the counts between loads by which those of an empty pan are far from nought."""

_FEWEST_NOUGHTS, _HALF_OF_NOUGHTS, _SIGMAS = 8, 0.5, 4.0
"""Packets at nought, and a step or two from it, that tell how often a flag is set there; share of noughts;
standard uncertainties by which two shares differ."""

_LEAST_NUMBER, _UNDAMAGED, _ALIKE_BITS, _NEARLY_ALWAYS = 8, 3, 3, 0.99
"""What two codes that follow on each other are at least, as they rather count something; packets with a code
that is no damage; upper bits of a number that are alike as long as it is small; and the share of packets in
which they are, but for damage."""

_MOSTLY = 0.7
"""Share of the packets that one sign knows and another does not, that are near nought."""

_CLEARLY_MORE, _FEW_STEPS, _AT_NOUGHT, _DAMAGED = 6, 40.5, 0.1, 0.01
"""Packets that one sign knows and another does not; steps of a number that a copy shows as nought; shares of
the packets with a sign that say nought, and that damage explains."""

_FEWEST_TURNS, _WRAPS, _NEARLY_ALL = 2, 160, 0.8
"""Changes of a byte, how far the lower one beside it goes at each, and the share of them that are alike."""

_AT_TIMES = 0.5
"""Share of packets in which another number is below nought, at most."""

_CARRIED = 0b111
"""Bits that turn as a value goes by one, at least, where those are no two codes."""


def times_set(minus: np.ndarray) -> int:
    """Count how often a flag comes; once where it is there from the first packet on."""
    return int((np.diff(minus.astype(np.int8), prepend=0) > 0).sum())


def is_far_from_nought(one: Fit) -> bool:
    """Say whether an empty pan's counts are far from nought, with which a sign of the counts goes."""
    return abs(one.zero) > _FAR_OFF * float(np.ptp(one.levels))


def is_carried(frames: np.ndarray, place: int, minus: np.ndarray, covers: frozenset[int]) -> bool:
    """Say whether a byte goes up when, and only when, the one beside it wraps: it is its upper byte.

    Unless the one on the other side does so as well: that is the upper one then, of a copy below nought.

    :param minus: packets in which what may be a sign is set
    :param covers: places of the number, whose own bytes may well wrap below nought, and of its check
    """
    turns = np.flatnonzero(np.diff(minus.astype(np.int8)))
    if turns.size < _FEWEST_TURNS:
        return False
    up = np.diff(frames[:, place].astype(np.int16))[turns]
    for at in {place - 1, place + 1} - covers:
        if 0 <= at < frames.shape[1]:
            goes = np.diff(frames[:, at].astype(np.int16))
            wraps = np.abs(goes) > _WRAPS
            are_carried = wraps[turns] & (up == -np.sign(goes[turns]))
            if are_carried.mean() > _NEARLY_ALL and wraps.sum() < 2 * turns.size:
                return not _goes_on_beyond(frames, 2 * at - place, goes[turns], turns)
    return False


def _goes_on_beyond(frames: np.ndarray, place: int, goes: np.ndarray, turns: np.ndarray) -> bool:
    """Say whether a byte goes up or down by one, from FF to nought too, as the one beside it wraps.

    :param goes: how far the one beside it goes at each turn, shape (m,)
    :param turns: after which packets
    """
    if not 0 <= place < frames.shape[1]:
        return False
    up = np.diff(frames[:, place]).astype(np.int8)[turns]
    return bool((up == -np.sign(goes)).mean() > _NEARLY_ALL)


def is_counted_over(column: np.ndarray, minus: np.ndarray) -> bool:
    """Say whether what may be a sign is a bit of a value that goes by one, with which those below it turn.

    One and two are codes for a plus and a minus as well.

    :param minus: packets in which what may be a sign is set
    """
    turns = np.flatnonzero(np.diff(minus.astype(np.int8)))
    if turns.size < _FEWEST_TURNS:
        return False
    before, behind = column[turns].astype(np.int16), column[turns + 1].astype(np.int16)
    turned = before ^ behind
    return bool(((np.abs(behind - before) == 1) & (turned >= _CARRIED)).mean() > _NEARLY_ALL)


def may_be_rounded(frames: np.ndarray, place: int, sign: SignPlace) -> bool:
    """Say whether what may be a sign is the last bit of a larger number, and flickers as that is rounded."""
    return sign.mask == 1 and bool((frames[:, place] > 1).mean() > 0.5)


def goes_on_slowly(column: np.ndarray) -> bool:
    """Say whether a byte is one of two numbers that follow on each other, of which several bits differ.

    So is a temperature that has risen by one; a flag is one bit, and what names a sign differs by more.
    """
    often = np.flatnonzero(np.bincount(column) >= _UNDAMAGED)
    if often.size != 2 or often[1] - often[0] != 1 or often[0] < _LEAST_NUMBER:
        return False
    return int(often[0] ^ often[1]).bit_count() > 1


def is_top_of_signed(column: np.ndarray, minus: np.ndarray, fewest: int) -> bool:
    """Say whether a byte is the upper one of another signed number, which is below nought at times.

    Several of its upper bits are always alike then, and those below them go on while they are set: what may
    be a sign is set in all of those packets, or in such as are a little below nought.

    :param minus: packets in which what may be a sign is set, shape (n,)
    :param fewest: packets that show a value; 1 where none is damaged
    """
    upper = column >> (8 - _ALIKE_BITS)
    are_alike = np.isin(upper, (0, (1 << _ALIKE_BITS) - 1))
    is_full = upper > 0
    if are_alike.mean() < _NEARLY_ALWAYS or (minus & ~is_full).mean() > _DAMAGED:
        return False
    if is_full.mean() > _AT_TIMES:
        return False  # those bits are flags, or stay
    return bool((np.bincount(column[is_full]) >= fewest).sum() > 1)


def signs_at(frames: np.ndarray, place: int, sure_plus: np.ndarray, fewest: int) -> list[SignPlace]:
    """Give what in one byte may be a sign: a code, or a bit.

    :param sure_plus: packets that are above nought
    :param fewest: packets that show a sign; 1 where none is damaged
    """
    column = frames[:, place]
    if goes_on_slowly(column):
        return []
    tally = np.bincount(column, minlength=256)
    least = max(3, 0.004 * column.size) if fewest > 1 else fewest
    often = [int(code) for code in np.argsort(-tally)[:4] if tally[code] >= least]
    if len(often) < 2:
        return []
    found = []
    if len(often) <= 3 and sure_plus.size:
        plus = int(np.bincount(column[sure_plus], minlength=256).argmax())
        # Codes that differ in one bit are flags beside it: they come in other combinations as well.
        found += [
            SignPlace(place, 0xFF, (code,), (plus,)) for code in often
            if all((code ^ other).bit_count() > 1 for other in often if other != code)
        ]  # fmt: skip
    for bit in range(8):
        mask = 1 << bit
        bits = (column & mask) > 0
        if bits.sum() >= min(3, least) and bits.mean() < 0.995 and sure_plus.size:
            plus = int((column[sure_plus] & mask > 0).mean() > 0.5)
            found.append(SignPlace(place, mask, (1 - plus,)))
    return found


def flickers(steps: np.ndarray, minus: np.ndarray) -> bool:
    """Say whether a sign comes and goes with an empty pan's noise, at nought and at a step from it alike.

    So does the sign of what has not been rounded yet; what tells that the pan is empty is set at nought.

    :param steps: the number without a sign, in steps
    """
    with np.errstate(invalid="ignore"):
        both = minus[steps < _SMALL]
    changes = int((np.diff(both.astype(np.int8)) != 0).sum())
    return changes >= _OFTEN * both.size and is_alike_at_nought(steps, minus)


def is_alike_at_nought(steps: np.ndarray, minus: np.ndarray) -> bool:
    """Say whether a sign is set at some noughts, and at some numbers a step from it, and not at others.

    :param steps: the number without a sign, in steps
    """
    with np.errstate(invalid="ignore"):
        nought, small = steps < 0.5, (steps > 0.5) & (steps < _SMALL)
    if min(minus[small].sum(), (~minus)[small].sum()) < _FEWEST_SMALL:
        return False
    return all(_SELDOM < float(minus[rows].mean()) < 1.0 - _SELDOM for rows in (nought, small) if rows.any())


def tells_nought(steps: np.ndarray, minus: np.ndarray) -> bool:
    """Say whether what may be a sign is set at nought more often than a step or two from it.

    It tells an empty pan.

    A pan that rests below nought, so that the sign of what has not been rounded is set at most noughts, is a
    step below more often yet than a step above.

    :param steps: the number without a sign, in steps
    """
    with np.errstate(invalid="ignore"):
        nought, near = minus[steps < 0.5], minus[np.abs(steps - 1.5) < 1.0]
    if min(nought.size, near.size) < _FEWEST_NOUGHTS:
        return False
    error = math.sqrt(nought.var() / nought.size + (near.var() + 1.0 / near.size) / near.size)
    apart = float(nought.mean()) - float(near.mean())
    return bool(nought.mean() > _HALF_OF_NOUGHTS and apart > _SIGMAS * error)


def is_lesser_sign(minus: np.ndarray, others: Sequence[np.ndarray], steps: np.ndarray) -> bool:
    """Say whether a sign knows less than another one, which is never set at nought.

    It is set at noughts where the other shows that nought has none; or it is one of a coarser copy, which
    shows nought where the number is a step or so below it.

    :param minus: packets that say below nought, shape (n,)
    :param others: the same of other signs
    :param steps: what the number says without a sign, in steps of its own
    """
    with np.errstate(invalid="ignore"):
        nought, few = np.abs(steps) < 0.5, np.abs(steps) < _FEW_STEPS
    for other in others:
        missed = other & ~minus
        if missed.sum() < _CLEARLY_MORE or (other & nought).sum() > _DAMAGED * other.sum():
            continue
        is_coarser = bool((few & ~nought)[missed].mean() > _MOSTLY and not (minus & ~other).sum() > 1)
        if is_coarser or (minus & nought).sum() > _AT_NOUGHT * minus.sum():
            return True
    return False


def is_set_at(minus: np.ndarray, sure_plus: np.ndarray, fewest: int) -> bool:
    """Say whether a sign is set at loads above nought, more often than by damage.

    :param fewest: 1 where no packet is damaged
    """
    return bool(sure_plus.size and minus[sure_plus].sum() > (1 if fewest == 1 else 0.03 * sure_plus.size))


def how_well(
    values: np.ndarray,
    minus: np.ndarray,
    sure_plus: np.ndarray,
    sure_minus: np.ndarray,
    span: float,
    one: Fit,
    fewest: int,
) -> float:
    """Say how well a sign explains the numbers; 0 or less where it does not."""
    if is_set_at(minus, sure_plus, fewest):
        return -1.0
    if sure_minus.size:
        at_nought = np.abs(values) < 0.5 * one.grid
        is_set = bool(at_nought.sum() >= _EXACT and minus[at_nought].mean() > _NEGATIVE_NOUGHT)
        return 50.0 * float(minus[sure_minus].mean() > 0.9) - 1.0 - 2.0 * float(is_set)
    size, far = np.abs(values), 0.12 * span + 4.0 * one.noise
    known = np.isfinite(values) & ~_leaps(size, far)
    near = known & (size <= far)
    reach = 3.0 * one.grid + 6.0 * one.noise
    for level in np.abs(one.levels):
        if level > 2.0 * reach:
            near &= np.abs(size - level) > reach  # a small load is none below nought
    least = 3 if fewest > 1 else fewest
    if minus[known].sum() < least or minus[known & ~near].sum() > 0.3 * minus[known].sum() + 1:
        return -1.0
    nonzero = near & (size >= 0.5 * one.grid) & (size > 0.0)  # a float may go in no steps at all
    is_often_nought = minus[nonzero].sum() < 0.35 * minus[near].sum()
    if minus[nonzero].sum() < least or (is_often_nought and not flickers(in_steps(size, one.grid), minus)):
        return -1.0
    steps = np.round(np.minimum(in_steps(size[nonzero], one.grid), 1e6)).astype(np.int64)
    signs = minus[nonzero]
    both = 0
    for step in np.unique(steps):
        here = signs[steps == step]
        both += int(min(here.sum(), here.size - here.sum()))
    changes = int((np.diff(minus[near].astype(np.int8)) != 0).sum())
    both = min(both, changes)
    # Nothing but a sign is set near nought and nowhere else, and never at nought itself.
    count = int(minus[nonzero].sum())
    is_exact = count >= minus[known].sum() - 0.02 * count and changes >= 1
    if both >= fewest:
        return float(both) - fewest + 0.5 + EXACTLY * is_exact
    return 0.2 if is_exact and count >= (_EXACT if fewest > 1 else 1) else -1.0


def _leaps(size: np.ndarray, far: float) -> np.ndarray:
    """Say which packets are far beyond those on both sides of them: single ones, which damage has made so."""
    with np.errstate(invalid="ignore"):
        return np.asarray(size > np.maximum(np.roll(size, 1), np.roll(size, -1)) + far)
