"""Many brews of one target on one time axis: weight, flow, thermometers, with their median and spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from logger.curve import Floats

if TYPE_CHECKING:
    from logger.compare import Brew, Spread

Kind = Literal["weight", "off the plan", "flow", "temperature"]

OFF_PLAN = "off-plan"
_OWN_KEYS = ("weight", OFF_PLAN, "flow")
LEAST_FOR_HALF = 4
"""From so many brews on the quartiles are more than the brews themselves."""
LEAST_FOR_MOST = 20
"""From so many brews on the 5 % and 95 % quantiles lie between brews, not at the outermost."""
_TEMPERATURE_STEP_S = 1.0
_LONGEST_SILENCE_S = 5.0
_SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True, slots=True)
class Curves:
    """One quantity of all brews, on one even grid from their first weight on.

    :param key: ``weight``, ``off-plan`` (the same less the planned weight), ``flow``, or the
        thermometer's channel
    :param time_s: shape (t,)
    :param values: NaN where a brew has no readings, shape (n, t)
    :param n_at: brews with a reading at each time, shape (t,)
    :param median: NaN where fewer than half of the brews have a reading, as are the others; shape (t,)
    :param half: the middle half of the brews, from 4 brews on; else None
    :param most: the middle nine tenths, from 20 brews on; else None
    """

    key: str
    kind: Kind
    unit: str
    time_s: Floats
    values: Floats
    n_at: Floats
    median: Floats
    half: tuple[Floats, Floats] | None
    most: tuple[Floats, Floats] | None

    @property
    def n(self) -> int:
        """How many brews have any reading."""
        return int(np.isfinite(self.values).any(axis=1).sum())


def overlay_curves(held: Sequence[Brew], spread: Spread) -> tuple[Curves, ...]:
    """Lay brews over each other: weight, flow, then every thermometer that any of them had.

    :param held: the brews that ``spread`` is made of, in its order
    """
    from logger.target import curve, first_weight_s

    if not held:
        return ()
    time_s = spread.time_s - first_weight_s(spread.target)
    step_s = float(time_s[1] - time_s[0]) if len(time_s) > 1 else 1.0
    flows = np.array([_flow_of(brew, time_s) for brew in held])
    slow_s = time_s[:: max(1, round(_TEMPERATURE_STEP_S / step_s))]
    channels = dict.fromkeys(name for brew in held for name in brew.temperatures)
    return (
        _curves("weight", "weight", "g", time_s, spread.weight_g),
        _curves(OFF_PLAN, "off the plan", "g", time_s, spread.weight_g - curve(spread.target, spread.time_s)),
        _curves("flow", "flow", "g/s", time_s, flows),
        *(
            _curves(_key(name), "temperature", "°C", slow_s, _waters_of(held, name, slow_s))
            for name in channels
        ),
    )


def pointwise_quantiles(values: Floats, shares: Sequence[float]) -> list[Floats]:
    """Quantiles over the brews at each time, by straight lines between brews; NaN where there is no brew.

    What ``numpy.nanquantile`` gives, without its loop over the times.

    :param values: shape (n, t), n at least 1
    :return: one of shape (t,) for each share
    """
    ordered = np.sort(values, axis=0)  # NaN last
    last = np.maximum(np.isfinite(values).sum(axis=0) - 1, 0)
    found = []
    for share in shares:
        at = share * last
        below, above = np.floor(at).astype(np.intp), np.ceil(at).astype(np.intp)
        low = np.take_along_axis(ordered, below[np.newaxis], axis=0)[0]
        high = np.take_along_axis(ordered, above[np.newaxis], axis=0)[0]
        found.append(low + (at - below) * (high - low))
    return found


def _curves(key: str, kind: Kind, unit: str, time_s: Floats, values: Floats) -> Curves:
    n_at = np.isfinite(values).sum(axis=0)
    n = int(np.isfinite(values).any(axis=1).sum())
    told = n_at >= max(n / 2, 1)
    bands = [np.where(told, band, np.nan) for band in pointwise_quantiles(values, _SHARES)]
    return Curves(
        key=key,
        kind=kind,
        unit=unit,
        time_s=time_s,
        values=values,
        n_at=n_at.astype(np.float64),
        median=bands[2],
        half=(bands[1], bands[3]) if n >= LEAST_FOR_HALF else None,
        most=(bands[0], bands[4]) if n >= LEAST_FOR_MOST else None,
    )


def _flow_of(brew: Brew, time_s: Floats) -> Floats:
    """One brew's flow from its first water on; NaN in gaps and past its ends."""
    analysis = brew.analysis
    at_s = time_s + (analysis.start_s or 0.0)
    flow_g_s = np.interp(at_s, analysis.time_s, analysis.flow_g_s, left=np.nan, right=np.nan)
    for event in analysis.events:
        if event.kind == "gap":
            flow_g_s[(at_s > event.start_s) & (at_s < event.end_s)] = np.nan
    return flow_g_s


def _key(channel: str) -> str:
    """Name a thermometer's view; one that is called ``weight`` keeps apart from the weight."""
    return f"{channel}, °C" if channel in _OWN_KEYS else channel


def _waters_of(held: Sequence[Brew], channel: str, time_s: Floats) -> Floats:
    return np.array([_water_of(brew, channel, time_s) for brew in held])


def _water_of(brew: Brew, channel: str, time_s: Floats) -> Floats:
    """One thermometer of a brew; NaN where it was silent or its probe was out of the water."""
    from logger.curve.temperature.probe_out import in_water

    nothing = np.full(len(time_s), np.nan)
    if channel not in brew.temperatures:
        return nothing
    times_s, values_c = (np.asarray(each, dtype=np.float64) for each in brew.temperatures[channel])
    if channel in brew.thermometers:
        wet = in_water(times_s, brew.thermometers[channel].probe.out)
        times_s, values_c = times_s[wet], values_c[wet]
    if len(times_s) < 2:
        return nothing
    at_s = time_s + (brew.analysis.start_s or 0.0)
    value_c = np.interp(at_s, times_s, values_c, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(times_s, at_s), 1, len(times_s) - 1)
    value_c[times_s[after] - times_s[after - 1] > _LONGEST_SILENCE_S] = np.nan
    return value_c
