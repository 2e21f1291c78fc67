"""A sign that stands apart: a byte or a bit that is set when, and only when, the number is below nought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.neighbours import NOT_NEEDED, beside
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.signs.crossings import jumps_over_nought, turns_on_way
from drivers.learn.signs.dips import Reflections
from drivers.learn.signs.rare_signs import is_in_order
from drivers.learn.signs.sign_places import (
    EXACTLY,
    flickers,
    goes_far,
    how_well,
    is_busy,
    is_carried,
    is_far_from_nought,
    is_lesser_sign,
    is_set_at,
    may_be_rounded,
    signs_at,
    tells_nought,
)
from drivers.learn.signs.signs_of_copies import Copies

_FEWEST, _MOVING_SHARE = 2, 0.4
_JUMPS, _MOST_JUMPS, _ELSEWHERE = 30.0, 4.0, 1.0
"""What a sign costs with which the number goes further up and down than with another; and one that does not
stand beside the number, where a load below nought has shown both."""

_AS_FILLED = 0.98
"""Share of packets in which bytes of one number are filled alike."""

_AS_MUCH, _NEAR = 0.9, 2.0
"""Share of what is seen below nought by which two signs show the same; what it is worth to stand beside."""

_SEEN_CLEARLY = 6
"""Packets in order below nought, and none at nought or far above, that show a sign wherever it stands."""


def sign_apart(
    one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity, fewest: int, taken: frozenset[int]
) -> Fit | None:
    """Look for a byte or a bit that is set when, and only when, a number near zero is below it."""
    frames, kind = one.kind.frames, one.kind
    if one.zero_kind in ("odd", "round") and is_far_from_nought(one):
        return _below_own_nought(one, plain, loads, quantity, fewest, taken)
    values = plain.values(frames)
    span = float(np.ptp(one.levels)) or 1.0
    least = 5.0 * (one.step + one.noise_units)
    rest_rows = [kind.settled[at] for at, load in enumerate(loads) if load.value > least]
    sure_plus = np.concatenate(rest_rows) if rest_rows else np.array([], dtype=np.int64)
    below = [kind.settled[at] for at, load in enumerate(loads) if load.value < 0]
    sure_minus = np.concatenate(below) if below else np.array([], dtype=np.int64)
    between = _between_plus(one, values, loads, least)
    # From a load to one below nought, it goes as fast as a hand does.
    through_nought = sum((before.value < 0) != (after.value < 0) for before, after in pairwise(loads))
    found: list[tuple[float, SignPlace, np.ndarray]] = []
    clear: list[tuple[float, SignPlace, np.ndarray]] = []
    reflections = Reflections(np.abs(values / one.per_unit), one)
    near = beside(plain, frames)
    for place in range(kind.length):
        if place in taken or (place in plain.covers and not plain.mask):
            continue
        if place not in near and place not in plain.covers and is_busy(frames[:, place]):
            continue
        own = plain.own_bits(place)
        for sign in signs_at(frames, place, sure_plus, fewest):
            if sign.mask & own:
                continue
            minus = sign.is_negative(frames)
            if is_carried(frames, place, minus, plain.covers | taken):
                continue
            where = 0.3 * (sign.mask == 0xFF) + 0.5 * (place in (plain.offset - 1, plain.end))
            where -= 0.4 * _is_upper_byte(frames, place, taken)
            if (
                not sure_minus.size
                and not is_set_at(minus, sure_plus, fewest)
                and reflections.are_clear(minus)
            ):
                clear.append((where + _NEAR * (place in near), sign, minus))
            if may_be_rounded(frames, place, sign) and flickers(np.abs(values) / one.grid, minus):
                continue
            if not sure_minus.size and tells_nought(np.abs(values) / one.grid, minus):
                continue
            if between.size >= _FEWEST and minus[between].mean() > _MOVING_SHARE:
                continue  # it tells that the load moves
            if place not in near and place not in plain.covers and minus.sum() < _FEWEST:
                continue  # one packet in 256 that are damaged passes a check of one byte
            if minus.sum() == 1 and not is_in_order(one, int(np.flatnonzero(minus)[0]), place, taken):
                continue
            if turns_on_way(np.abs(values), minus, one):
                continue
            score = how_well(values, minus, sure_plus, sure_minus, span, one, fewest)
            if jumps_over_nought(values, minus, one) and np.diff(minus).sum() > through_nought:
                continue
            if sure_minus.size and score > 0:
                score += 0.0 if place in near else -_ELSEWHERE
            elif place not in near and place not in plain.covers:
                is_exact = score > EXACTLY
                is_seen = fewest == 1 and minus.sum() >= _SEEN_CLEARLY
                far = (0.0 if is_seen else 2.0) if is_exact and fewest == 1 else 5.0
                score = 0.6 * (score - EXACTLY * is_exact) - far
            score += where
            if score > 0:
                found.append((score, sign, minus))
    clear, found = (_not_of_copies(each, one, plain, taken) for each in (clear, found))
    found = _shown_most(clear, reflections) or found
    if not found:
        return None
    steps = values / max(one.grid, 1e-9)
    found = [each for each in found if not is_lesser_sign(each[2], [other[2] for other in found], steps)]
    gone = [_gone(values, minus) for *_, minus in found]
    # Another number's upper byte changes too early or too late, and the weight jumps.
    jumps = [min(_JUMPS * (way / max(min(gone), 1e-9) - 1.0), _MOST_JUMPS) for way in gone]
    _, best, _ = found[int(np.argmax([each[0] - jump for each, jump in zip(found, jumps, strict=True)]))]
    return fit(kind, replace(plain, sign=best), loads, quantity)


def _below_own_nought(
    one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity, fewest: int, taken: frozenset[int]
) -> Fit | None:
    """Look for the sign of bare counts whose nought is far below that of the pan: few loads go through it."""
    if one.scale is not None or plain.encoding != "integer" or plain.mask:
        return None
    frames, at_rest = one.kind.frames, np.concatenate(one.kind.settled)
    reflections = Reflections(np.abs(plain.values(frames) / one.per_unit), one)
    clear: list[tuple[float, SignPlace, np.ndarray]] = []
    for place in range(one.kind.length):
        if place in taken or place in plain.covers or is_busy(frames[:, place]):
            continue
        for sign in signs_at(frames, place, at_rest, fewest):
            minus = sign.is_negative(frames)
            if not is_set_at(minus, at_rest, fewest) and reflections.are_clear(minus):
                clear.append((0.0, sign, minus))
    found = _shown_most(_not_of_copies(clear, one, plain, taken), reflections)
    return fit(one.kind, replace(plain, sign=found[0][1]), loads, quantity) if found else None


def _not_of_copies(
    found: list[tuple[float, SignPlace, np.ndarray]], one: Fit, plain: Number, taken: frozenset[int]
) -> list[tuple[float, SignPlace, np.ndarray]]:
    """Leave out what is the highest byte of a copy."""
    copies = Copies(one, plain, taken)
    return [each for each in found if not copies.have_top_at(each[1].offset, each[2])]


def _shown_most(
    clear: Sequence[tuple[float, SignPlace, np.ndarray]], reflections: Reflections
) -> list[tuple[float, SignPlace, np.ndarray]]:
    """Keep the signs that show about as much of what lies below nought as the one that shows most."""
    shown = [in_dips - elsewhere for in_dips, elsewhere in (reflections.shown_by(each[2]) for each in clear)]
    most = max(shown, default=0)
    return [each for each, count in zip(clear, shown, strict=True) if count >= _AS_MUCH * most]


def _gone(sizes: np.ndarray, minus: np.ndarray) -> float:
    """Give how far a number goes up and down altogether, with a sign; single ones astray are damage."""
    signed = np.where(minus, -sizes, sizes)
    steps = np.abs(np.diff(np.median((signed[:-2], signed[1:-1], signed[2:]), axis=0)))
    return float(steps[np.isfinite(steps)].sum())


def _is_upper_byte(frames: np.ndarray, place: int, taken: frozenset[int]) -> bool:
    """Say whether a byte may be an upper one of another signed number, a slower copy for instance.

    :param taken: places that belong to a check
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


def _between_plus(one: Fit, values: np.ndarray, loads: Sequence[Load], least: float) -> np.ndarray:
    """Give the packets on the way from one load above nought to the next, none of them near nought."""
    time_s, sizes = one.kind.time_s, np.abs(one.loads_of(values))
    found = np.zeros(len(time_s), dtype=bool)
    for before, after in pairwise(loads):
        low, high = sorted((before.value, after.value))
        if low > least:
            on_way = (time_s >= before.end_s) & (time_s <= after.end_s)
            with np.errstate(invalid="ignore"):
                found |= on_way & (sizes > low + 0.1 * (high - low)) & (sizes < high - 0.1 * (high - low))
    return np.flatnonzero(found)
