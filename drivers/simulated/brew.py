"""A brew that never happened, with the physics and the faults of a real one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.reading import CELSIUS, GRAM, Reading
from drivers.simulated import temperatures as heat
from drivers.simulated.bench import Bench, disturb, lifts_everything, prepare
from drivers.simulated.conditions import MEDIUM, Conditions
from drivers.simulated.espresso import Shot, decide_shot, shot_flow
from drivers.simulated.hand import HandPour, decide_pours, hand_flow, landed
from drivers.simulated.pan import fall_time_s, losses_g, pan_g, pump_g
from drivers.simulated.percolation import Percolation, TrueBed, percolate
from drivers.simulated.plan import Plan
from drivers.simulated.scale import (
    Delivery,
    Instrument,
    deliver,
    draw_instrument,
    settled_force,
    weigh,
    zeros_g,
)
from drivers.simulated.server import weigh_server
from drivers.simulated.truth import SimulatedBrew, TrueEvent, Truth, true_events, true_pours

Floats = NDArray[np.float64]

GRID_HZ = 500.0
STEP_S = 1.0 / GRID_HZ

KETTLE, SLURRY, SERVER = "kettle", "slurry", "server"

_AFTER_S = 4.0
_SERVED_AFTER_S = {"pour-over": 30.0, "immersion": 60.0, "espresso": 5.0}
_SERVED_ERROR = 1.5


@dataclass(frozen=True, slots=True)
class _Water:
    """What lands on the pan, when, on the axis of the recording.

    :param zero_s: where the plan's clock starts; for espresso the first drip
    :param begins_s: of each pour
    :param ends_s: of each pour's stream
    :param pump_s: start and stop of the pump, for espresso
    """

    zero_s: float
    begins_s: tuple[float, ...]
    ends_s: tuple[float, ...]
    served_s: float
    pours: tuple[HandPour, ...] = ()
    shot: Shot | None = None
    pump_s: tuple[float, float] | None = None

    @property
    def halved_s(self) -> tuple[float, float] | None:
        """Start and end of the pour whose flow halves, or None."""
        for begin_s, end_s, pour in zip(self.begins_s, self.ends_s, self.pours, strict=False):
            if pour.halved:
                return begin_s, end_s
        return None


@dataclass(frozen=True, slots=True)
class _Stream:
    """The water on an even grid; shapes (n,).

    :param poured_g: the integral of the flow
    :param weight_g: what has landed of it
    :param begins: index of the first flow of each pour
    """

    time_s: Floats
    flow_g_s: Floats
    poured_g: Floats
    weight_g: Floats
    begins: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Chance:
    """One source of randomness for each part, so that another scale does not make another hand."""

    hand: np.random.Generator
    bench: np.random.Generator
    pan: np.random.Generator
    scale: np.random.Generator
    radio: np.random.Generator
    probes: np.random.Generator
    bed: np.random.Generator


def simulate(
    plan: Plan,
    seed: int,
    conditions: Conditions = MEDIUM,
    *,
    weight_channel: str = "scale",
    percolation: Percolation | None = None,
) -> SimulatedBrew:
    """Simulate one brew; the same arguments give the same brew.

    The hand, the bench, the scale, the radio and the probes draw from separate sources: the same seed with
    another scale is the same brew on another scale.

    :param seed: 0 or more
    :param weight_channel: name of the scale's channel; temperatures are ``kettle`` and ``slurry``
    :param percolation: the bed of a pour-over, whose server then stands on a scale of its own, channel
        ``server``, in the same conditions; everything else stays as it is without
    :raises ValueError: when there is a bed and the plan is no pour-over
    """
    if percolation and plan.method != "pour-over":
        raise ValueError(f"{plan.title} is no pour-over: nothing drips from a bed into a server")
    chance = _Chance(*(np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(7)))
    bench, ready_s = prepare(plan, conditions, chance.bench)
    water = _decide_water(plan, round(ready_s * GRID_HZ) * STEP_S, conditions, chance.hand)
    spans = tuple(zip(water.begins_s, water.ends_s, strict=True))
    lifted_s = disturb(bench, plan, spans, water.served_s, conditions, chance.bench)
    end_s = max(water.served_s, lifted_s or 0.0, water.ends_s[-1]) + _AFTER_S
    stream = _let_flow(water, end_s, conditions, chance.hand)

    instrument = draw_instrument(conditions, end_s, chance.scale)
    force_g = _force(stream, bench, water, conditions, chance.pan)
    settled_g = settled_force(force_g, STEP_S, instrument)
    sample_s, shown_g = weigh(stream.time_s, settled_g, bench.tares, instrument, chance.scale)
    delivery = deliver(sample_s, shown_g, instrument, chance.radio)
    readings = _weights(delivery, weight_channel, conditions)
    if conditions.thermometers and plan.method != "espresso":
        readings += _temperatures(plan, stream, water, conditions, chance.probes)
    bed = None
    if percolation:
        bed, dripped = _percolated(plan, stream, water, bench, lifted_s, percolation, conditions, chance.bed)
        readings += dripped

    zeros = zeros_g(stream.time_s, settled_g, bench.tares)
    events = true_events(bench, zeros, float(settled_g[0]), instrument)
    truth = _truth(plan, stream, water, events, lifted_s, delivery, instrument, bed)
    return SimulatedBrew(tuple(sorted(readings, key=_arrival)), truth, end_s)


def _truth(
    plan: Plan,
    stream: _Stream,
    water: _Water,
    events: tuple[TrueEvent, ...],
    lifted_s: float | None,
    delivery: Delivery,
    instrument: Instrument,
    bed: TrueBed | None,
) -> Truth:
    pours = true_pours(stream.time_s, stream.flow_g_s, stream.weight_g, stream.begins)
    return Truth(
        method=plan.method,
        pours=pours,
        events=events,
        brew_start_s=pours[0].start_s,
        brew_end_s=pours[-1].end_s,
        lifted_s=lifted_s,
        pump_start_s=water.pump_s[0] if water.pump_s else None,
        total_g=float(stream.weight_g[-1]),
        time_s=stream.time_s,
        flow_g_s=stream.flow_g_s,
        weight_g=stream.weight_g,
        sample_s=delivery.sample_s,
        instrument=instrument,
        halved_s=water.halved_s,
        bed=bed,
    )


def _percolated(
    plan: Plan,
    stream: _Stream,
    water: _Water,
    bench: Bench,
    lifted_s: float | None,
    percolation: Percolation,
    conditions: Conditions,
    rng: np.random.Generator,
) -> tuple[TrueBed, list[Reading]]:
    """Let the water through the bed, and weigh what lands in the server."""
    bed = percolate(stream.time_s, stream.weight_g, water.ends_s, plan.dose_g, percolation, lifted_s, rng)
    with_server_s = lifted_s if lifts_everything(bench, plan) else None
    delivery = weigh_server(bed, water.begins_s[0], with_server_s, conditions, rng)
    return bed, _weights(delivery, SERVER, conditions)


def _decide_water(plan: Plan, ready_s: float, conditions: Conditions, rng: np.random.Generator) -> _Water:
    """Decide what the hand or the machine will do, and put it on the axis of the recording."""
    error_s = rng.normal(0.0, 1.0) * _SERVED_ERROR * conditions.start_error_s
    if plan.shot:
        shot = decide_shot(plan.shot, conditions, rng)
        first_s = round((ready_s + shot.first_drip_s) * GRID_HZ) * STEP_S
        stop_s = ready_s + shot.stop_s
        end_s = stop_s + 3 * shot.after_drip_s
        served_s = max(first_s + (plan.end_s or 0.0), end_s + _SERVED_AFTER_S["espresso"]) + abs(error_s)
        return _Water(first_s, (first_s,), (end_s,), served_s, shot=shot, pump_s=(ready_s, stop_s))
    pours = decide_pours(plan, conditions, rng)
    last_s = pours[-1].end_s
    served_s = max(plan.end_s or last_s + _SERVED_AFTER_S[plan.method], last_s + 1.0) + error_s
    begins_s = tuple(ready_s + pour.start_s for pour in pours)
    ends_s = tuple(ready_s + pour.end_s for pour in pours)
    return _Water(ready_s, begins_s, ends_s, max(ready_s + served_s, ends_s[-1] + 0.5), pours=pours)


def _let_flow(water: _Water, end_s: float, conditions: Conditions, rng: np.random.Generator) -> _Stream:
    time_s: Floats = np.arange(round(end_s * GRID_HZ) + 1, dtype=np.float64) * STEP_S
    since_s = time_s - water.zero_s
    if water.shot:
        flow_g_s = shot_flow(water.shot, since_s, conditions, rng)
    else:
        flow_g_s = hand_flow(water.pours, since_s, conditions, rng)
    poured_g = np.concatenate(([0.0], np.cumsum((flow_g_s[1:] + flow_g_s[:-1]) * (STEP_S / 2))))
    begins = tuple(np.searchsorted(time_s, np.array(water.begins_s) - STEP_S / 2).tolist())
    return _Stream(time_s, flow_g_s, poured_g, landed(flow_g_s, poured_g, conditions.drop_g, begins), begins)


def _force(
    stream: _Stream, bench: Bench, water: _Water, conditions: Conditions, rng: np.random.Generator
) -> Floats:
    """All that presses on the pan, and what the scale's drift makes of it."""
    press_s = fall_time_s(rng.uniform(*conditions.fall_m))
    force_g = pan_g(stream.time_s, stream.weight_g, stream.flow_g_s, bench, press_s, rng)
    force_g += losses_g(stream.time_s, water.begins_s[0], conditions, rng)
    if water.pump_s:
        force_g += pump_g(stream.time_s, water.pump_s, rng.uniform(*conditions.pump_g), rng)
    return force_g


def _weights(delivery: Delivery, channel: str, conditions: Conditions) -> list[Reading]:
    values = zip(
        delivery.arrival_s.tolist(), delivery.value_g.tolist(), delivery.device_s.tolist(), strict=True
    )
    if conditions.device_clock:
        return [Reading(channel, at_s, value, GRAM, device_time_s=own_s) for at_s, value, own_s in values]
    return [Reading(channel, at_s, value, GRAM) for at_s, value, _ in values]


def _temperatures(
    plan: Plan, stream: _Stream, water: _Water, conditions: Conditions, rng: np.random.Generator
) -> list[Reading]:
    true = heat.temperatures(plan, stream.time_s, stream.poured_g, water.begins_s, conditions, rng)
    readings = []
    for channel, true_c in ((KETTLE, true.kettle_c), (SLURRY, true.slurry_c)):
        at_s, shown_c = heat.probe(true.time_s, true_c, float(stream.time_s[-1]), conditions, rng)
        readings += [
            Reading(channel, time_s, value, CELSIUS)
            for time_s, value in zip(at_s.tolist(), shown_c.tolist(), strict=True)
        ]
    return readings


def _arrival(reading: Reading) -> float:
    return reading.time_s
