"""Which of the numbers that follow the loads is the weight: no coarse view of it, no copy that lags."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.decimals import with_decimals
from drivers.learn.fitting import Fit, in_place
from drivers.learn.kinds import Kind, beginning
from drivers.learn.signs import settle_sign
from drivers.learn.widths import settle_width

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
    return with_decimals(signed, loads, quantity)


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
    return [_unshortened(group) for _, group in groups]


def _unshortened(group: list[Fit]) -> list[Fit]:
    """Put bare counts first with all their lower bytes: a lower byte that adds no noise belongs to them."""
    head = group[0]
    if head.scale is not None or head.number.encoding != "integer":
        return group
    if head.step < 0.5 * head.noise_units:
        return group  # any byte behind it would do: its noise is not seen
    longer = [
        one for one in group
        if one.scale is None and one.number.covers > head.number.covers and one.kind is head.kind
        and one.number.order == head.number.order and one.number.lowest_at not in head.number.covers
        and one.noise_units <= head.noise_units + 1e-9 and one.inside >= head.inside - 0.012
    ]  # fmt: skip
    return [max(longer, key=lambda one: one.inside), *group] if longer else group


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
        (15.0 if one.kind.is_cut else 2.5) * math.log(most[one.kind.stream] / len(one.kind.frames))
    )


def _with_step(one: Fit, among: Sequence[Fit]) -> float:
    """Add what a coarser step costs, beside the finest."""
    good = [each for each in among if each.inside > 0.95 and each.worst < 0.004 * each.span + each.step] or [
        one
    ]
    # Noise of the load itself is in all of them, and says nothing for the coarser one.
    fine = max(min(each.step + max(0.0, each.noise_units - one.noise_units) for each in good), 1e-3)
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
    late += [
        one for one in winners
        if one.kind.is_cut and one not in late and _kept_apart(one) in lagging and not _is_timed(one, good)
    ]  # fmt: skip
    prompt = [one for one in winners if one not in late]
    return (prompt, late) if prompt else (list(winners), [])


def _is_timed(one: Fit, good: Sequence[Fit]) -> bool:
    """Say whether another number of the same frames, as many as there are, goes with it."""
    most = max(len(each.kind.frames) for each in good)
    return len(one.kind.frames) > 0.98 * most and any(
        each.kind is one.kind
        and not each.number.covers & one.number.covers
        and _behind_s(one, each) <= 0.0
        and np.isfinite(each.switch_s).sum() >= 2
        for each in good
    )


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


def kind_rows(kind: Kind, one: Fit) -> np.ndarray:
    """Say which packets of a kind a fit reads well."""
    return in_place(kind, one.number.values(kind.frames), one.levels, one.noise, one.grid)
