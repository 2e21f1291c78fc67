"""The curve so far, in as many points as a screen can show and no more."""

from __future__ import annotations

from collections.abc import Sequence

FIRST_SPACING_S = 0.1
MOST_ROWS = 1200
_NEARLY = 0.95

Row = tuple[float | None, ...]
"""The clock in s, the weight in g, and the corridor at that moment: low, plan and high in g, or None."""


class CurveLine:
    """Points in the order of the clock; thinned to every second one whenever there are too many.

    :param spacing_s: between two points, at first
    :param most: points that are kept
    """

    def __init__(self, spacing_s: float = FIRST_SPACING_S, most: int = MOST_ROWS) -> None:
        self._first_spacing_s, self._most = spacing_s, most
        self._spacing_s = spacing_s
        self.rows: list[Row] = []
        self.generation = 0
        """Goes up whenever earlier points have changed: what was drawn of them is then out of date."""

    def push(self, row: Row) -> None:
        """Take the newest point; it is left out where it is too close to the last one.

        A clock that goes back takes the later points away: the start was found to be another, or somebody
        looks at a part of the brew again.
        """
        clock_s = row[0] or 0.0
        if self.rows and clock_s < (self.rows[-1][0] or 0.0) - self._spacing_s:
            self._go_back(clock_s)
        if self.rows and clock_s < (self.rows[-1][0] or 0.0) + _NEARLY * self._spacing_s:
            return
        self.rows.append(row)
        if len(self.rows) >= self._most:
            self.rows = self.rows[::2]
            self._spacing_s *= 2.0
            self.generation += 1

    def replace(self, rows: Sequence[Row]) -> None:
        """Put other points in the place of all."""
        self.rows = list(rows)
        self.generation += 1

    def clear(self) -> None:
        """Begin anew."""
        self._spacing_s = self._first_spacing_s
        if self.rows:
            self.replace(())

    def _go_back(self, clock_s: float) -> None:
        self.replace([row for row in self.rows if (row[0] or 0.0) < clock_s])
