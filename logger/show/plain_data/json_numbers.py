"""Numbers and truth values as JSON can carry them."""

from __future__ import annotations

import math


def number(value: float | None, decimals: int = 4) -> float | None:
    """Round for writing; what is no number becomes None, which JSON writes as null."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0


def span(between: tuple[float, float] | None, since: float = 0.0) -> list[float | None] | None:
    """Write a range as its lower and upper edge.

    :param since: where its numbers count from
    """
    return None if between is None else [number(edge - since) for edge in between]


def truth(inside: bool | None) -> bool | None:
    """Make a truth value of numpy's one that JSON can carry."""
    return None if inside is None else bool(inside)
