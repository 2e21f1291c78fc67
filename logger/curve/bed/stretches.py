"""The bed's resistance over the brew: one tau for each stretch in which nothing is poured.

Within a stretch, what comes through follows an exponential tail (``drawdown``). One that lasts long enough
shows its own end. One that is cut short by the next pour does not; but the water that the grounds hold back
is known from the end of the brew, so what would come through is known, too: what was poured less that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from logger.curve.bed.drawdown import FEWEST_POINTS, MOST_UNSURE, Tail, fit_tail
from logger.curve.bed.two_scales import Streams
from logger.curve.brew import Floats

LEAST_PASSED_G = 2.0
SHORTEST_S = 4.0
SURE = 0.1
"""A tail of its own whose tau is as well known as that needs nothing from the end of the brew."""

_SETTLES_S = 1.0
_BEFORE_S = 0.4
_HELD_UNSURE_G = 2.0
_FLOW_OVER_S, _FULLER, _DRIPS_G_S = 3.0, 1.2, 0.15

EndFrom = Literal["tail", "held"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch without inflow, from the end of a pour to the next one's start, or to the end.

    :param after_pour: number of the pour before it, from 1
    :param passed_g: beverage that came through
    :param tail: None where it cannot be told
    :param end_from: how its end is known: from its own ``tail``, or from the water ``held`` at the brew's end
    :param why: one clause where there is no tail
    """

    after_pour: int
    start_s: float
    end_s: float
    passed_g: float
    tail: Tail | None
    end_from: EndFrom | None = None
    why: str = ""

    @property
    def flow_per_head_s(self) -> float | None:
        """Flow in g/s for each g of free water: ``1 / tau``."""
        return None if self.tail is None else 1.0 / self.tail.tau_s


def find_stretches(streams: Streams, until_s: float) -> tuple[Stretch, ...]:
    """Measure every stretch, the last one first: it says how much water the grounds hold back.

    :param until_s: when the last reading was taken that counts
    """
    spans = _spans(streams, until_s)
    if not spans:
        return ()
    last = _measured(streams, len(spans), spans[-1], None)
    kept = _kept_g(streams, last.tail)
    earlier = [_measured(streams, number, span, kept) for number, span in enumerate(spans[:-1], 1)]
    return (*earlier, last)


def _spans(streams: Streams, until_s: float) -> list[tuple[float, float]]:
    starts = [pour.end_s for pour in streams.pours]
    ends = [*(pour.start_s for pour in streams.pours[1:]), until_s]
    return [(start_s, max(min(end_s, until_s), start_s)) for start_s, end_s in zip(starts, ends, strict=True)]


def _kept_g(streams: Streams, tail: Tail | None) -> tuple[float, float] | None:
    """Water that the grounds hold back, and its standard deviation; None where that is not known."""
    if tail is None or tail.end_sd_g > _HELD_UNSURE_G:
        return None
    return _water_at(streams, tail.start_s) - tail.end_g, tail.end_sd_g


def _water_at(streams: Streams, time_s: float) -> float:
    """Water poured by a time: the median of a second, so that no single reading decides."""
    near = (streams.time_s >= time_s) & (streams.time_s <= time_s + 1.5)
    values = streams.water_g[near]
    return (
        float(np.median(values)) if values.size else float(np.interp(time_s, streams.time_s, streams.water_g))
    )


def _measured(
    streams: Streams, number: int, span: tuple[float, float], kept: tuple[float, float] | None
) -> Stretch:
    """Fit the tail of one stretch.

    :param kept: water held back at the brew's end and its standard deviation, where that is known
    """
    start_s, end_s = span
    begins_s = max(start_s + _SETTLES_S, _fullest_s(streams, start_s, end_s))
    within = (streams.time_s >= begins_s) & (streams.time_s <= end_s - _BEFORE_S)
    time, through = streams.time_s[within], streams.beverage_g[within]
    seen = streams.measured[within]
    passed_g = _passed_g(streams, start_s, end_s)
    stretch = Stretch(number, start_s, end_s, passed_g, None)
    if end_s - start_s < SHORTEST_S:
        return replace(stretch, why="the next pour followed too soon")
    if passed_g < LEAST_PASSED_G:
        return replace(stretch, why=f"less than {LEAST_PASSED_G:g} g came through")
    if np.count_nonzero(seen) < max(FEWEST_POINTS, 0.6 * seen.size):
        return replace(stretch, why="the scales were not read, or a vessel was lifted, for much of it")
    time, through = time[seen], through[seen]
    tail, end_from = _either(streams, time, through, kept)
    if tail is None or tail.unsure > MOST_UNSURE:
        return replace(stretch, why=_why_unsure(streams, passed_g, tail))
    return replace(stretch, tail=tail, end_from=end_from)


def _fullest_s(streams: Streams, start_s: float, end_s: float) -> float:
    """When the flow is fullest, where that is not at once: grounds that still soak, a valve opened later."""
    within = (streams.time_s >= start_s) & (streams.time_s <= end_s)
    time, through = streams.time_s[within], streams.beverage_g[within]
    half = (
        max(round(_FLOW_OVER_S / max(float(np.median(np.diff(time))), 1e-3)) // 2, 1) if time.size > 2 else 1
    )
    if time.size < 4 * half + 2:
        return start_s
    flow = (through[2 * half :] - through[: -2 * half]) / (time[2 * half :] - time[: -2 * half])
    fullest = int(np.argmax(flow))
    return (
        float(time[fullest + half]) if flow[fullest] > _FULLER * max(flow[0], 0.0) + _DRIPS_G_S else start_s
    )


def _either(
    streams: Streams, time: Floats, through: Floats, kept: tuple[float, float] | None
) -> tuple[Tail | None, EndFrom]:
    """The tail with its own end where that is well known, else with the end that the brew's end tells."""
    own = fit_tail(time, through, streams.noise_g)
    if kept is None or (own is not None and own.unsure <= SURE):
        return own, "tail"
    kept_g, sd_g = kept
    end_g = _water_at(streams, float(time[0])) - kept_g
    given = fit_tail(time, through, streams.noise_g, end_g)
    wider = fit_tail(time, through, streams.noise_g, end_g + max(sd_g, streams.noise_g))
    if given is None or wider is None:
        return own, "tail"
    sd_s = float(np.hypot(given.tau_sd_s, wider.tau_s - given.tau_s))
    given = replace(given, tau_sd_s=sd_s)
    return (own, "tail") if own is not None and own.unsure < given.unsure else (given, "held")


def _passed_g(streams: Streams, start_s: float, end_s: float) -> float:
    first, last = np.interp([start_s, end_s], streams.time_s, streams.beverage_g)
    return float(last - first)


def _why_unsure(streams: Streams, passed_g: float, tail: Tail | None) -> str:
    if streams.step_g > 0.05 * passed_g:
        return f"the scales show steps of {streams.step_g:.3g} g, and {passed_g:.1f} g came through"
    if tail is None:
        return "the flow does not fall as a head of water does"
    return f"it ended too soon: tau would be known to {100.0 * tail.unsure:.0f} % at best"
