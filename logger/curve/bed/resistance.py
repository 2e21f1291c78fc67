"""What the bed did, read from two scales: water in, beverage out, what stays between, how freely it flows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.bed.drawdown import DRY_FLOW_G_S, Drawdown
from logger.curve.bed.stretches import Stretch, find_stretches
from logger.curve.bed.two_scales import (
    ARRANGEMENTS,
    LEAST_DRIPPED_G,
    Arrangement,
    Streams,
    Weighed,
    together,
    weighed,
)
from logger.curve.brew import Floats, Pour
from logger.curve.pours.flow import half_for, slope_g_s
from logger.curve.readings.runs import Flags

WATER_G_ML = 0.965
"""Water at 90 °C (IAPWS-95: 0.96531 g/mL); a head of water in millimetres needs no better."""

_WANTED_FLOW_SD_G_S = 0.08
_FLOW_OVER_S = (1.5, 6.0)
_BEFORE_LIFT_S = 0.4
_LAST_POINTS = 10
_FIRST_DRIP_G = 0.1
_TOO_SOON = "{what} {before:.0f} s before, by its tail, the flow would have fallen below {flow:g} g/s"

Readings = tuple[object, object]
"""Times in s and weights in g, as recorded; shapes (n,)."""


@dataclass(frozen=True, slots=True)
class Bed:
    """What the bed did. Curves stand on one even grid; NaN where nothing was measured; shapes (n,).

    :param arrangement: what the two scales carried; None where nothing can be told
    :param water_g: water poured since the first
    :param beverage_g: what has come through
    :param held_g: water in the bed and above it: water less beverage
    :param flow_g_s: percolation flow, the rate at which beverage comes
    :param pours: of the water
    :param end_s: until when it was measured; None where nothing can be told
    :param first_drip_s: when the first beverage reached the server, None where none did
    :param held_end_g: held at ``end_s``
    :param held_sd_g: its standard deviation, by step and noise of both scales
    :param kept_g: what the grounds hold back when all has dripped off, None where the tail is not told
    :param drip_off_g: what had not come through at ``end_s``, by the tail; None where that is not told
    :param drawdown: the end of the brew; None where nothing can be told
    :param stretches: the bed's resistance after each pour
    :param dose_g: dry coffee, where known
    :param lifts_s: when something was lifted while it dripped, and until when
    :param step_g: the coarser of the two displays' steps
    :param why: one clause where nothing can be told, else empty
    """

    arrangement: Arrangement | None
    time_s: Floats
    water_g: Floats
    beverage_g: Floats
    held_g: Floats
    flow_g_s: Floats
    pours: tuple[Pour, ...] = ()
    end_s: float | None = None
    first_drip_s: float | None = None
    held_end_g: float | None = None
    held_sd_g: float | None = None
    kept_g: float | None = None
    drip_off_g: float | None = None
    drawdown: Drawdown | None = None
    stretches: tuple[Stretch, ...] = ()
    dose_g: float | None = None
    lifts_s: tuple[tuple[float, float], ...] = ()
    step_g: float = 0.0
    why: str = ""

    @property
    def tau_s(self) -> float | None:
        """Tau of the drawdown: the bed's resistance when all water is in; None where it cannot be told."""
        tail = self.drawdown.tail if self.drawdown else None
        return tail.tau_s if tail else None

    @property
    def held_per_dose(self) -> float | None:
        """Water held at the end, g for each g of dose."""
        if self.held_end_g is None or not self.dose_g:
            return None
        return self.held_end_g / self.dose_g

    @property
    def free_g(self) -> Floats | None:
        """Water that will still come through, shape (n,); None where what the grounds keep is not known.

        Early in a brew the grounds have not soaked up all that they keep: it is too low by what is missing.
        """
        return None if self.kept_g is None else np.maximum(self.held_g - self.kept_g, 0.0)

    def head_mm(self, area_cm2: float) -> Floats | None:
        """The head of free water on a bed of steady section, mm, shape (n,); None where it is not known.

        :param area_cm2: of the bed's section
        """
        free_g = self.free_g
        return None if free_g is None else free_g / WATER_G_ML / area_cm2 * 10.0


def conductivity_mm_s(tau_s: float, depth_mm: float) -> float:
    """Hydraulic conductivity of a bed from its tau: ``K = L / tau``.

    The falling-head permeameter of soil mechanics, ``K = L / t ln(h1 / h2)``, with a head as wide as the bed.

    :param depth_mm: of the wet bed
    """
    return depth_mm / tau_s


def read_bed(
    scale: Readings,
    server: Readings,
    *,
    arrangement: Arrangement | None = None,
    dose_g: float | None = None,
    dry_s: float | None = None,
    response_s: tuple[float | None, float | None] = (None, None),
) -> Bed:
    """Read what the bed did from two scales on one clock.

    :param scale: of the scale under everything, or under the dripper alone
    :param server: of the scale under server or cup; or, below a scale under everything, under the dripper
    :param arrangement: what the scales carry; None to tell it from the curves
    :param dose_g: dry coffee, where known
    :param dry_s: when the brewer marked that the bed had run dry, on the same clock
    :param response_s: each scale's own response time, where known
    :returns: a bed with ``why`` where the readings tell nothing
    :raises ValueError: when arrays do not match, time runs backwards, or the arrangement is unknown
    """
    if arrangement is not None and arrangement not in ARRANGEMENTS:
        raise ValueError(f"arrangement {arrangement!r} is not one of {', '.join(ARRANGEMENTS)}")
    first, second = _named("scale", scale, response_s[0]), _named("server", server, response_s[1])
    if first is None or second is None:
        return untold(f"the {'scale' if first is None else 'server'} has too few readings")
    streams = together(first, second, arrangement)
    if isinstance(streams, str):
        return untold(streams)
    return _read(streams, dose_g, dry_s, (first.noise_g, second.noise_g))


def _named(name: str, readings: Readings, response_s: float | None) -> Weighed | None:
    if response_s is not None and not 0.0 <= response_s <= 10.0:
        raise ValueError(f"{name}: a response time of {response_s!r} s is not one that a scale can have")
    try:
        return weighed(*readings, response_s, takes_solids=name == "scale")
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from error


def _read(streams: Streams, dose_g: float | None, dry_s: float | None, noises_g: tuple[float, float]) -> Bed:
    end_s = _end_s(streams)
    shown = streams.measured & (streams.time_s <= end_s)
    beverage = np.where(shown, streams.beverage_g, np.nan)
    flow = np.where(shown, _flow_g_s(streams), np.nan)
    dripped_g = _last(streams.beverage_g, shown)
    first_drip_s = _first_drip_s(streams, shown)
    if first_drip_s is None or dripped_g < LEAST_DRIPPED_G:
        return untold("nothing came through: neither scale shows beverage arriving in a server")
    stretches = find_stretches(streams, end_s)
    drawdown = _drawdown(streams, stretches, flow, end_s, dry_s)
    tail = drawdown.tail
    held_end_g = _last(streams.water_g - streams.beverage_g, shown)
    return Bed(
        streams.arrangement,
        streams.time_s,
        streams.water_g,
        beverage,
        streams.water_g - beverage,
        flow,
        pours=streams.pours,
        end_s=end_s,
        first_drip_s=first_drip_s,
        held_end_g=held_end_g,
        held_sd_g=float(
            np.hypot(streams.step_g / np.sqrt(12.0), 2.0 * np.hypot(*noises_g) / np.sqrt(_LAST_POINTS))
        ),
        kept_g=held_end_g - tail.left_g(end_s) if tail else None,
        drip_off_g=tail.left_g(end_s) if tail else None,
        drawdown=drawdown,
        stretches=stretches,
        dose_g=dose_g,
        lifts_s=tuple(lift for lift in streams.lifts_s if lift[0] < end_s),
        step_g=streams.step_g,
    )


def _last(values: Floats, shown: Flags) -> float:
    """What was measured last: the end of a line through a few values."""
    seen = values[shown][-_LAST_POINTS:]
    if seen.size < 3:
        return float(seen[-1]) if seen.size else 0.0
    at = np.arange(seen.size) - 0.5 * (seen.size - 1)
    return float(seen.mean() + at[-1] * (at @ seen) / (at @ at))


def _end_s(streams: Streams) -> float:
    """The last moment that counts: before dripper or server are taken away, or the readings end."""
    until_s = min(streams.ends_s - _BEFORE_LIFT_S, float(streams.time_s[-1]))
    seen = streams.time_s[streams.measured & (streams.time_s <= until_s)]
    return float(seen[-1]) if seen.size else float(streams.time_s[0])


def _flow_g_s(streams: Streams) -> Floats:
    step_s = float(streams.time_s[1] - streams.time_s[0])
    half = half_for(streams.noise_g, step_s, _WANTED_FLOW_SD_G_S, *_FLOW_OVER_S)
    return np.maximum(slope_g_s(streams.beverage_g, half, step_s), 0.0)


def _first_drip_s(streams: Streams, shown: Flags) -> float | None:
    """When the beverage leaves its level for good, read back along its slope to where it left it."""
    time, beverage = streams.time_s[shown], streams.beverage_g[shown]
    low_g = max(4.0 * streams.noise_g, 1.2 * streams.step_g, _FIRST_DRIP_G)
    above = np.flatnonzero(beverage > low_g)
    if not above.size or not time.size:
        return None
    below = np.flatnonzero(beverage <= low_g)
    below = below[below < above[-1]]
    at = int(below[-1]) + 1 if below.size else 0
    ahead = min(at + max(round(2.0 / float(streams.time_s[1] - streams.time_s[0])), 1), time.size - 1)
    rises_g_s = (beverage[ahead] - beverage[at]) / max(time[ahead] - time[at], 1e-6)
    back_s = min(beverage[at] / rises_g_s, 3.0) if rises_g_s > 0.0 else 0.0
    return float(max(time[at] - back_s, streams.pours[0].start_s))


def _drawdown(
    streams: Streams, stretches: tuple[Stretch, ...], flow: Floats, end_s: float, dry_s: float | None
) -> Drawdown:
    start_s = streams.pours[-1].end_s
    last = stretches[-1] if stretches else None
    tail = last.tail if last else None
    found_s = tail.falls_below_s(DRY_FLOW_G_S) if tail else _thin_since_s(streams.time_s, flow, start_s)
    if found_s is not None and found_s <= end_s:
        return Drawdown(start_s, max(found_s, start_s), "flow", tail=tail)
    if dry_s is not None and dry_s >= start_s:
        return Drawdown(start_s, dry_s, "mark", tail=tail)
    if tail is None or found_s is None:
        return Drawdown(
            start_s, None, None, why=last.why if last and last.why else "the flow never fell so low"
        )
    what = "dripper or server was lifted away" if np.isfinite(streams.ends_s) else "the readings ended"
    why = _TOO_SOON.format(what=what, before=max(found_s - end_s, 1.0), flow=DRY_FLOW_G_S)
    return Drawdown(start_s, None, None, tail=tail, why=why)


def _thin_since_s(time_s: Floats, flow: Floats, start_s: float) -> float | None:
    """From when on the measured flow stays small, None where it does not."""
    after = (time_s >= start_s) & np.isfinite(flow)
    time, flow = time_s[after], flow[after]
    full = np.flatnonzero(flow >= DRY_FLOW_G_S)
    if not time.size or (full.size and full[-1] >= time.size - 3):
        return None
    return float(time[full[-1] + 1]) if full.size else float(time[0])


def untold(why: str) -> Bed:
    """Give the bed of which nothing can be told.

    :param why: one clause
    """
    nothing = np.zeros(0)
    return Bed(None, nothing, nothing, nothing, nothing, nothing, why=why)
