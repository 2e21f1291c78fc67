"""Which pours belong to which stage of the target.

Stages and pours both come in order, and keep it. Between two ways of laying one on the other the cheaper is
taken, found by dynamic programming. What a match costs grows with how far its weights (where it ends, how
much it pours) and its start are off, but only up to a bound: a pour that is a minute late is still that
pour, as long as its weight fits.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from logger.compare.comparison import Finding
from logger.curve import Pour
from logger.target import Stage

_TIME_SCALE_S = (5.0, 20.0)
"""How late costs one unit: half the usual time from one stage to the next, within these limits."""

_LEAST_WEIGHT_SCALE_G = 8.0
_BOUND = 2.5
_MISSING = 2.0
_EXTRA = 2.0
_TOGETHER = 0.4
"""What each further pour or stage in a match costs: one to one is the simplest reading."""

_WHOLE_POUR_G = 10.0
"""A further pour of less costs less; a drip next to nothing."""

_MOST_TOGETHER = 4
_PAUSE_SCALE_S = 8.0
"""A pause inside a split stage; a longer one rather ends the stage."""


@dataclass(frozen=True, slots=True)
class Group:
    """Stages and pours that belong together.

    :param stages: positions in the target, neighbours, at least one
    :param pours: positions among the pours, neighbours; none where the stage is missing
    """

    stages: tuple[int, ...]
    pours: tuple[int, ...]

    @property
    def finding(self) -> Finding:
        """What this says of each of its stages."""
        if not self.pours:
            return "missing"
        if len(self.stages) > 1:
            return "merged"
        return "split" if len(self.pours) > 1 else "matched"


@dataclass(frozen=True, slots=True)
class Matching:
    """All stages in groups, in order, and the pours left over.

    :param groups: every stage is in one, every pour in one or in ``extra``
    :param extra: positions of pours that belong to no stage
    """

    groups: tuple[Group, ...]
    extra: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Step:
    """The cheapest way to a point in the table, and the step before."""

    cost: float
    before: _Step | None = None
    stages: tuple[int, ...] = ()
    pours: tuple[int, ...] = ()


def match(stages: Sequence[Stage], pours: Sequence[Pour], brew_start_s: float = 0.0) -> Matching:
    """Lay the pours of a brew on the stages of its target.

    :param stages: in order
    :param pours: in order of time
    :param brew_start_s: the first water, on the axis of the pours
    """
    price = _Price(stages, pours, brew_start_s)
    table: dict[tuple[int, int], _Step] = {(0, 0): _Step(0.0)}
    for stage in range(len(stages) + 1):
        for pour in range(len(pours) + 1):
            if (stage, pour) != (0, 0):
                steps = _steps_to(stage, pour, price, table)
                table[stage, pour] = min(steps, key=lambda step: step.cost)
    return _followed(table[len(stages), len(pours)])


def _steps_to(stage: int, pour: int, price: _Price, table: dict[tuple[int, int], _Step]) -> Iterator[_Step]:
    """Every last step that leads to having dealt with so many stages and so many pours."""
    for taken, given in _sizes(stage, pour):
        before = table[stage - taken, pour - given]
        chosen, used = tuple(range(stage - taken, stage)), tuple(range(pour - given, pour))
        yield _Step(before.cost + price.of(chosen, used), before, chosen, used)


def _sizes(stage: int, pour: int) -> Iterator[tuple[int, int]]:
    """How many stages and pours one step may take: never several of both."""
    if stage and pour:
        yield 1, 1
        yield from ((1, given) for given in range(2, min(pour, _MOST_TOGETHER) + 1))
        yield from ((taken, 1) for taken in range(2, min(stage, _MOST_TOGETHER) + 1))
    if stage:
        yield 1, 0
    if pour:
        yield 0, 1


def _followed(step: _Step) -> Matching:
    """The steps from the first to the last, sorted into groups and left-over pours."""
    groups: list[Group] = []
    extra: list[int] = []
    while step.before is not None:
        if step.stages:
            groups.append(Group(step.stages, step.pours))
        else:
            extra += step.pours
        step = step.before
    return Matching(tuple(reversed(groups)), tuple(reversed(extra)))


class _Price:
    """What it costs to say that some pours are some stages."""

    def __init__(self, stages: Sequence[Stage], pours: Sequence[Pour], brew_start_s: float) -> None:
        self._stages, self._pours, self._brew_start_s = stages, pours, brew_start_s
        poured_g = [stage.poured_g for stage in stages]
        apart_s = [after.start_s - before.start_s for before, after in pairwise(stages)]
        self._weight_scale_g = max(_LEAST_WEIGHT_SCALE_G, 0.25 * median(poured_g)) if poured_g else 1.0
        half_s = 0.5 * median(apart_s) if apart_s else _TIME_SCALE_S[1]
        self._time_scale_s = min(max(half_s, _TIME_SCALE_S[0]), _TIME_SCALE_S[1])

    def of(self, stages: tuple[int, ...], pours: tuple[int, ...]) -> float:
        if not pours:
            return _MISSING
        if not stages:
            return self._of_extra(self._pours[pours[0]])
        return self._of_together(
            [self._stages[number] for number in stages], [self._pours[number] for number in pours]
        )

    def _of_extra(self, pour: Pour) -> float:
        """A drip is cheap to leave over, a real pour is not."""
        return min(_EXTRA, 0.5 + pour.poured_g / self._weight_scale_g)

    def _of_together(self, stages: list[Stage], pours: list[Pour]) -> float:
        wanted_g = stages[-1].to_g - stages[0].from_g
        poured_g = pours[-1].to_g - pours[0].from_g
        off_g = 0.5 * abs(pours[-1].to_g - stages[-1].to_g) + 0.5 * abs(poured_g - wanted_g)
        off_s = abs(pours[0].start_s - self._brew_start_s - stages[0].start_s)
        pauses_s = sum(max(after.start_s - before.end_s, 0.0) for before, after in pairwise(pours))
        further = sum(min(pour.poured_g / _WHOLE_POUR_G, 1.0) for pour in pours[1:]) + len(stages) - 1
        off = off_g / self._weight_scale_g
        # That stages ran together, or one came in parts, is read from the weights alone: then no bound.
        return (
            (_bounded(off) if len(stages) == len(pours) else off)
            + _bounded(off_s / self._time_scale_s)
            + pauses_s / _PAUSE_SCALE_S
            + _TOGETHER * further
        )


def _bounded(cost: float) -> float:
    """Near zero the cost itself, never more than the bound."""
    return _BOUND * (1.0 - math.exp(-cost / _BOUND))
