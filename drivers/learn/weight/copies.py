"""Copies of the weight: which follow the load later than others, and which say the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit, rows_in_place
from drivers.learn.numbers.lagging import behind_s, clearly_apart, goes_after, is_always_ahead, is_pulled
from drivers.learn.packets.arrays import Floats, Frames
from drivers.learn.weight.rising import falls, is_beyond, only_rises, with_sign

_NEARLY, _CROOKED = 0.9, 5.0
_MOST_APART, _AS_GOOD_AS_ALL = 0.02, 0.98
_FEWEST_SEVERAL, _COMES_AGAIN = 2, 3
"""Values with which another number says several things, and how often each of those."""

_FAR_MORE_DOUBLES = 5
"""How many more values of a number go with one of another, beyond the first, than the reverse."""

_MOSTLY_SAME = 0.9
"""Share of the frames of one way to cut them whose number is another one's bytes; damage ends many."""

_AS_SHOWN = 0.15
"""The coarsest step, g or °C, of a display that shows bare counts as finely as they are wanted: 0.005 oz."""

_COARSE, _OF_SPAN = 3.0, 0.01
"""Steps that are coarse, g or °C, and as a share of the span of the loads."""

_JUMPS = 3.0
"""How much further up and down bytes go that are no weight, beside one that seems to lag behind them and does
not go to where they are.
"""

_AT_ONCE_S = 0.06
"""How soon round steps follow that are the same weight; a copy that lags a little is in round steps too."""

SOON_S = 0.3
"""How soon a display follows what its converter says, as long as it seems to follow a hand at once."""

_NOISES = 3.0
"""Standard deviations of one packet by which numbers differ that are rounded from the same by themselves."""

_AS_COARSE = 1.01
"""Steps of a number, of which those of another one that is as coarse are hardly more."""

METRIC = ("g", "kg", "°C")

ENOUGH_INSIDE = 0.85
"""Share of the packets in which a number is in place whose sign has not been looked for."""


def are_metric_and_not(grams: Fit, ounces: Fit) -> bool:
    """Say whether the first of two numbers is in grams, and the second in ounces or pounds."""
    if grams.scale is None or ounces.scale is None:
        return False
    return grams.scale.unit in METRIC and ounces.scale.unit not in METRIC


def without_laggards(winners: list[Fit]) -> tuple[list[Fit], list[Fit]]:
    """Set those apart that follow the load later than another one that is as good.

    A check jumps about, and seems to be ahead where it has a round meaning at the loads.
    """
    good = [
        one for one in winners
        if one.worst < 0.01 * one.span + 0.3 * one.step and rows_in_place(with_sign(one)).mean() > 0.9
    ]  # fmt: skip
    rising = [one for one in good if only_rises(one)]
    late = [
        one for one in winners
        if any(
            _lags_behind(one, other)
            for other in good
            if other is not one and _tells_times(other, one) and _is_as_straight(other, one)
            and not _is_converter_of(other, one)
            and (other not in rising or one in rising or not falls(one) or is_beyond(other, one))
            and _can_be_timed(one, other, good)
        )
    ]  # fmt: skip
    # Cut elsewhere, the same frames hold the same laggard, and fewer of them cannot be timed.
    lagging = {_kept_apart(one) for one in late} - {
        _kept_apart(one)
        for one in good
        if one not in late
        and len(one.kind.frames) > 0.98 * _most_of_length(one, good)
        and any(one.kind.whole is each.kind.whole for each in late)
    }
    late += [
        one for one in winners
        if one.kind.is_cut and one not in late and not _is_timed(one, good)
        and (
            (_kept_apart(one) in lagging and not _is_elsewhere(one, late))
            or any(are_same_of_stream(one, each) for each in late)
        )
    ]  # fmt: skip
    prompt = [one for one in winners if one not in late]
    return (prompt, late) if prompt else (list(winners), [])


def _lags_behind(one: Fit, other: Fit) -> bool:
    """Say whether a number follows another one, and does not only seem to, beside bytes that jump about."""
    if is_pulled(one, other):
        return True
    jumps = other.path >= _JUMPS * max(one.path, 1.0)
    return behind_s(one, other) > 0.0 and (not jumps or goes_after(one, other))


def _tells_times(other: Fit, one: Fit) -> bool:
    """Say whether the steps of a number are fine enough to see when it goes over, for these loads, or as fine
    as those of another one.
    """
    return other.step < max(_COARSE, _OF_SPAN * other.span, _AS_COARSE * one.step)


def _is_converter_of(other: Fit, one: Fit) -> bool:
    """Say whether a number is what another one is worked out from: bare counts whose nought is anywhere.

    What is nought on an empty pan has been tared, and so is what is shown, a little later: in counts of its
    own, or in steps as fine as a display's.
    """
    if not other.is_bare or one.zero_kind not in KNOWN_ZEROS:
        return False
    if one.scale is not None and one.step > _AS_SHOWN:
        return False
    apart = (one.switch_s - other.switch_s)[np.isfinite(one.switch_s) & np.isfinite(other.switch_s)]
    return not (apart.size and np.median(apart) >= (SOON_S if one.scale is None else _AT_ONCE_S))


def _is_as_straight(other: Fit, one: Fit) -> bool:
    """Say whether a number holds the loads about as well as another one, so that it can tell that it lags."""
    return other.worst < _CROOKED * one.worst + one.step + other.step + one.noise_units + other.noise_units


def _can_be_timed(one: Fit, other: Fit, good: Sequence[Fit]) -> bool:
    """Say whether two numbers can be timed by each other: of frames cut elsewhere, some may be missing."""
    if not one.kind.is_cut or one.kind.whole is other.kind.whole:
        return True
    return min(len(one.kind.frames), len(other.kind.frames)) > _NEARLY * _most_of_length(one, good)


def _is_timed(one: Fit, good: Sequence[Fit]) -> bool:
    """Say whether another number of the same frames, as many as there are, goes with it."""
    return len(one.kind.frames) > 0.98 * _most_of_length(one, good) and any(
        each.kind is one.kind
        and not each.number.covers & one.number.covers
        and behind_s(one, each) <= 0.0
        and np.isfinite(each.switch_s).sum() >= 2
        for each in good
    )


def _most_of_length(one: Fit, good: Sequence[Fit]) -> int:
    """Give how many frames of its length there are at most, wherever they are cut."""
    kind = one.kind
    return max(
        (
            len(each.kind.frames)
            for each in good
            if each.kind.stream == kind.stream and each.kind.length == kind.length
        ),
        default=0,
    )


def _kept_apart(one: Fit) -> tuple[object, ...]:
    number = one.number
    return one.kind.stream, number.encoding, number.width, number.order, one.scale


def are_same_of_stream(one: Fit, other: Fit) -> bool:
    """Say whether two numbers have the same lowest bytes in a stream, wherever its frames are cut."""
    begins, others = one.kind.begins, other.kind.begins
    same = (one.kind.stream, one.number.encoding, one.number.order, one.scale)
    if same != (other.kind.stream, other.number.encoding, other.number.order, other.scale):
        return False
    if begins is None or others is None:
        return False
    lowest = np.isin(begins + one.number.lowest_at, others + other.number.lowest_at)
    return bool(lowest.mean() > _MOSTLY_SAME)


def _is_elsewhere(one: Fit, late: Sequence[Fit]) -> bool:
    """Say whether a number has other bytes of the stream than all laggards that are read in the same way."""
    alike = [each for each in late if _kept_apart(each) == _kept_apart(one)]
    return all(
        one.kind.begins is not None and each.kind.begins is not None and not are_same_of_stream(one, each)
        for each in alike
    )


def is_another_as_good(one: Fit, copies: Sequence[Fit]) -> bool:
    """Say whether other bytes of the same packets go with the load as well, and differ while it moves.

    Those that are always behind are a copy, however little they lag.

    :param copies: other numbers that agree with this one at rest
    """
    frames, mine = one.kind.frames, one.loads_of(one.number.values(one.kind.frames))
    near = rows_in_place(one)
    for each in copies:
        is_beside = each.kind.is_beside(one.kind) and not each.number.covers & one.number.covers
        if not is_beside or each.scale is None or each.step > 1.5 * one.step or each.inside < 0.97:
            continue
        if each.noise_units > 1.5 * one.noise_units + one.step:
            continue
        theirs = _nearest_of(each, frames, mine)
        with np.errstate(invalid="ignore"):
            apart = clearly_apart(one, each) + _NOISES * one.noise_units
            far = near & (np.abs(np.abs(theirs) - np.abs(mine)) > apart)
        if far[near].mean() > _MOST_APART and not is_always_ahead(mine, theirs, far):
            return True
    return False


def _nearest_of(each: Fit, frames: Frames, mine: Floats) -> Floats:
    """Read a copy whose sign has not been looked for with two's complement where that is nearer, g or °C."""
    number = each.number
    plain = each.loads_of(number.values(frames))
    if number.encoding != "integer" or number.signed or number.mask:
        return plain
    signed = each.loads_of(replace(number, signed="twos-complement").values(frames))
    return np.where(np.abs(signed - mine) < np.abs(plain - mine), signed, plain)


def follows_from(other: Fit, one: Fit) -> bool:
    """Say whether a number always says the same where another one of the same packets does."""
    if not other.kind.is_like(one.kind):
        return False
    frames = one.kind.frames
    mine, theirs = one.number.values(frames), other.number.values(frames)
    known = np.isfinite(mine) & np.isfinite(theirs)
    _, which = np.unique(mine[known], return_inverse=True)
    order = np.lexsort((theirs[known], which))
    same = which[order][1:] == which[order][:-1]
    changed = same & (np.diff(theirs[known][order]) != 0)
    if changed.sum() >= _MOST_APART * known.sum():
        return False
    # Where both stand still, a few values go with several others that come again; what is damaged does not.
    pairs, often = np.unique(np.stack((which, theirs[known])), axis=1, return_counts=True)
    _, several = np.unique(pairs[0, often >= _COMES_AGAIN], return_counts=True)
    return int((several > 1).sum()) < _FEWEST_SEVERAL


def tells_more(one: Fit, other: Fit) -> bool:
    """Say whether several values of a number go with one of another, of the same packets: not the reverse."""
    mine, theirs = (each.loads_of(each.number.values(each.kind.frames)) for each in (one, other))
    rows = rows_in_place(one)
    with np.errstate(invalid="ignore"):
        rows &= np.abs(mine - theirs) < one.step + other.step  # else one of the two is damaged
    pairs = np.unique(np.stack((mine[rows], theirs[rows])), axis=1)
    doubles = [pairs.shape[1] - np.unique(each).size for each in pairs]
    return bool(doubles[1] > _FAR_MORE_DOUBLES * doubles[0])


def is_rounded(coarse: Fit, fine: Fit) -> bool:
    """Say whether a number is another one of the same packets rounded to its own step, and tells no more."""
    if (
        fine.scale is None
        or coarse.scale is None
        or fine.scale.unit not in METRIC
        or not _is_fine(coarse, fine)
    ):
        return False
    frames = coarse.kind.frames
    mine, finer = (one.loads_of(one.number.values(frames)) for one in (coarse, fine))
    with np.errstate(invalid="ignore"):
        # Their signs have not been looked for yet.
        rows = rows_in_place(coarse)
        rows &= mine > 2.0 * coarse.step
        apart = np.abs(mine - finer)[rows]
        return bool(apart.size and (apart <= 0.5 * (coarse.step + fine.step) + 1e-6).mean() > _AS_GOOD_AS_ALL)


def _is_fine(coarse: Fit, fine: Fit) -> bool:
    """Say whether a number goes in steps of which a whole count makes another one's, and is read as often."""
    if not fine.kind.is_like(coarse.kind) or fine.number.covers & coarse.number.covers or fine.step <= 0.0:
        return False
    times = coarse.step / fine.step
    return times > 1.5 and abs(times - round(times)) < 1e-6 * times and fine.inside > coarse.inside - 0.01


def agree(one: Fit, other: Fit, *, in_size: bool = False) -> bool:
    """Say whether two readings say the same, also while the load moves.

    :param in_size: whether they may differ by their sign
    """
    mine, theirs = (
        one.loads_of(one.number.values(one.kind.frames)),
        other.loads_of(other.number.values(other.kind.frames)),
    )
    if in_size:
        mine, theirs = np.abs(mine), np.abs(theirs)
    # What comes between two packets of the other says what one of those does, or goes from one to the other.
    behind = np.searchsorted(other.kind.time_s, one.kind.time_s)
    before, behind = (np.clip(at, 0, len(theirs) - 1) for at in (behind - 1, behind))
    reach = 0.03 * float(np.ptp(one.levels / one.slope)) + 3.0 * (one.step + other.step)
    with np.errstate(invalid="ignore"):
        lowest, highest = np.fmin(theirs[before], theirs[behind]), np.fmax(theirs[before], theirs[behind])
        return bool(((mine >= lowest - reach) & (mine <= highest + reach)).mean() > 0.8)
