"""How well a number follows the known loads: a straight line through what it says at rest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.kinds import Kind
from drivers.learn.numerals import Floats, Frames, Number, all_numbers
from drivers.learn.scales import ODD, Scale, round_scales

_SAMPLE = 48
_ROUGH = 0.02
"""A number that is further off a straight line than this share of its span is none of the load."""

_LEAST_COUNTS = 5.0
_OF_LOAD, _OF_UNIT = {"weight": 4e-4, "temperature": 0.01}, {"weight": 0.04, "temperature": 0.6}
"""How far a known load may be from what the brewer typed: a share of it, and g or °C."""

_ZERO_OFF = {"weight": 0.6, "temperature": 1.0}


@dataclass(frozen=True, eq=False)
class Fit:
    """A number of one kind of packet, held against the loads: ``number = slope * load + offset``.

    :param levels: what it says at each load, shape (k,)
    :param spreads: standard deviation of one packet at each load
    :param noise: the ordinary one of those
    :param grid: the step in which it changes
    :param worst: the largest distance from the line, g or °C
    :param slope_error: standard uncertainty of the slope
    :param inside: share of all packets of the kind in which it is readable and near the range of the loads
    :param scale: the round meaning of a step, where there is one
    :param zero: the number that stands for nothing, ``half`` its range where that is round
    :param zero_kind: ``none``, ``half``, ``round`` or ``odd``
    :param cost: how unlikely all this is beforehand, a natural logarithm
    :param path: how far it goes up and down altogether, beside the way between the loads, noise left out
    :param switch_s: when it changed from each load to the next, shape (k - 1,); NaN where that is unknown
    """

    kind: Kind
    number: Number
    slope: float
    offset: float
    levels: Floats
    spreads: Floats
    noise: float
    grid: float
    worst: float
    slope_error: float
    offset_error: float
    inside: float
    scale: Scale | None
    zero: float
    zero_kind: str
    cost: float
    switch_s: Floats
    path: float

    @property
    def step(self) -> float:
        """The step of the display, g or °C."""
        return self.grid / abs(self.per_unit)

    @property
    def per_unit(self) -> float:
        """Counts per g or °C, the round figure where there is one."""
        return self.scale.per_unit if self.scale is not None else self.slope

    @property
    def span(self) -> float:
        """From the lowest load to the highest, as the number says it, g or °C."""
        return float(np.ptp(self.levels)) / abs(self.slope)

    @property
    def noise_units(self) -> float:
        """Standard deviation of one packet, g or °C."""
        return self.noise / abs(self.slope)

    def loads_of(self, values: Floats) -> Floats:
        """Turn numbers into g or °C."""
        return (values - self.zero) / self.per_unit


def rough_fits(kind: Kind, loads: Sequence[Load]) -> Iterator[Number]:
    """Give the numbers of a kind that roughly follow the loads."""
    rows, bounds = sampled(kind)
    frames = kind.frames[rows]
    moves = np.array([np.bincount(column).max() < 0.994 * column.size for column in kind.frames.T])
    if not moves.any():
        return
    moves[counters(kind.frames)] = False
    values = np.array([load.value for load in loads])
    seen = set[tuple[str, int, int, str]]()
    for numbers, columns in all_numbers(frames, moves):
        good = _follows(columns, bounds, values, numbers[0].encoding)
        for at in np.flatnonzero(good):
            number = numbers[at]
            place = (number.encoding, number.offset, number.width, number.order)
            if number.mask and place in seen and not _has_upper_bits(number, frames):
                continue  # without its upper bits it says nothing more
            seen.add(place)
            yield number


def _has_upper_bits(number: Number, frames: Frames) -> bool:
    """Say whether bits beyond the mask are set nearly always, as flags are."""
    plain = Number(number.encoding, number.offset, number.width, number.order)
    return bool((plain.values(frames) > number.mask).mean() > 0.9)


def counters(frames: Frames) -> np.ndarray:
    """Give the places of bytes that count packets: always the same step up, whatever the load does."""
    steps = np.diff(frames, axis=0)
    return np.array([
        place for place, column in enumerate(steps.T)
        if (usual := int(np.bincount(column, minlength=256).argmax())) and (column == usual).mean() > 0.7
    ], dtype=np.int64)  # fmt: skip


def sampled(kind: Kind) -> tuple[np.ndarray, list[tuple[int, int]]]:
    """Pick some packets of each load, and say where each load's are among those."""
    picked, bounds, at = [], [], 0
    for rows in kind.settled:
        some = rows[np.linspace(0, rows.size - 1, min(_SAMPLE, rows.size)).astype(np.int64)]
        picked.append(some)
        bounds.append((at, at + some.size))
        at += some.size
    return np.concatenate(picked), bounds


def _follows(columns: Floats, bounds: list[tuple[int, int]], loads: Floats, encoding: str) -> np.ndarray:
    levels, noise = levels_of(columns, bounds)
    x = loads - loads.mean()
    slope = x @ levels / max(float(x @ x), 1e-12)
    off = levels - levels.mean(axis=0) - np.outer(x, slope)
    span = np.abs(slope) * np.ptp(loads)
    count = 1.0 if encoding not in ("float", "ascii") else 0.0
    limit = np.maximum(np.maximum(_ROUGH * span, 1.01 * count), 3.0 * noise)
    enough = np.maximum(12.0 * noise, _LEAST_COUNTS * count)
    return np.asarray((np.abs(off).max(axis=0) <= limit) & (span >= enough) & (span > 0))


def levels_of(columns: Floats, bounds: list[tuple[int, int]]) -> tuple[Floats, Floats]:
    """Give the median of each load, shape (k, c), and the ordinary spread, shape (c,)."""
    levels, spreads = [], []
    for first, last in bounds:
        part = columns[first:last]
        bad = np.isnan(part)
        if bad.any():
            part = np.where(bad, np.broadcast_to(_first_known(part), part.shape), part)
        middle = np.median(part, axis=0)
        levels.append(middle)
        spreads.append(np.median(np.abs(part - middle), axis=0))
    return np.array(levels), 1.48 * np.median(np.array(spreads), axis=0)


def _first_known(part: Floats) -> Floats:
    known = ~np.isnan(part)
    return np.asarray(part[known.argmax(axis=0), np.arange(part.shape[1])])


def fit(kind: Kind, number: Number, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Hold a number against the loads, on all packets; None where it does not follow them."""
    values = number.values(kind.frames)
    typed = np.array([load.value for load in loads])
    at_rest = [settled_values(values, rows) for rows in kind.settled]
    if min(one.size for one in at_rest) < 3:
        return None
    levels = np.array([one.mean() for one in at_rest])
    spreads = np.array([one.std() for one in at_rest])
    noise = float(np.median(spreads))
    grid = _grid(values[np.isfinite(values)], number)
    errors = np.array([_error_of(one, grid) for one in at_rest])
    slope, offset = _line(typed, levels)
    if slope == 0.0:
        return None
    off = (levels - slope * typed - offset) / slope
    span = np.ptp(typed)
    if noise > 0.08 * abs(slope) * span or np.abs(off).max() > 0.02 * span + 1.2 * grid / abs(
        slope
    ) + 2.0 * float(np.median(errors)) / abs(slope):
        return None
    allowed = np.maximum(_OF_LOAD[quantity] * np.abs(typed), _OF_UNIT[quantity])
    error = np.hypot(errors / abs(slope), allowed / 2)
    slope_error = (
        abs(slope) * float(np.sqrt((error**2).mean())) / max(float(typed.std()) * math.sqrt(len(typed)), 1e-9)
    )
    scale, zero, zero_kind, cost = _meaning(
        typed, levels, errors, slope, offset, slope_error, number, quantity
    )
    inside = float(in_place(kind, values, levels, noise, grid).mean())
    return Fit(
        kind=kind,
        number=number,
        slope=slope,
        offset=offset,
        levels=levels,
        spreads=spreads,
        noise=noise,
        grid=grid,
        worst=float(np.abs(off).max()),
        slope_error=slope_error,
        offset_error=float(np.sqrt((errors**2).mean())) + abs(slope) * _OF_UNIT[quantity] / 4,
        inside=inside,
        scale=scale,
        zero=zero,
        zero_kind=zero_kind,
        cost=cost,
        switch_s=_switches(kind.time_s, values, levels, loads),
        path=_path(values, levels, in_place(kind, values, levels, noise, grid), noise, grid),
    )


def in_place(kind: Kind, values: Floats, levels: Floats, noise: float, grid: float) -> np.ndarray:
    """Say for each packet whether its number is near the range of the loads, and near its own at rest."""
    span = float(np.ptp(levels))
    reach = 0.35 * span + 6.0 * noise
    near = 0.03 * span + 8.0 * noise + 3.0 * grid
    with np.errstate(invalid="ignore"):
        good = (values >= levels.min() - reach) & (values <= levels.max() + reach)
        for rows, level in zip(kind.settled, levels, strict=True):
            good[rows] &= np.abs(values[rows] - level) <= near
    return np.asarray(good)


def settled_values(values: Floats, rows: np.ndarray) -> Floats:
    """Give what a number says at rest, damaged packets left out."""
    some = values[rows]
    some = some[np.isfinite(some)]
    if some.size < 3:
        return np.asarray(some)
    middle = np.median(some)
    reach = np.median(np.abs(some - middle))
    ordinary = np.abs(some - middle) <= max(7.0 * reach, 0.0 if reach else _least_gap(some))
    return np.asarray(some[ordinary])


def _least_gap(some: Floats) -> float:
    """Give the smallest step between values: where most are equal, the next ones belong to them."""
    kinds, counts = np.unique(some, return_counts=True)
    kinds = kinds[counts >= max(2.0, 0.02 * some.size)]
    return (
        2.01 * float(np.diff(kinds).min())
        if kinds.size > 1
        else 1e-9 * abs(float(kinds[0]))
        if kinds.size
        else 0.0
    )


def _grid(values: Floats, number: Number) -> float:
    """Give the step in which a number changes."""
    if number.encoding == "float":
        return _float_grid(values)
    if number.encoding == "ascii" or number.decimals_at >= 0:
        large = np.abs(values) >= np.median(np.abs(values))
        # Damage leaves digits digits: nearly every text is a multiple of the step.
        return _float_grid(values[large] if number.decimals_at >= 0 else values, 0.9985) or 0.001
    kinds, counts = np.unique(values, return_counts=True)
    kinds = kinds[counts >= 2]
    whole = np.abs(kinds).astype(np.int64)
    grid = int(np.gcd.reduce(whole)) if whole.size > 2 and whole.any() else 1
    return float(grid) if grid in (2, 5, 10, 20, 50, 100) else 1.0


def _float_grid(values: Floats, share: float = 0.97) -> float:
    """Give the decimal or halved step that a float's values are multiples of; 0 where there is none."""
    for step in (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001):
        steps = values / step
        if np.mean(np.abs(steps - np.round(steps)) < 2e-6 * np.abs(steps) + 1e-3) > share:
            return step
    return 0.0


def _error_of(some: Floats, grid: float) -> float:
    """Give the standard uncertainty of a level; neighbouring packets are alike, so that four count as one."""
    spread = float(some.std())
    dithered = spread > 0.35 * grid
    return math.hypot(2.0 * spread / math.sqrt(some.size), (0.1 if dithered else 0.29) * grid)


def _line(x: Floats, y: Floats) -> tuple[float, float]:
    x_mean, y_mean = x.mean(), y.mean()
    spread = float(((x - x_mean) ** 2).sum())
    slope = float(((x - x_mean) * (y - y_mean)).sum()) / spread if spread else 0.0
    return slope, float(y_mean - slope * x_mean)


def _meaning(
    typed: Floats,
    levels: Floats,
    errors: Floats,
    slope: float,
    offset: float,
    slope_error: float,
    number: Number,
    quantity: Quantity,
) -> tuple[Scale | None, float, str, float]:
    """Find the round meaning of slope and offset, the likeliest that is near enough."""
    best: tuple[float, Scale | None, float, str] = (math.inf, None, offset, "odd")
    zero_off = _ZERO_OFF[quantity]
    if abs(slope_error / slope) < 0.02:
        for scale in round_scales(quantity):
            apart = abs(scale.per_unit / slope - 1.0) if slope > 0 else math.inf
            unsure = 3.0 * slope_error / abs(slope)
            if apart > max(scale.tolerance, min(unsure, 3.0 * scale.tolerance)):
                continue
            for zero, zero_kind, cost in _zeros(
                scale, number, float(np.median(levels - scale.per_unit * typed)), zero_off
            ):
                off = np.abs((levels - zero) / scale.per_unit - typed)
                limit = 3.0 * errors / scale.per_unit + zero_off + scale.tolerance * np.abs(typed)
                if not (off <= limit).all() or (
                    zero_kind in ("odd", "round") and apart > max(2e-4, min(unsure, 6e-4))
                ):
                    continue
                total = (
                    scale.cost
                    + cost
                    + 0.5 * min((apart / math.hypot(scale.tolerance / 2, unsure / 3)) ** 2, 16.0)
                )
                if total < best[0]:
                    best = total, scale, zero, zero_kind
    odd_offset = abs(offset) > 0.02 * abs(slope) * np.ptp(typed) + 3.0
    cost = ODD + (1.0 if odd_offset else 0.0)
    if slope < 0:
        cost += 1.0
    if best[0] <= cost:
        return best[1], best[2], best[3], best[0]
    half = float(1 << (8 * number.width - 1))
    exact = (
        1.5 * (number.encoding not in ("float", "ascii"))
        + 3.0 * float(np.median(errors))
        + 0.03 * abs(slope) * (zero_off < 1.0)
    )
    if number.encoding == "integer" and not number.mask and abs(offset - half) <= exact:
        return None, half, "half", ODD + 1.0
    if abs(offset) <= exact:
        return None, 0.0, "none", cost
    return None, offset, "odd", cost


def _zeros(
    scale: Scale, number: Number, offset: float, zero_off: float
) -> Iterator[tuple[float, str, float]]:
    """Give the numbers that may stand for nothing, with their costs."""
    if abs(offset - scale.offset) <= zero_off * scale.per_unit + 1.5:
        yield scale.offset, "none", 0.0
    if number.encoding == "integer" and not number.signed:
        half = float(1 << ((number.mask.bit_length() if number.mask else 8 * number.width) - 1))
        if abs(offset - half - scale.offset) <= zero_off * scale.per_unit + 1.5:
            yield half + scale.offset, "half", 0.5
    size = 10.0 ** max(0, math.floor(math.log10(abs(offset))) - 1) if abs(offset) >= 10 else 1.0
    rounded = round(offset / size) * size
    if abs(offset - rounded) <= min(0.2 * scale.per_unit + 0.6, 0.2 * size):
        yield rounded, "round", 3.0
    yield float(round(offset)), "odd", 5.0


def _path(values: Floats, levels: Floats, good: np.ndarray, noise: float, grid: float) -> float:
    """Give how far a number goes altogether, as a share of the way that the loads make it go."""
    way = float(np.abs(np.diff(levels)).sum())
    gone = np.abs(np.diff(values[good]))
    return float(gone[gone > 5.0 * noise + 2.0 * grid].sum()) / max(way, 1e-12)


def _switches(time_s: Floats, values: Floats, levels: Floats, loads: Sequence[Load]) -> Floats:
    """Give when a number went over from each level to the next: the time that halves the area of the step."""
    found = []
    for at in range(len(loads) - 1):
        height = levels[at + 1] - levels[at]
        first_s = loads[at].start_s + 0.6 * (loads[at].end_s - loads[at].start_s)
        last_s = loads[at + 1].start_s + 0.6 * (loads[at + 1].end_s - loads[at + 1].start_s)
        first, last = np.searchsorted(time_s, (first_s, last_s))
        part, when = values[first:last], time_s[first:last]
        known = np.isfinite(part)
        part, when = part[known], when[known]
        if part.size < 5 or height == 0:
            found.append(math.nan)
            continue
        done = (part - levels[at]) / height
        done[1:-1] = np.median((done[:-2], done[1:-1], done[2:]), axis=0)
        done = np.clip(done, -0.2, 1.2)
        held = np.diff(when, append=last_s)
        found.append(float(last_s - (done * held).sum()))
    return np.array(found)
