"""Which edges are tried around the one that fitted best: when, how long a ramp, what fades and drips."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.around import Seen
from logger.curve.readings.timebase import Places

FADES_TO_ONE = 100.0
BED_FADES_S, BED_FADES_DIFFER = 0.6, 0.8
"""So many espressos fade to one that stops at once; the usual time constant, and by how much machines differ
in it, standard deviation of the logarithm: a stream of 2 g/s is down to drops within 1 to 4 s of the stop,
three time constants (common practice)."""
LIP_FADES_TO_ONE = 0.8
"""A stream that a hand pours as slowly may run off the lip for long, and may as well be cut off: so likely is
each time constant, against a clean stop."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """The edges that are tried: times around the fitted one, ramps (both in whole steps) and fades.

    :param is_start: whether they are starts, whose ramps reach to later times; an end's reach to earlier ones
    :param is_thin: whether they are of streams as thin as an espresso
    :param drips_g_s: what may go on dripping after an end, none first; less than counts as flow
    :param odds_of_fades: how likely each fade is beforehand, against an end without one
    :param odds_of_drips: how likely it is that anything drips, against nothing
    """

    step_s: float
    back: int
    ahead: int
    ramps: tuple[int, ...]
    is_start: bool = False
    is_thin: bool = False
    fades_s: tuple[float, ...] = ()
    drips_g_s: tuple[float, ...] = (0.0,)
    odds_of_fades: tuple[float, ...] = ()
    odds_of_drips: float = 1.0
    around_s: Floats = field(init=False)
    """The times that are tried, from the fitted one on; shape (c,)."""
    reached_s: Floats = field(init=False)
    """Those times, and as many more as the ramps reach; shape (t,)."""
    own: slice = field(init=False)
    """Which of these are tried."""
    other_ends: Places = field(init=False)
    """Where in these each ramp has its other end, shape (r, c)."""
    ramps_s: Floats = field(init=False)
    """How long each ramp takes, shape (r,)."""
    ways_to_end_s: Floats = field(init=False)
    """How fast each end fades, 0 for not at all, once for each of what may drip; shape (d * (f + 1),)."""
    odds: Floats = field(init=False)
    """Logarithm of how likely each of these ways is beforehand; shape (d * (f + 1), 1, 1)."""

    def __post_init__(self) -> None:
        """Work out once what every weighing needs."""
        longest, ramps = self.ramps[-1], np.array(self.ramps)
        earlier, later = (0, longest) if self.is_start else (longest, 0)
        tried = np.arange(self.back + self.ahead + 1)
        reached_s = self.step_s * np.arange(-self.back - earlier, self.ahead + later + 1)
        own = slice(earlier, earlier + tried.size)
        worked_out = {
            "around_s": reached_s[own],
            "reached_s": reached_s,
            "own": own,
            "other_ends": earlier + (ramps if self.is_start else -ramps)[:, None] + tried,
            "ramps_s": self.step_s * ramps,
            "ways_to_end_s": np.tile([0.0, *self.fades_s], len(self.drips_g_s)),
            "odds": self._odds(),
        }
        for name, value in worked_out.items():
            object.__setattr__(self, name, value)

    def _odds(self) -> Floats:
        fades = np.log([1.0, *self.odds_of_fades])
        drips = np.full(len(self.drips_g_s), np.log(self.odds_of_drips / max(len(self.drips_g_s) - 1, 1)))
        drips[0] = 0.0
        return np.asarray((drips[:, None] + fades).reshape(-1, 1, 1))


def likely_of_a_bed(fades_s: tuple[float, ...]) -> Floats:
    """Say how likely each time constant of the pressure on a bed is, against the usual one."""
    off = np.log(np.array(fades_s) / BED_FADES_S) / BED_FADES_DIFFER
    return np.asarray(np.exp(-0.5 * off**2))


def grid_of_start(seen: Seen) -> Grid:
    """Say which starts are tried around one that was seen."""
    return _starts(is_thin=seen.is_thin)


def grid_of_end(seen: Seen) -> Grid:
    """Say which ends are tried around one that was seen, and that is not by a pump (see ``pump_stops``).

    Of one that has only just ended nothing tells what drips from what fades.
    """
    if not seen.is_thin:
        return _POUR_ENDS
    return _fresh_bed_ends() if seen.from_bed else _thin_ends(is_fresh=seen.is_fresh)


_POUR_ENDS = Grid(
    0.05,
    16,
    16,
    (2, 6, 12, 20, 32),
    fades_s=(0.25, 0.6),
    drips_g_s=(0.0, 0.04),
    odds_of_fades=(0.5, 0.5),
    odds_of_drips=0.5,
)


@cache
def _starts(*, is_thin: bool) -> Grid:
    if not is_thin:
        return Grid(0.05, 16, 11, (4, 8, 12, 17, 23, 30), is_start=True)
    return Grid(0.1, 25, 25, (1, 3, 8, 16, 30, 50, 70), is_start=True, is_thin=True)


_THIN_FADES_S = 0.3, 0.6, 1.0, 1.6, 2.4


@cache
def _thin_ends(*, is_fresh: bool) -> Grid:
    drips_g_s = (0.0,) if is_fresh else (0.0, 0.02, 0.04, 0.06)
    return _ends_of_thin(drips_g_s, (LIP_FADES_TO_ONE,) * len(_THIN_FADES_S))


@cache
def _fresh_bed_ends() -> Grid:
    return _ends_of_thin((0.0,), _fades_of_a_bed(_THIN_FADES_S))


def _ends_of_thin(drips_g_s: tuple[float, ...], odds: tuple[float, ...]) -> Grid:
    return Grid(
        0.1,
        30,
        10,
        (1, 3, 8, 16, 30),
        is_thin=True,
        fades_s=_THIN_FADES_S,
        drips_g_s=drips_g_s,
        odds_of_fades=odds,
    )


def _fades_of_a_bed(fades_s: tuple[float, ...]) -> tuple[float, ...]:
    """Say how likely each fade of an espresso is beforehand, by its time constant.

    The pressure on a bed goes as the water runs out of it: hardly one stops without a fade.
    """
    likely = likely_of_a_bed(fades_s)
    return tuple((FADES_TO_ONE * likely / likely.sum()).tolist())
