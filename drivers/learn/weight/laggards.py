"""Copies of the weight that follow the load later than others: through a filter, or as a display follows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit, rows_in_place
from drivers.learn.numbers.lagging import behind_s, goes_after, is_pulled
from drivers.learn.weight.rising import falls, is_beyond, only_rises, with_sign

_NEARLY, _CROOKED = 0.9, 5.0

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

_AS_COARSE = 1.01
"""Steps of a number, of which those of another one that is as coarse are hardly more."""


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
