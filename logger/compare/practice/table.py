"""A practice set as one table: a row for each brew, a column for each figure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from logger.compare.comparison import Brew, Comparison, Deviation, Quantity, StageResult
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.measured import besides, end_flow_g_s
from logger.compare.practice.results import (
    Kind,
)
from logger.target import Stage, Target

WHOLE = -1
"""Instead of a stage's place in the target: the whole brew."""

OUTSIDE, INSIDE, UNTOLD = 0, 1, -1

_UNITS = {"_g_s": "g/s", "_percent": "%", "_s": "s", "_g": "g", "_c": "°C"}
_ORDER: tuple[Quantity, ...] = (
    "first_drip_s",
    "start_s",
    "end_s",
    "to_g",
    "poured_g",
    "total_g",
    "flow_g_s",
    "drawdown_s",
    "resistance_s",
    "water_c",
    "strength_percent",
)


@dataclass(frozen=True, slots=True)
class Column:
    """One figure.

    :param stage: place of its stage in the target, or ``WHOLE``
    :param name: the stage's name, or ``""``
    :param wanted: NaN where the target says nothing
    :param limits: least and most that count as inside; NaN where there are none
    :param judged: whether the target says anything of it
    :param why: why it could not be told in most brews, a clause; empty where it could
    """

    stage: int
    name: str
    quantity: Quantity
    unit: str
    kind: Kind
    wanted: float
    limits: tuple[float, float]
    judged: bool
    why: str

    @property
    def key(self) -> tuple[str, Quantity]:
        """Its name for the reader of results."""
        return self.name, self.quantity

    @property
    def has_limits(self) -> bool:
        """Whether the target says what is inside."""
        return math.isfinite(self.limits[0]) and math.isfinite(self.limits[1])


@dataclass(frozen=True, slots=True)
class Table:
    """All figures of all brews, in the order in which they were brewed.

    :param brews: those that hold a brew
    :param given: of each its place among the brews given
    :param values: NaN where not measured, shape (n, k)
    :param inside: ``INSIDE``, ``OUTSIDE`` or ``UNTOLD``, shape (n, k)
    :param steps: the finest difference that could be told, 0 where nothing was said of it, shape (n, k)
    :param skipped: whether a pour was skipped, ran into another, or was one too many, shape (n,)
    :param end_flow_g_s: the flow at the end of each stage, NaN where not known, shape (n, stages)
    """

    target: Target
    brews: tuple[Brew, ...]
    given: tuple[int, ...]
    columns: tuple[Column, ...]
    values: Floats
    inside: NDArray[np.int8]
    steps: Floats
    skipped: NDArray[np.bool_]
    end_flow_g_s: Floats

    @property
    def n(self) -> int:
        """Brews."""
        return len(self.brews)

    @property
    def comparisons(self) -> list[Comparison]:
        """One for each brew."""
        return [brew.comparison for brew in self.brews if brew.comparison is not None]

    @property
    def started(self) -> tuple[datetime | None, ...]:
        """One for each brew."""
        return tuple(brew.recording.meta.started for brew in self.brews)


_LONG_AGO = datetime.min.replace(tzinfo=UTC)
Cell = tuple[Deviation, bool]
"""A figure of one brew, and whether the target says anything of it."""


def table_of(brews: Sequence[Brew], target: Target, strengths: Mapping[str, float]) -> Table:
    """Lay out what was measured.

    :param brews: each compared with this target; those without a brew in them are left out
    :param strengths: by recording name, % of mass
    """
    held = [
        number
        for number, brew in enumerate(brews)
        if brew.analysis.start_s is not None and brew.comparison is not None
    ]
    if all(brews[number].recording.meta.started is not None for number in held):
        held.sort(key=lambda number: brews[number].recording.meta.started or _LONG_AGO)
    chosen = tuple(brews[number] for number in held)
    rows = [dict(_cells(brew, target, strengths)) for brew in chosen]
    keys = sorted({key for row in rows for key in row}, key=_in_order)
    cells = [[row.get(key) for key in keys] for row in rows]
    shape = (len(rows), len(keys))
    return Table(
        target=target,
        brews=chosen,
        given=tuple(held),
        columns=tuple(_column(key, [row.get(key) for row in rows], target) for key in keys),
        values=np.array([[_value(cell) for cell in row] for row in cells], dtype=np.float64).reshape(shape),
        inside=np.array([[_inside(cell) for cell in row] for row in cells], dtype=np.int8).reshape(shape),
        steps=np.array([[cell[0].step if cell else 0.0 for cell in row] for row in cells]).reshape(shape),
        skipped=np.array([_is_skipped(brew.comparison) for brew in chosen], dtype=np.bool_),
        end_flow_g_s=np.array(
            [[end_flow_g_s(brew, stage) for stage in range(len(target.stages))] for brew in chosen]
        ).reshape(len(rows), len(target.stages)),
    )


Key = tuple[int, Quantity]


def _in_order(key: Key) -> tuple[int, int]:
    stage, quantity = key
    return (stage if stage != WHOLE else 10_000), _ORDER.index(quantity)


def _cells(brew: Brew, target: Target, strengths: Mapping[str, float]) -> Iterator[tuple[Key, Cell]]:
    """Every figure of a brew: those held against the target, then those measured besides."""
    comparison = brew.comparison
    if comparison is None:
        return
    for number, result in enumerate(comparison.stages):
        if result.finding in ("matched", "split"):
            judged = {each.quantity for each in result.deviations}
            yield from (((number, each.quantity), (each, True)) for each in result.deviations)
            for quantity, value in besides(result, brew.analysis):
                if quantity not in judged:
                    yield (number, quantity), (_only_measured(quantity, value), False)
    yield from (((WHOLE, each.quantity), (each, True)) for each in comparison.whole)
    yield from (
        ((WHOLE, quantity), (_only_measured(quantity, value), False))
        for quantity, value in _whole_besides(brew, target, strengths)
    )


def _whole_besides(
    brew: Brew, target: Target, strengths: Mapping[str, float]
) -> Iterator[tuple[Quantity, float]]:
    strength = strengths.get(brew.recording.name)
    if strength is not None:
        yield "strength_percent", strength
    drawdown = brew.drawdown
    if target.shot or drawdown is None:
        return
    if drawdown.lasts_s is not None:
        yield "drawdown_s", drawdown.lasts_s
    if drawdown.tail is not None:
        yield "resistance_s", drawdown.tail.tau_s


def _only_measured(quantity: Quantity, value: float) -> Deviation:
    return Deviation(quantity, math.nan, value, math.nan, None, "the target says nothing of it")


def _value(cell: Cell | None) -> float:
    """What was measured; NaN where a pour was cut off, or readings were missing at that moment."""
    if cell is None or (cell[1] and _is_lost_figure(cell[0])):
        return math.nan
    return cell[0].actual


def _is_lost_figure(deviation: Deviation) -> bool:
    is_coarse = deviation.window is not None or deviation.step > deviation.tolerance
    return deviation.inside is None and not is_coarse


def _inside(cell: Cell | None) -> int:
    return UNTOLD if cell is None or cell[0].inside is None else INSIDE if cell[0].inside else OUTSIDE


def _is_skipped(comparison: Comparison | None) -> bool:
    return comparison is not None and (bool(comparison.extra) or any(map(_is_lost, comparison.stages)))


def _is_lost(result: StageResult) -> bool:
    return result.finding in ("missing", "merged")


def _column(key: Key, cells: Sequence[Cell | None], target: Target) -> Column:
    """Make a column of its cells, of which there is at least one."""
    number, quantity = key
    stage = target.stages[number] if number != WHOLE else None
    found = [cell for cell in cells if cell is not None]
    deviations, judged = [deviation for deviation, _ in found], any(told for _, told in found)
    limits = {_limits(each) for each in deviations} if judged else set()
    # From the pump in some and from the first drip in others: two different figures.
    one = limits.pop() if len(limits) == 1 else (math.nan, math.nan)
    window = deviations[0].window is not None
    why = [each.why for each in deviations if each.inside is None]
    return Column(
        stage=number,
        name=stage.name if stage else "",
        quantity=quantity,
        unit=next(unit for end, unit in _UNITS.items() if quantity.endswith(end)),
        kind=_kind(quantity, stage),
        wanted=sum(one) / 2 if window else deviations[0].wanted,
        limits=one,
        judged=judged,
        why=max(set(why), key=why.count) if 2 * len(why) > len(found) else "",
    )


def _limits(deviation: Deviation) -> tuple[float, float]:
    if deviation.window is not None:
        return deviation.window
    return deviation.wanted - deviation.tolerance, deviation.wanted + deviation.tolerance


def _kind(quantity: Quantity, stage: Stage | None) -> Kind:
    if quantity == "water_c":
        return "water"
    if quantity == "strength_percent":
        return "cup"
    is_bed = quantity in ("drawdown_s", "resistance_s", "first_drip_s") or (quantity == "end_s" and not stage)
    return "bed" if is_bed else "hand"
