"""How a number goes through nought where its sign changes, and how it does not."""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers.fitting import Fit

_FAR_NOISE, _FAR_SHARE = 3.0, 0.7
"""Standard deviations by which a number does not jump over nought; share of the changes of its sign."""

_FAR_SIZE, _FAR_BUMP = 2.0, 4.0
"""How far from nought a number is, beside what it flickers by, where a sign does not change without it; and
where it stays for three packets only."""

_ALIKE = 2.0
"""By how much a number grows more, or less, from one packet to the next than before and after."""

_HARDLY_LESS, _GONE = 0.9, 0.8
"""Parts of a size that are left where its sign has just changed, at least, and some packets on, at most."""

_ON = (3, 4, 5)
"""Packets after which it may have gone: a hand takes a load off in half a second, or a filter is slow."""


def jumps_over_nought(sizes: np.ndarray, minus: np.ndarray, one: Fit) -> bool:
    """Say whether a number is far from nought wherever a sign changes, so that it would jump over it.

    :param sizes: the number without a sign
    """
    turns = np.flatnonzero(np.diff(minus.astype(np.int8)))
    turns = turns[(turns >= 1) & (turns < len(sizes) - 2)]
    if not turns.size:
        return False
    through = sizes[turns] + sizes[turns + 1]
    before, after = np.abs(sizes[turns] - sizes[turns - 1]), np.abs(sizes[turns + 2] - sizes[turns + 1])
    with np.errstate(invalid="ignore"):
        far = through > 1.8 * np.maximum(before, after) + 3.0 * one.grid + _FAR_NOISE * one.noise
        # What comes from nought is not over it.
        far &= np.minimum(sizes[turns], sizes[turns + 1]) >= 0.5 * one.grid
    return bool(far.mean() > _FAR_SHARE)


def turns_on_way(sizes: np.ndarray, minus: np.ndarray, one: Fit) -> bool:
    """Say whether a sign changes though the size of a number goes on as before, far from nought.

    It stands still at a change, or grows through it as a load does that is put on; or it begins to go towards
    nought there, as one does that is taken off: what flows is below nought then. Or a single packet with a
    sign is between those around it.
    """
    turns = np.flatnonzero(np.diff(minus.astype(np.int8)))
    turns = turns[(turns >= 1) & (turns < len(sizes) - 2)]
    near = 3.0 * one.grid + 6.0 * one.noise
    around = np.stack([sizes[turns + at] for at in (-1, 0, 1, 2)])
    with np.errstate(invalid="ignore"):
        is_still = (np.ptp(around, axis=0) <= near) & (around.min(axis=0) > _FAR_SIZE * near)
        for three in (around[:3], around[1:]):
            is_still |= (np.ptp(three, axis=0) <= near) & (three.min(axis=0) > _FAR_BUMP * near)
    goes_on = is_still | _grows(around, near)
    # A damaged packet has another sign for itself alone.
    goes_on &= (minus[turns - 1] == minus[turns]) & (minus[turns + 2] == minus[turns + 1])
    if minus.sum() != 1:
        return bool(goes_on.any() or _begins_to_go(sizes, minus, turns, near))
    at = int(np.flatnonzero(minus)[0])
    if not 0 < at < len(sizes) - 1:
        return False
    low, high = sorted((sizes[at - 1], sizes[at + 1]))
    return bool(sizes[at] > near and low - near <= sizes[at] <= high + near)


def _grows(around: np.ndarray, near: float) -> np.ndarray:
    """Say where a number grows through a change of its sign as it does before and after.

    :param around: two packets before each change, and two behind it, shape (4, n)
    """
    with np.errstate(invalid="ignore"):
        before, through, after = np.diff(around, axis=0)
        alike = through**2 / np.maximum(before * after, 1e-12)
        is_up = np.minimum(before, after) > near
        return np.asarray(is_up & (alike > 1.0 / _ALIKE**2) & (alike < _ALIKE**2))


def _begins_to_go(sizes: np.ndarray, minus: np.ndarray, turns: np.ndarray, near: float) -> bool:
    """Say whether a sign changes just as a number leaves a load for nought, and stays while it goes there.

    A number that jumped to the other side would not come back from as far as it had been.
    """
    return any(_comes_back(sizes, minus, turns[turns < len(sizes) - on], near, on) for on in _ON)


def _comes_back(sizes: np.ndarray, minus: np.ndarray, turns: np.ndarray, near: float, on: int) -> bool:
    """Say whether a number is on its way to nought some packets on, with the sign that it has changed to."""
    rest, first, later, last = (sizes[turns + at] for at in (0, 1, 2, on))
    with np.errstate(invalid="ignore"):
        was_still = (np.abs(rest - sizes[turns - 1]) <= near) & (rest > _FAR_SIZE * near)
        goes = (first <= rest + near) & (first > _HARDLY_LESS * rest) & (first > later) & (later > last)
        goes &= last < _GONE * first
    stays = minus[turns - 1] == minus[turns]
    for at in range(2, on + 1):
        stays &= minus[turns + 1] == minus[turns + at]
    return bool((was_still & goes & stays).any())
