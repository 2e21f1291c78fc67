"""Two dozen simulated brews of each level, read once for all the tests that look at them."""

from __future__ import annotations

from functools import cache

from drivers.simulated import SimulatedBrew
from drivers.simulated.truth import TruePour
from logger.curve import Analysis, Pour, analyse
from tests.benchmarks.curve_suite import LEVELS, ReadPour, brews, matches, weights

COUNT = 24


@cache
def read_brews(level: str) -> list[tuple[SimulatedBrew, Analysis]]:
    """Give the brews of a level, each with what was read of it."""
    return [(brew, analyse(*weights(brew))) for brew in brews(LEVELS[level], COUNT)]


def matched(brew: SimulatedBrew, found: Analysis) -> list[tuple[Pour, TruePour]]:
    """Pair the pours that were read with the true ones."""
    by_times = {(pour.start_s, pour.end_s): pour for pour in found.pours}
    read = [ReadPour(pour.start_s, pour.end_s, pour.poured_g) for pour in found.pours]
    return [(by_times[one.start_s, one.end_s], true) for one, true in matches(read, brew.truth.pours)]
