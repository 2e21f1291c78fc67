"""A brewer, a kettle or a machine, and a scale in a closed loop with whoever says when to stop.

The simulated brews of ``drivers/simulated`` are decided beforehand; here the hand hears the calls and reacts
to them, each with its own reaction time, so what is said changes what is poured. Scale, radio, stream and
wobble are drawn from the same conditions and have the same physics.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from drivers.simulated.conditions import MEDIUM, Conditions
from drivers.simulated.hand import wobble
from drivers.simulated.pan import fall_time_s
from drivers.simulated.scale import Instrument, draw_instrument
from logger.guide import Cue, Guide, Hand
from logger.target import Target

STEP_S = 0.02
TICK_S = 0.05
REACTION_S = (0.15, 0.40)
"""Of a brewer, in the mean; the task's own range."""

REACTION_SD_S = 0.03
"""Of the same brewer from call to call: within-person deviations of simple reactions are about a tenth of the
mean (from memory)."""

SETTLES_S = 12.0
VESSEL_S, TARE_S, READY_S = 2.0, 9.0, 13.0
"""When the vessel is put on and tared, and when all is ready."""


@dataclass(frozen=True)
class Brewer:
    """A hand, its kettle and its scale: the same over many brews.

    :param reaction_s: mean time from a call, or a number on the display, to the hand's move
    :param fall_s: from that move until the stream has stopped
    """

    reaction_s: float
    fall_s: float
    dribble_g_s: float
    press_s: float
    flow_error: float
    instrument: Instrument
    after_drip_s: float = 0.8
    pump_g: float = 0.0


def draw_brewer(rng: np.random.Generator, conditions: Conditions = MEDIUM) -> Brewer:
    """Draw a brewer who fits the conditions."""
    return Brewer(
        reaction_s=float(rng.uniform(*REACTION_S)),
        fall_s=float(rng.uniform(*conditions.ramp_s)),
        dribble_g_s=float(rng.uniform(*conditions.dribble_g_s)),
        press_s=fall_time_s(float(rng.uniform(*conditions.fall_m))),
        flow_error=conditions.flow_error,
        instrument=draw_instrument(conditions, 1000.0, rng),
        after_drip_s=float(rng.uniform(*conditions.after_drip_s)),
        pump_g=float(rng.uniform(*conditions.pump_g)),
    )


class Scale:
    """The instrument, sample by sample: force in, readings out, each when the radio hands it over."""

    def __init__(self, instrument: Instrument, rng: np.random.Generator) -> None:
        self._is, self._rng = instrument, rng
        self._filters = [0.0 for _ in instrument.lags_s]
        self._next_s = float(rng.uniform(0.0, 1.0)) / instrument.rate_hz
        self._phase_s = float(rng.uniform(0.0, instrument.connection_s or 1.0))
        self._burst: list[float] = []
        self._due: list[tuple[float, int, float]] = []
        self._count = 0
        self.display_g = 0.0
        self._vessel_g = float(rng.uniform(350.0, 800.0))
        self._zero_g: float | None = None

    def feel(self, time_s: float, force_g: float) -> Iterator[tuple[float, float]]:
        """Take the force on the pan for one step; give the readings that arrive in it.

        Before it the vessel is put on, and tared.
        """
        force_g += self._vessel_g * _eased((time_s - VESSEL_S) / 0.4)
        for number, lag_s in enumerate(self._is.lags_s):
            self._filters[number] += (force_g - self._filters[number]) * -math.expm1(-STEP_S / lag_s)
            force_g = self._filters[number]
        if time_s >= self._next_s:
            self._sample(time_s, force_g)
        while self._due and self._due[0][0] <= time_s:
            arrival_s, _, value_g = heapq.heappop(self._due)
            yield arrival_s, value_g

    def _sample(self, time_s: float, force_g: float) -> None:
        if self._zero_g is None and time_s >= TARE_S:
            self._zero_g = force_g
        force_g -= self._zero_g or 0.0
        noisy_g = force_g + self._is.noise_g * self._rng.normal()
        self.display_g = round(noisy_g / self._is.step_g) * self._is.step_g
        off = min(max(self._rng.normal(), -2.0), 2.0) * self._is.jitter_share
        self._next_s += (1.0 + 0.3 * off) / self._is.rate_hz
        self._burst.append(self.display_g)
        if len(self._burst) < self._is.burst:
            return
        ready_s = time_s + self._is.latency_s
        if self._is.connection_s > 0.0:
            turns = math.ceil((ready_s - self._phase_s) / self._is.connection_s)
            ready_s = self._phase_s + turns * self._is.connection_s
        for value_g in self._burst:
            ready_s += 0.001
            self._count += 1
            if self._rng.random() >= self._is.drop_share:
                heapq.heappush(self._due, (ready_s, self._count, value_g))
        self._burst = []


@dataclass
class Kettle:
    """A stream that a hand lets run and stops, as ``drivers.simulated.hand`` shapes it."""

    brewer: Brewer
    conditions: Conditions
    rng: np.random.Generator
    poured_g: float = 0.0
    flow_g_s: float = 0.0
    full_g_s: float = 0.0
    _runs_s: float | None = None
    _falls_s: float | None = None
    _rise_s: float = 0.5
    _fall_s: float = 0.5
    _wobble: np.ndarray = field(default_factory=lambda: np.zeros(1))

    @property
    def runs(self) -> bool:
        return self._runs_s is not None

    def start(self, time_s: float, flow_g_s: float) -> None:
        self._runs_s, self._falls_s = time_s, None
        self.full_g_s = flow_g_s * math.exp(self.rng.normal() * self.brewer.flow_error)
        self._rise_s = float(self.rng.uniform(*self.conditions.ramp_s))
        self._fall_s = self.brewer.fall_s * float(self.rng.uniform(0.8, 1.2))
        self._wobble = wobble(np.arange(0.0, 90.0, STEP_S), self.rng)

    def stop(self, time_s: float) -> None:
        if self._falls_s is None:
            self._falls_s = time_s

    def advance(self, time_s: float) -> None:
        """Let water flow for one step."""
        self.flow_g_s = self._flow(time_s)
        self.poured_g += self.flow_g_s * STEP_S

    def _flow(self, time_s: float) -> float:
        if self._runs_s is None:
            return 0.0
        since_s = time_s - self._runs_s
        unsteady = (
            1.0 + self.conditions.wobble * self._wobble[min(int(since_s / STEP_S), len(self._wobble) - 1)]
        )
        stream = self.full_g_s * _eased(since_s / self._rise_s) * max(unsteady, 0.25)
        if self._falls_s is None:
            return stream
        after_s = time_s - self._falls_s - self._fall_s
        dribble = self.brewer.dribble_g_s * (1.0 if after_s < 0.0 else math.exp(-after_s / 0.5))
        if after_s >= 0.0:
            if dribble < 0.02:
                self._runs_s = None
            return dribble
        return stream * _eased(-after_s / self._fall_s) + dribble * _eased(1.0 + after_s / self._fall_s)


@dataclass
class Machine:
    """An espresso as ``drivers.simulated.espresso`` shapes it: trickle, ramp, stream, after-drip."""

    brewer: Brewer
    conditions: Conditions
    rng: np.random.Generator
    full_g_s: float
    poured_g: float = 0.0
    flow_g_s: float = 0.0
    drips_s: float = READY_S + 6.0
    _stopped_s: float | None = None

    def __post_init__(self) -> None:
        self._ramp_s = float(self.rng.uniform(*self.conditions.shot_ramp_s))
        self._rise = float(self.rng.uniform(*self.conditions.shot_rise))
        self._bend = float(self.rng.uniform(1.0, 2.0))
        self._after_s = self.brewer.after_drip_s * math.exp(self.rng.normal() * 0.1)
        self._wobble = wobble(np.arange(0.0, 90.0, STEP_S), self.rng)
        self._last_g_s = 0.0

    def stop(self, time_s: float) -> None:
        if self._stopped_s is None:
            self._stopped_s, self._last_g_s = time_s, self.flow_g_s

    def advance(self, time_s: float) -> None:
        self.flow_g_s = self._flow(time_s)
        self.poured_g += self.flow_g_s * STEP_S

    def shake_g(self, time_s: float) -> float:
        """How the running pump shakes the pan."""
        return self.brewer.pump_g * math.sin(2 * math.pi * 9.7 * time_s) if self._stopped_s is None else 0.0

    def _flow(self, time_s: float) -> float:
        since_s = time_s - self.drips_s
        if since_s < 0.0:
            return 0.0
        if self._stopped_s is not None:
            return self._last_g_s * math.exp(-(time_s - self._stopped_s) / self._after_s)
        stream = 0.06 + 0.94 * min(since_s / self._ramp_s, 1.0) ** self._bend
        stream *= 1.0 + self._rise * max(since_s - self._ramp_s, 0.0) / 20.0
        return (
            self.full_g_s
            * stream
            * (1.0 + 0.3 * self.conditions.wobble * self._wobble[int(since_s / STEP_S)])
        )


@dataclass
class Poured:
    """What came of one brew: for each pour (or the shot), how much too much was in when it had settled."""

    errors_g: list[float]
    hand: Hand
    cues: list[Cue]


Watcher = Callable[[float, float], bool]


def brew(
    target: Target, brewer: Brewer, seed: int, hand: Hand | None, conditions: Conditions = MEDIUM
) -> Poured:
    """Brew once.

    :param hand: what the guide knows of the brewer; None brews without a guide: the brewer watches the
        display, and moves when it shows the weight
    """
    rng = np.random.default_rng(seed)
    guide = Guide(target, hand=hand)
    kettle, scale = Kettle(brewer, conditions, rng), Scale(brewer.instrument, rng)
    cue, heard, cues, errors = guide.tick(0.0), 0, [], []
    moves: list[tuple[float, str]] = [(READY_S, "start")]
    stage, time_s, tick_s, stopped_s = 0, 0.0, 0.0, math.inf
    while stage < len(target.stages):
        time_s += STEP_S
        for move in [move for move in moves if move[0] <= time_s]:
            moves.remove(move)
            if move[1] == "start":
                kettle.start(time_s, target.stages[stage].planned_flow_g_s or 6.0)
            elif kettle.runs:
                kettle.stop(time_s)
                stopped_s = min(stopped_s, time_s)
        kettle.advance(time_s)
        force_g = kettle.poured_g + brewer.press_s * kettle.flow_g_s
        for arrival_s, value_g in scale.feel(time_s, force_g):
            cue = guide.push(max(arrival_s, time_s - STEP_S), value_g) if hand is not None else cue
        if time_s >= tick_s and hand is not None:
            tick_s += TICK_S
            cue = guide.tick(time_s)
            cues.append(cue)
        reacts_s = max(brewer.reaction_s + REACTION_SD_S * rng.normal(), 0.1)
        if hand is None:
            wanted_g = target.stages[stage].to_g
            if kettle.runs and math.isinf(stopped_s) and scale.display_g >= wanted_g and not moves:
                moves.append((time_s + reacts_s, "stop"))
        else:
            for call in cue.calls:
                if call.id > heard and call.kind in ("stop", "slower", "faster"):
                    if call.kind == "stop":
                        moves.append((time_s + reacts_s, "stop"))
                    else:
                        kettle.full_g_s *= 0.88 if call.kind == "slower" else 1.12
                heard = max(heard, call.id)
        if time_s - stopped_s > SETTLES_S / 4 and not kettle.runs:
            wanted = cue.stages[stage].to_g if hand is not None else target.stages[stage].to_g
            errors.append(kettle.poured_g - wanted)
            stage, stopped_s, moves = stage + 1, math.inf, []
            if stage < len(target.stages):
                moves = [(max(READY_S + target.stages[stage].start_s, time_s + 1.0), "start")]
        if time_s > 900.0:
            raise AssertionError(f"never stopped: {cue}")
    for _ in range(round(SETTLES_S / STEP_S)):
        time_s += STEP_S
        kettle.advance(time_s)
        for arrival_s, value_g in scale.feel(time_s, kettle.poured_g):
            guide.push(max(arrival_s, time_s - STEP_S), value_g)
    guide.finish()
    return Poured(errors, guide.hand, cues)


def pull(
    target: Target, brewer: Brewer, seed: int, hand: Hand | None, conditions: Conditions = MEDIUM
) -> Poured:
    """Pull one shot; the arguments are those of :func:`brew`."""
    assert target.shot is not None
    rng = np.random.default_rng(seed)
    guide = Guide(target, hand=hand)
    wanted_s = sum(target.shot.time_s) / 2 - 6.0
    full_g_s = 1.1 * target.shot.yield_g / wanted_s * math.exp(rng.normal() * conditions.flow_error)
    machine, scale = Machine(brewer, conditions, rng, full_g_s), Scale(brewer.instrument, rng)
    cues, heard, stops_s, stopped_s, time_s, tick_s = [], 0, math.inf, math.inf, 0.0, 0.0
    cue = guide.tick(0.0)
    while time_s < min(stopped_s, 120.0) + SETTLES_S:
        time_s += STEP_S
        if time_s >= stops_s:
            machine.stop(time_s)
            stopped_s = min(stopped_s, time_s)
        machine.advance(time_s)
        for arrival_s, value_g in scale.feel(time_s, machine.poured_g + machine.shake_g(time_s)):
            cue = guide.push(max(arrival_s, time_s - STEP_S), value_g) if hand is not None else cue
        if time_s >= tick_s and hand is not None:
            tick_s += TICK_S
            cue = guide.tick(time_s)
            cues.append(cue)
        reacts_s = max(brewer.reaction_s + REACTION_SD_S * rng.normal(), 0.1)
        if hand is None:
            called = time_s > READY_S and scale.display_g >= target.shot.yield_g
        else:
            called = any(call.id > heard and call.kind == "stop" for call in cue.calls)
            heard = max([heard, *(call.id for call in cue.calls)])
        if called and math.isinf(stops_s):
            stops_s = time_s + reacts_s
    guide.finish()
    return Poured([machine.poured_g - target.shot.yield_g], guide.hand, cues)


def learning(
    one: Callable[..., Poured], target: Target, brewer: Brewer, seed: int, brews: int
) -> tuple[list[list[float]], list[list[float]]]:
    """Brew several times with the guide, which learns, and once without. The errors of each brew, g."""
    hand, guided = Hand(), []
    for number in range(brews):
        poured = one(target, brewer, 1000 * seed + number, hand)
        guided.append(poured.errors_g)
        hand = poured.hand
    return guided, [one(target, brewer, 1000 * seed, None).errors_g]


def _eased(share: float) -> float:
    return 0.5 - 0.5 * math.cos(math.pi * min(max(share, 0.0), 1.0))
