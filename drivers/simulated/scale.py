"""The scale: what it makes of the force on its pan, and how its radio hands that over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.bench import Tare
from drivers.simulated.conditions import Conditions
from drivers.simulated.response import first_order

Floats = NDArray[np.float64]

_LONGEST_BURST_S = 0.6
_WITHIN_BURST_S = 0.002


@dataclass(frozen=True, slots=True)
class Instrument:
    """One particular scale, drawn for one brew; the fields are those of ``Conditions``, settled.

    :param lags_s: time constants of its filters, one or two, or none
    :param gaps_s: start and end of each silence of the link
    """

    rate_hz: float
    step_g: float
    lags_s: tuple[float, ...]
    noise_g: float
    jitter_share: float
    clock_ppm: float
    burst: int
    connection_s: float
    latency_s: float
    drop_share: float
    doubled_share: float
    gaps_s: tuple[tuple[float, float], ...]

    def facts(self) -> dict[str, object]:
        """The same as plain values, for a recording."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Delivery:
    """What reaches the host, in the order of arrival; all shapes (m,).

    :param arrival_s: when the host sees it
    :param value_g: what the scale shows
    :param sample_s: the true time at which the scale looked
    :param device_s: the same on the scale's own clock
    """

    arrival_s: Floats
    value_g: Floats
    sample_s: Floats
    device_s: Floats


def draw_instrument(conditions: Conditions, end_s: float, rng: np.random.Generator) -> Instrument:
    """Draw one scale that fits the conditions.

    :param end_s: of the recording: silences fall before it
    """
    rate_hz = float(rng.choice(conditions.rate_hz))
    lag_s = float(rng.uniform(*conditions.lag_s))
    twice = rng.random() < conditions.second_lag_chance
    # Two filters in a row settle as late as one that is slower, so each is a little quicker.
    lags_s = () if lag_s <= 0 else (lag_s * 0.7, lag_s * 0.5) if twice else (lag_s,)
    count = int(rng.integers(conditions.gaps[0], conditions.gaps[1] + 1))
    return Instrument(
        rate_hz=rate_hz,
        step_g=float(rng.choice(conditions.step_g)),
        lags_s=lags_s,
        noise_g=float(rng.uniform(*conditions.noise_g)),
        jitter_share=conditions.jitter_share * float(rng.random()),
        clock_ppm=conditions.clock_ppm * float(rng.uniform(-1.0, 1.0)),
        burst=max(min(int(rng.choice(conditions.burst)), int(_LONGEST_BURST_S * rate_hz)), 1),
        connection_s=float(rng.uniform(*conditions.connection_s)),
        latency_s=float(rng.uniform(*conditions.latency_s)),
        drop_share=conditions.drop_share,
        doubled_share=conditions.doubled_share,
        gaps_s=_gaps(count, conditions, end_s, rng),
    )


def settled_force(force_g: Floats, step_s: float, instrument: Instrument) -> Floats:
    """Let the scale's filters follow the force on the pan; shape (n,)."""
    for lag_s in instrument.lags_s:
        force_g = first_order(force_g, step_s, lag_s)
    return force_g


def zeros_g(time_s: Floats, settled_g: Floats, tares: Sequence[Tare]) -> Floats:
    """What each tare takes as its zero: the filtered force at that moment, noise averaged out."""
    zeros: Floats = np.interp([tare.zero_s for tare in tares], time_s, settled_g)
    return zeros


def weigh(
    time_s: Floats,
    settled_g: Floats,
    tares: Sequence[Tare],
    instrument: Instrument,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Look at the filtered force at the scale's own pace.

    :returns: true times of the samples, and what the scale shows then; both shape (k,)
    """
    spacing_s = (1.0 + instrument.clock_ppm * 1e-6) / instrument.rate_hz
    ticks_s = np.arange(spacing_s / 2, time_s[-1], spacing_s)
    off = np.clip(rng.normal(0.0, 1.0, len(ticks_s)), -2.0, 2.0) * instrument.jitter_share
    sample_s = np.clip(ticks_s + off * spacing_s, 0.0, time_s[-1])
    zeros = np.concatenate(([settled_g[0]], zeros_g(time_s, settled_g, tares)))
    zeroed_s = np.array([tare.zero_s for tare in tares])
    shown = np.interp(sample_s, time_s, settled_g) - zeros[np.searchsorted(zeroed_s, sample_s, "right")]
    shown += instrument.noise_g * rng.normal(0.0, 1.0, len(sample_s))
    return sample_s, to_step(shown, instrument.step_g)


def to_step(value: Floats, step: float) -> Floats:
    """Round to the step of a display, without the dust of binary fractions and without a minus zero."""
    if step <= 0:
        return value
    exponent = Decimal(repr(step)).normalize().as_tuple().exponent
    decimals = max(-exponent, 0) if isinstance(exponent, int) else 0
    stepped: Floats = np.round(np.round(value / step) * step, decimals) + 0.0
    return stepped


def deliver(sample_s: Floats, value_g: Floats, instrument: Instrument, rng: np.random.Generator) -> Delivery:
    """Hand samples over as a radio does: packed, at its own moments, some lost, some twice."""
    messages = np.arange(len(sample_s)) // instrument.burst
    last = np.minimum((messages + 1) * instrument.burst, len(sample_s)) - 1
    ready_s = sample_s[last] + instrument.latency_s
    if instrument.connection_s > 0:
        phase_s = rng.uniform(0.0, instrument.connection_s)
        turns = np.ceil((ready_s - phase_s) / instrument.connection_s)
        ready_s = phase_s + turns * instrument.connection_s
    arrives = rng.random(len(sample_s)) >= instrument.drop_share
    for start_s, end_s in instrument.gaps_s:
        arrives &= (sample_s < start_s) | (sample_s >= end_s)
    copies = np.where(rng.random(len(sample_s)) < instrument.doubled_share, 2, 1) * arrives
    which = np.repeat(np.arange(len(sample_s)), copies)
    arrival_s = _one_after_another(ready_s[which], rng)
    device_s = sample_s[which] / (1.0 + instrument.clock_ppm * 1e-6)
    return Delivery(arrival_s, value_g[which], sample_s[which], device_s)


def _one_after_another(ready_s: Floats, rng: np.random.Generator) -> Floats:
    """What arrives at one moment is seen one by one, a millisecond or so apart."""
    together = np.concatenate(([False], np.diff(ready_s) <= 0))
    apart_s = np.where(together, rng.uniform(0.0, _WITHIN_BURST_S, len(ready_s)), 0.0)
    since_s = np.cumsum(apart_s)
    begins = np.maximum.accumulate(np.where(together, 0, np.arange(len(ready_s))))
    arrival_s: Floats = np.maximum.accumulate(ready_s + since_s - since_s[begins])
    return arrival_s


def _gaps(
    count: int, conditions: Conditions, end_s: float, rng: np.random.Generator
) -> tuple[tuple[float, float], ...]:
    """Silences anywhere in the recording, in order, none running into another."""
    gaps: list[tuple[float, float]] = []
    for _ in range(count):
        lasts_s = float(rng.uniform(*conditions.gap_s))
        start_s = float(rng.uniform(1.0, max(end_s - lasts_s - 1.0, 1.5)))
        if all(start_s + lasts_s + 1.0 < other or start_s > until + 1.0 for other, until in gaps):
            gaps.append((start_s, start_s + lasts_s))
    return tuple(sorted(gaps))
