"""Edges of which the same is tried are fitted together, and what is possible of each is chosen from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.around import Around, Seen
from logger.curve.edges.choice import Choice, Known
from logger.curve.edges.fading import Left
from logger.curve.edges.linear import Fits
from logger.curve.edges.shapes import Response
from logger.curve.readings.runs import Flags


class Tried(Protocol):
    """What is tried of an edge."""

    @property
    def around_s(self) -> Floats:
        """The times that are tried, from the fitted one on; shape (c,)."""

    @property
    def odds(self) -> Floats:
        """Logarithm of how likely each way is beforehand; of a shape that spreads to (ways, ramps, times)."""

    def __hash__(self) -> int:
        """Tell what is tried apart."""


G = TypeVar("G", bound=Tried)

WAVERS_PER_S = 0.2
"""Standard deviation of how much a flow changes within a second, as a share of it."""


@dataclass(frozen=True, slots=True)
class Options(Generic[G]):
    """What is possible of some edges.

    :param at_s: the times that were tried, shape (e, 1, 1, c): when a start begins, when an end has stopped
    :param left: what may fade after an end
    """

    choice: Choice
    grid: G
    at_s: Floats
    fits: Fits
    left: Left | None = None


def weighed(
    seen: Sequence[Seen],
    grid_of: Callable[[Seen], G],
    response: Response,
    fitted: Callable[[Around, G, Response], tuple[Fits, Left | None]],
    summed: Callable[[Options[G]], list[Known]],
) -> list[Known | None]:
    """Weigh those edges together of which the same is tried; None for those of which nothing is possible."""
    known: list[Known | None] = [None] * len(seen)
    places_of: dict[G, list[int]] = {}
    for place, each in enumerate(seen):
        places_of.setdefault(grid_of(each), []).append(place)
    for grid, places in places_of.items():
        around = Around.of([seen[place] for place in places])
        options, possible = _options(*fitted(around, grid, response), grid, around.at_s)
        if options:
            found = [place for place, can_be in zip(places, possible.tolist(), strict=True) if can_be]
            for place, each_known in zip(found, summed(options), strict=True):
                known[place] = each_known
    return known


def _options(fits: Fits, left: Left | None, grid: G, edge_s: Floats) -> tuple[Options[G] | None, Flags]:
    """Choose among the fits of each edge of which anything is possible; which those are, shape (e,)."""
    score = score_of(fits, left, grid)
    possible = score.reshape(edge_s.size, -1).max(axis=1) > -np.inf
    if not possible.any():
        return None, possible
    if not possible.all():
        rows = possible.nonzero()[0]
        score, edge_s, fits, left = score[rows], edge_s[rows], fits.only(rows), left and left.only(rows)
    at_s = edge_s[:, None, None, None] + grid.around_s
    return Options(Choice.by(score, fits), grid, at_s, fits, left), possible


def score_of(fits: Fits, left: Left | None, grid: Tried) -> Floats:
    """Logarithm of how likely each of all is, minus infinity where it cannot be; shape (e, w, r, c)."""
    score, can_be = fits.score, fits.flow_g_s > 0.0
    if left is not None:
        score = score + grid.odds + np.log(left.chance)
        can_be = can_be & left.possible
    return np.where(can_be, score, -np.inf)


def wavering_precision(around: Around) -> Floats:
    """Precision of a flow's change, from its prior, shape (e, 1)."""
    return np.asarray(1.0 / (WAVERS_PER_S * np.maximum(around.flow_g_s, 0.5)) ** 2)[:, None]
