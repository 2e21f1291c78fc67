"""Numbers that follow the loads, the best one first."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.numbers.fitting import Fit


def put_first(first: Fit, prompt: Sequence[Fit]) -> list[Fit]:
    """Put one of some numbers first, and leave the others in their order."""
    return [first, *(one for one in prompt if one is not first)]
