"""What really happened in a simulated brew, to hold an analysis against.

All times stand on the axis of the readings' ``time_s``, and are those of the pan: when the first water
touched it, when a vessel was lifted. A reading's own ``time_s`` is its arrival at the host and so a little
later than the moment it was taken at (latency, packing, radio); ``Truth.sample_s`` has that moment. The
scale's filter adds its lag to what the reading shows; ``Truth.instrument`` has the time constants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from drivers.reading import Reading
from drivers.simulated.bench import Bench
from drivers.simulated.hand import END_G_S
from drivers.simulated.percolation import TrueBed
from drivers.simulated.plan import Method
from drivers.simulated.scale import Instrument

Floats = NDArray[np.float64]
EventKind = Literal["tare", "vessel-on", "vessel-off", "dose", "knock", "stir", "gap"]

HALF_G = 0.5


@dataclass(frozen=True, slots=True)
class TruePour:
    """One pour as it was.

    :param start_s: the first water reaches the pan
    :param end_s: the last moment with 0.1 g/s or more
    :param poured_g: all that landed before the next pour, last drops included
    :param mean_flow_g_s: what landed between start and end, by that time
    :param t_half_g_s: when half a gram had landed
    """

    start_s: float
    end_s: float
    poured_g: float
    mean_flow_g_s: float
    t_half_g_s: float


@dataclass(frozen=True, slots=True)
class TrueEvent:
    """One event as it was; ``change_g`` is what it left behind in the reading."""

    kind: EventKind
    start_s: float
    end_s: float
    change_g: float


@dataclass(frozen=True, slots=True)
class Truth:
    """A brew as it was.

    :param brew_start_s: first water (or espresso) on the pan
    :param brew_end_s: end of the last pour
    :param lifted_s: the vessel (or the dripper) comes off, or None
    :param pump_start_s: for espresso, else None
    :param total_g: water (or espresso) that landed
    :param time_s: even grid; shape (n,)
    :param flow_g_s: mean rate at which water arrives, single drops smoothed over; shape (n,)
    :param weight_g: water that has landed, within a drop of the integral of the flow; shape (n,)
    :param sample_s: the moment at which each weight reading was taken, in the order of the weight readings
    :param halved_s: start and end of the pour whose flow halves, or None
    :param bed: what the bed held and let through, where that was simulated
    """

    method: Method
    pours: tuple[TruePour, ...]
    events: tuple[TrueEvent, ...]
    brew_start_s: float
    brew_end_s: float
    lifted_s: float | None
    pump_start_s: float | None
    total_g: float
    time_s: Floats
    flow_g_s: Floats
    weight_g: Floats
    sample_s: Floats
    instrument: Instrument
    halved_s: tuple[float, float] | None = None
    bed: TrueBed | None = None


@dataclass(frozen=True, slots=True)
class SimulatedBrew:
    """A brew that never happened: what a recorder would have got, in the order of arrival, and the truth."""

    readings: tuple[Reading, ...]
    truth: Truth
    duration_s: float


def true_pours(
    time_s: Floats, flow_g_s: Floats, weight_g: Floats, begins: Sequence[int]
) -> tuple[TruePour, ...]:
    """Read the pours off the true curves.

    :param begins: index of the first flow of each pour, in order
    """
    begins = [*(max(begin - 1, 0) for begin in begins), len(time_s) - 1]
    return tuple(_true_pour(time_s, flow_g_s, weight_g, first, last) for first, last in pairwise(begins))


def true_events(
    bench: Bench, zeros_g: Floats, first_zero_g: float, instrument: Instrument
) -> tuple[TrueEvent, ...]:
    """Gather what happened beside the pours, in order of time."""
    before_g = [first_zero_g, *zeros_g[:-1].tolist()]
    events = [
        *(TrueEvent(move.kind, move.start_s, move.end_s, move.change_g) for move in bench.moves),
        *(TrueEvent(shake.kind, shake.start_s, shake.end_s, 0.0) for shake in bench.shakes),
        *(
            TrueEvent("tare", tare.touch_s, tare.zero_s, before - zero)
            for tare, before, zero in zip(bench.tares, before_g, zeros_g.tolist(), strict=False)
        ),
        *(TrueEvent("gap", start_s, end_s, 0.0) for start_s, end_s in instrument.gaps_s),
    ]
    return tuple(sorted(events, key=lambda event: event.start_s))


def _true_pour(time_s: Floats, flow_g_s: Floats, weight_g: Floats, first: int, last: int) -> TruePour:
    before_g = weight_g[first]
    start = first + int(np.argmax(weight_g[first : last + 1] > before_g))
    flowing = np.flatnonzero(flow_g_s[first:last] >= END_G_S)
    end = first + int(flowing[-1]) if len(flowing) else start
    half = first + int(np.searchsorted(weight_g[first : last + 1], before_g + HALF_G))
    lasts_s = time_s[end] - time_s[start]
    return TruePour(
        start_s=float(time_s[start]),
        end_s=float(time_s[end]),
        poured_g=float(weight_g[last] - before_g),
        mean_flow_g_s=float((weight_g[end] - before_g) / lasts_s) if lasts_s > 0 else 0.0,
        t_half_g_s=float(time_s[min(half, last)]),
    )
