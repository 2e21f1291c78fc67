"""Which of the numbers that follow the loads is the weight: no coarse view of it, no copy that lags."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.fitting import Fit, fit, in_place
from drivers.learn.kinds import Kind, beginning
from drivers.learn.numerals import Floats, Number
from drivers.learn.signs import settle_sign

_ENCODING_COST = {"integer": 0.0, "bcd": 0.3, "ascii": -2.0, "float": 0.0, "digits": 0.6, "hex": 1.0}
_LAG_S, _LAG_ELSEWHERE_S = 0.04, 0.15
_OUTSIDE_COST = 40.0
_SELECTED_COST = 0.6
_FINE_ENOUGH = 0.12
RIVAL = 3.0
"""How much likelier the best must be than another that says something else, a natural logarithm."""


@dataclass(frozen=True, eq=False)
class Choice:
    """The best reading of the bytes, and what stands against it.

    :param best: None where nothing follows the loads
    :param rivals: others that are nearly as likely and do not agree with it
    :param copies: others that agree with it: filtered, coarser, in another unit
    """

    best: Fit | None
    rivals: tuple[Fit, ...] = ()
    copies: tuple[tuple[Fit, str], ...] = ()


def total_cost(one: Fit) -> float:
    """Say how unlikely a fit is, the lower the better: beforehand, and by what it leaves unexplained."""
    number = one.number
    cost = one.cost + _ENCODING_COST[number.encoding]
    cost += _OUTSIDE_COST * max(0.0, 0.99 - one.inside)
    cost += _SELECTED_COST * len(one.kind.selectors) + 0.8 * (one.kind.make is not None)
    if number.encoding in ("integer", "bcd", "digits"):
        lowest = np.bincount(one.kind.frames[:, number.lowest_at], minlength=256)
        cost += 2.0 * (number.width > 1 and int((lowest >= 2).sum()) < 12)
        wide = max(number.width - 2, 0)
        # Bare counts come from converters of 24 bits; the byte behind them is another one.
        cost += 0.25 * wide if one.scale is not None else (0.0, 0.3, 1.5)[min(wide, 2)]
    if one.kind.is_cut and not one.kind.terminator:
        cost += 0.4 * max(0.0, 2.0 - beginning(one.kind.frames))
    cost += 4.0 * (number.encoding == "float" and one.scale is None)
    cost += 1.5 * bool(number.mask) + 3.0 * (number.encoding == "float" and number.width == 2)
    cost += 0.1 * (number.order == "little") + 0.3 * number.swapped
    cost += 0.4 * (number.signed == "sign-bit") + 3.5 * (number.decimals_at >= 0)
    return cost


def coarseness(one: Fit) -> float:
    """Give what a reading leaves open, g or °C: its step, its noise, its distance from a straight line."""
    return one.step / 3.0 + one.noise_units + one.worst + 0.01


def choose(fits: Sequence[Fit], loads: Sequence[Load], quantity: Quantity) -> Choice:
    """Choose among all the fits of a capture."""
    if not fits:
        return Choice(None)
    fits = _with_enough_inside(fits)
    fewer = _fewer(fits)
    rough = _roughness(fits)
    winners = [group[0] for group in _overlapping(fits)]
    prompt, late = _without_laggards(winners)
    prompt = sorted(prompt, key=lambda one: _with_step(one, prompt) + fewer(one) + rough(one))
    best = settled(prompt[0], loads, quantity)
    others = prompt[1:]
    rivals = tuple(
        one for one in others
        if _with_step(one, prompt) + fewer(one) < _with_step(prompt[0], prompt) + fewer(prompt[0]) + RIVAL
        and not agree(prompt[0], one)
    )  # fmt: skip
    copies = [(one, "filtered") for one in late] + [(one, "copy") for one in others if agree(prompt[0], one)]
    return Choice(best, rivals, tuple(copies))


def settled(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give the chosen number its full width, its sign and its decimals."""
    signed = settle_sign(settle_width(one, loads, quantity), loads, quantity)
    return _with_decimals(signed, loads, quantity)


def _with_decimals(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Look for a byte that counts the decimals: with it, the number goes more smoothly."""
    if one.number.encoding not in ("integer", "bcd", "digits") or one.scale is None:
        return one
    best = one
    for place, column in enumerate(one.kind.frames.T):
        tally = np.bincount(column, minlength=256)
        often = np.flatnonzero(tally >= max(3.0, 0.004 * column.size))
        if place in one.number.covers or not 2 <= often.size <= 4 or often.max() > 6:
            continue
        again = fit(one.kind, replace(one.number, decimals_at=place), loads, quantity)
        if again is None or again.scale is None or again.zero_kind != "none":
            continue
        if again.inside >= best.inside - 0.012 and again.path < 0.9 * best.path:
            best = again
    return best


def _with_enough_inside(fits: Sequence[Fit]) -> list[Fit]:
    enough = [one for one in fits if one.inside >= 0.85]
    return enough or list(fits)


def _overlapping(fits: Sequence[Fit]) -> list[list[Fit]]:
    """Put together the fits that share bytes of packets of the same stream and length."""
    groups: list[tuple[Fit, list[Fit]]] = []
    for one in sorted(fits, key=_beside_others(fits)):
        places = one.number.covers
        for head, group in groups:
            shared = len(head.number.covers & places)
            if shared and head.kind.is_like(one.kind):
                group.append(one)
                break
        else:
            groups.append((one, [one]))
    return [group for _, group in groups]


def _beside_others(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what ranks fits: their cost, what they leave open, how many packets they explain."""
    finest = min(coarseness(one) for one in fits)
    fewer = _fewer(fits)
    rough = _roughness(fits)
    return lambda one: total_cost(one) + 3.0 * math.log10(coarseness(one) / finest) + fewer(one) + rough(one)


def _roughness(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what it costs a fit to go further up and down than another: bytes of two numbers jump."""
    good = [one.path for one in fits if one.inside > 0.9 and one.worst < 0.01 * one.span + one.step]
    least = max(min(good, default=1.0), 0.5)
    return lambda one: min(3.0 * max(0.0, one.path / least - 1.15), 4.0)


def _fewer(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what it costs a fit to explain fewer packets than another one of the same stream."""
    most: dict[int, int] = {}
    for one in fits:
        most[one.kind.stream] = max(most.get(one.kind.stream, 0), len(one.kind.frames))
    return lambda one: (
        (5.0 if one.kind.is_cut else 2.5) * math.log(most[one.kind.stream] / len(one.kind.frames))
    )


def _with_step(one: Fit, among: Sequence[Fit]) -> float:
    """Add what a coarser step costs, beside the finest."""
    good = [each for each in among if each.inside > 0.95 and each.worst < 0.004 * each.span + each.step] or [
        one
    ]
    fine = max(min(each.step + each.noise_units for each in good), 1e-3)
    coarser = max(0.0, math.log2(max(one.step, 1e-3) / fine))
    # Grams in tenths are what a display shows; of anything coarser the finer copy is the better one.
    too_coarse = min(1.8 * coarser, 8.0) if one.step > _FINE_ENOUGH else 0.0
    return total_cost(one) + min(0.8 * coarser, 3.0) + too_coarse


def _without_laggards(winners: list[Fit]) -> tuple[list[Fit], list[Fit]]:
    """Set those apart that follow the load later than another one that is as good."""
    good = [one for one in winners if one.worst < 0.01 * np.ptp(one.levels / one.slope) and one.inside > 0.9]
    late = [
        one for one in winners
        if any(_behind_s(one, other) > 0.0 for other in good if other is not one and other.step < 3.0)
    ]  # fmt: skip
    # Cut elsewhere, the same frames hold the same laggard, and fewer of them cannot be timed.
    lagging = {_kept_apart(one) for one in late} - {
        _kept_apart(one)
        for one in good
        if one not in late and any(one.kind.whole is each.kind.whole for each in late)
    }
    late += [one for one in winners if one.kind.is_cut and one not in late and _kept_apart(one) in lagging]
    prompt = [one for one in winners if one not in late]
    return (prompt, late) if prompt else (list(winners), [])


def _kept_apart(one: Fit) -> tuple[object, ...]:
    number = one.number
    return one.kind.stream, number.encoding, number.width, number.order, one.scale


def _behind_s(one: Fit, other: Fit) -> float:
    """Say by how much one switches later than another, beyond chance; 0 or less where it does not."""
    if not _same_packets(one.kind, other.kind):
        return 0.0
    apart = one.switch_s - other.switch_s
    apart = apart[np.isfinite(apart)]
    if apart.size < 2:
        return 0.0
    limit = _LAG_S if one.kind is other.kind else _LAG_ELSEWHERE_S
    steps = np.abs(np.diff(other.levels / other.slope))
    coarse = max(one.step, other.step, one.noise_units, other.noise_units)
    limit += min(3.0 * coarse / max(float(np.median(steps)), 1e-6), 1.0)
    return float(np.median(apart)) - limit


def _same_packets(one: Kind, other: Kind) -> bool:
    """Say whether the times of two kinds can be compared: frames cut out at different lengths cannot."""
    if one.whole is other.whole:
        return one.selectors == other.selectors
    if one.is_cut or other.is_cut:
        alike = abs(len(one.frames) - len(other.frames)) < 0.03 * len(one.frames)
        return one.length == other.length and alike
    return True


def agree(one: Fit, other: Fit) -> bool:
    """Say whether two readings say the same, also while the load moves."""
    mine, theirs = (
        one.loads_of(one.number.values(one.kind.frames)),
        other.loads_of(other.number.values(other.kind.frames)),
    )
    at = np.searchsorted(other.kind.time_s, one.kind.time_s)
    at = np.clip(at, 0, len(theirs) - 1)
    span = float(np.ptp(one.levels / one.slope))
    with np.errstate(invalid="ignore"):
        apart = np.abs(mine - theirs[at])
        return bool((apart <= 0.03 * span + 3.0 * (one.step + other.step)).mean() > 0.8)


# How wide the number is


_BITS_OF = {"integer": 8, "bcd": 8, "digits": 8, "hex": 8}


def most_counts(one: Fit, loads: Sequence[Load], quantity: Quantity) -> float:
    """Give how many counts an instrument of this kind must be able to say."""
    most = max(abs(load.value) for load in loads)
    reach = max(4.0 * most, 3000.0) if quantity == "weight" else max(2.0 * most, 350.0)
    return reach * abs(one.per_unit) + abs(one.zero if one.zero_kind != "half" else 0.0)


def settle_width(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in the upper bytes that have not been needed so far, as many as such an instrument needs."""
    number = one.number
    if number.encoding == "ascii":
        return _widest_text(one, loads, quantity)
    if number.encoding not in _BITS_OF or number.mask or one.zero_kind == "half":
        return one
    values = number.values(one.kind.frames)
    enough = most_counts(one, loads, quantity)
    wider = [one, *_wider(one, values, loads, quantity)]
    for each in wider:
        if _holds(each.number) >= enough:
            return each
    return wider[-1]


def _holds(number: Number) -> float:
    if number.encoding in ("bcd", "digits"):
        return 10.0 ** (number.width * (2 if number.encoding == "bcd" else 1)) - 1
    if number.encoding == "hex":
        return 16.0**number.width / 2
    return 2.0 ** (8 * number.width - 1)


def _wider(one: Fit, values: Floats, loads: Sequence[Load], quantity: Quantity) -> list[Fit]:
    """Give the same number with more upper bytes, as long as it says the same."""
    found: list[Fit] = []
    number, frames = one.number, one.kind.frames
    widest = {"integer": 4, "bcd": 5, "digits": 8, "hex": 8}[number.encoding]
    for width in range(number.width + 1, widest + 1):
        offset = number.end - width if number.order == "big" else number.offset
        if offset < 0 or offset + width > one.kind.length:
            break
        added = offset if number.order == "big" else offset + width - 1
        plain = replace(number, offset=offset, width=width, signed="")
        half = fit(one.kind, plain, loads, quantity) if number.encoding == "integer" else None
        if (
            half is not None
            and half.zero_kind == "half"
            and half.scale == one.scale
            and half.inside >= one.inside - 0.012
        ):
            return [*found, half]
        usual = int(np.bincount(frames[:, added]).argmax())
        if usual not in (
            (0, 0xFF) if number.encoding == "integer" else (0,) if number.encoding != "hex" else (0x30,)
        ):
            break
        same = []
        others = {"integer": ("twos-complement", "sign-bit"), "hex": ("twos-complement",)}
        signs = (number.signed, *others.get(number.encoding, ()))
        for signed in dict.fromkeys(signs):
            candidate = replace(number, offset=offset, width=width, signed=signed)
            close = _same(candidate.values(frames), values, signed, one)
            again = fit(one.kind, candidate, loads, quantity)
            if close.mean() > 0.97 and again is not None and again.inside >= one.inside - 0.012:
                same.append(again)
        if not same:
            break
        found.append(max(same, key=lambda each: each.inside))
    return found


def _same(wider: Floats, values: Floats, signed: str, one: Fit) -> np.ndarray:
    """Say where two readings are the same, but for a sign that only one has, or for a fixed distance."""
    if signed == "sign-bit" and one.scale is not None:
        return np.isclose(np.abs(wider), np.abs(values), atol=0.01, equal_nan=True)
    shift = float(np.nanmedian(wider - values)) if one.scale is None else 0.0
    return np.isclose(wider - shift, values, atol=0.01, equal_nan=True)


def _widest_text(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in blanks, signs and noughts before a number of text."""
    best, number, frames = one, one.number, one.kind.frames
    values = number.values(frames)
    first = 1 if one.kind.is_cut and not one.kind.terminator else 0  # a header must be left
    for offset in range(number.offset - 1, max(number.offset - 12, first - 1), -1):
        candidate = replace(number, offset=offset, width=number.end - offset)
        if candidate.width > 24:
            break
        wider = candidate.values(frames)
        if not np.isclose(wider, values, atol=1e-9, equal_nan=True).mean() > 0.97:
            negative = np.isclose(wider, -values, atol=1e-9) | np.isclose(wider, values, atol=1e-9)
            if not negative.mean() > 0.97:
                break
        again = fit(one.kind, candidate, loads, quantity)
        if again is None or again.inside < best.inside - 0.012:
            break
        best = again
    return best


def kind_rows(kind: Kind, one: Fit) -> np.ndarray:
    """Say which packets of a kind a fit reads well."""
    return in_place(kind, one.number.values(kind.frames), one.levels, one.noise, one.grid)
