"""What happens on the bench beside the pouring: vessels, coffee, tares, knocks, stirring, the lift."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from drivers.simulated.conditions import Conditions
from drivers.simulated.plan import Plan

MoveKind = Literal["vessel-on", "vessel-off", "dose"]
ShakeKind = Literal["knock", "stir"]
Span = tuple[float, float]

_VESSEL_G = {"pour-over": (350.0, 800.0), "immersion": (300.0, 900.0), "espresso": (60.0, 220.0)}
_DRIPPER_G = (110.0, 320.0)
_SERVER_G = (180.0, 420.0)
_LID_G = (25.0, 90.0)
_WET_BED_PER_DOSE = 3.0  # the coffee and about twice its mass of water stay in the bed: common practice
_PLACING_S = (0.15, 0.5)
_DOSE_ERROR_G = 0.15
_AFTER_POUR_S = 0.7
_LONGEST_STIR_S = 5.0
_SHORTEST_STIR_S = 1.0
_LIFT_LEAD_S = 1.5
_SETTLING_S = 1.2
_SETTLED_G = 0.1
_PATIENCE = (0.8, 1.3)
_TRIES = 30


@dataclass(frozen=True, slots=True)
class Move:
    """Something put on the pan or taken off it.

    :param start_s: first touch
    :param end_s: it rests, and the hand has let go
    :param change_g: what it adds to the pan
    :param portions: times from ``start_s`` and masses of the parts it comes in; each lasts ``portion_s``
    :param push_g: how hard the hand presses while it lets go
    """

    kind: MoveKind
    start_s: float
    end_s: float
    change_g: float
    portions: tuple[tuple[float, float], ...]
    portion_s: float
    push_g: float = 0.0


@dataclass(frozen=True, slots=True)
class Shake:
    """Something that moves the pan and leaves nothing behind."""

    kind: ShakeKind
    start_s: float
    end_s: float
    size_g: float


@dataclass(frozen=True, slots=True)
class Tare:
    """The touch, and the moment at which the scale takes its zero."""

    touch_s: float
    zero_s: float


@dataclass(slots=True)
class Bench:
    """All that happens beside the pouring, on the time axis of the recording."""

    moves: list[Move] = field(default_factory=list)
    shakes: list[Shake] = field(default_factory=list)
    tares: list[Tare] = field(default_factory=list)
    vessel_g: float = 0.0

    def taken(self) -> list[Span]:
        """When hands are busy already."""
        moved = [(move.start_s, move.end_s) for move in self.moves]
        shaken = [(shake.start_s, shake.end_s) for shake in self.shakes]
        return moved + shaken + [(tare.touch_s - 0.5, tare.zero_s + 0.8) for tare in self.tares]


def prepare(plan: Plan, conditions: Conditions, rng: np.random.Generator) -> tuple[Bench, float]:
    """Set the bench up for a brew: vessel, tare, coffee, second tare.

    :returns: the bench, and the time at which all is ready for the first water (or the pump)
    """
    bench = Bench(vessel_g=rng.uniform(*_VESSEL_G[plan.method]))
    now_s = rng.uniform(*conditions.lead_s)
    if rng.random() < conditions.vessel_chance:
        bench.moves.append(_vessel_on(now_s, bench.vessel_g, rng))
        now_s = _tare(bench, conditions, rng)
    if plan.method != "espresso" and rng.random() < conditions.dose_chance:
        bench.moves.append(_dose(now_s, plan.dose_g, conditions, rng))
        now_s = _tare(bench, conditions, rng)
    return bench, now_s


def disturb(
    bench: Bench,
    plan: Plan,
    pours: Sequence[Span],
    served_s: float,
    conditions: Conditions,
    rng: np.random.Generator,
) -> float | None:
    """Add what happens while the brew runs, and the lift at its end.

    :param pours: start and end of each pour
    :param served_s: when the brew is meant to be taken off
    :returns: when it was taken off, or None
    """
    last_s = pours[-1][1]
    lifted_s = max(served_s, last_s + 3.0) if rng.random() < conditions.lift_chance else None
    pauses = _pauses(pours, (lifted_s or served_s) - _LIFT_LEAD_S)
    _stir(bench, plan, pauses, conditions, rng)
    if rng.random() < conditions.mid_tare_chance:
        _tare_between(bench, pauses[:-1], conditions, rng)
    if plan.method == "immersion" and rng.random() < conditions.lid_chance:
        lid = _vessel_on(last_s + rng.uniform(1.0, 4.0), rng.uniform(*_LID_G), rng)
        if not _overlaps((lid.start_s, lid.end_s), [*bench.taken(), (pauses[-1][1], np.inf)]):
            bench.moves.append(lid)
    if lifted_s is not None:
        bench.moves.append(_lift(bench, plan, lifted_s, rng))
    whole = [(pours[0][0] - 1.0, pauses[-1][1])]
    _knock(bench, whole if conditions.knock_anywhere else pauses, conditions, rng)
    return lifted_s


def place_server(
    water_s: float,
    lifted_s: float | None,
    beverage_g: float,
    conditions: Conditions,
    rng: np.random.Generator,
) -> Bench:
    """Set up a second scale with the server on it: put on and tared, or there before the recording begins.

    :param water_s: the first water of the brew, by which all must be ready
    :param lifted_s: when the server is taken off, or None
    :param beverage_g: what is in it by then
    """
    bench = Bench(vessel_g=rng.uniform(*_SERVER_G))
    bench.moves.append(_vessel_on(rng.uniform(0.3, 0.8), bench.vessel_g, rng))
    ready_s = _tare(bench, conditions, rng)
    if rng.random() >= conditions.vessel_chance or ready_s > water_s:
        bench.moves.clear()
        bench.tares.clear()
    if lifted_s is not None:
        off_g, lasts_s = bench.vessel_g + beverage_g, rng.uniform(*_PLACING_S)
        bench.moves.append(
            Move("vessel-off", lifted_s, lifted_s + lasts_s, -off_g, ((0.0, -off_g),), lasts_s)
        )
    return bench


def lifts_everything(bench: Bench, plan: Plan) -> bool:
    """Whether what comes off at the end is all that stands on the pan, not the dripper alone."""
    off_g = -sum(move.change_g for move in bench.moves if move.kind == "vessel-off")
    return off_g > _DRIPPER_G[1] + _WET_BED_PER_DOSE * plan.dose_g


def _vessel_on(now_s: float, vessel_g: float, rng: np.random.Generator) -> Move:
    lasts_s = rng.uniform(*_PLACING_S)
    push_g = rng.uniform(0.0, 0.3) * vessel_g
    return Move("vessel-on", now_s, now_s + 2 * lasts_s, vessel_g, ((0.0, vessel_g),), lasts_s, push_g)


def _dose(now_s: float, dose_g: float, conditions: Conditions, rng: np.random.Generator) -> Move:
    """Pour the coffee in, in one portion or several, the last ones smaller."""
    count = int(rng.integers(conditions.dollops[0], conditions.dollops[1] + 1))
    shares = rng.dirichlet(np.linspace(6.0, 2.0, count)) if count > 1 else np.ones(1)
    whole_g = dose_g + rng.normal(0.0, _DOSE_ERROR_G)
    portion_s = rng.uniform(0.4, 1.5)
    starts_s = np.concatenate(([0.0], np.cumsum(portion_s + rng.uniform(0.3, 1.5, count - 1))))
    portions = tuple(zip(starts_s.tolist(), (shares * whole_g).tolist(), strict=True))
    return Move("dose", now_s, now_s + float(starts_s[-1]) + portion_s, whole_g, portions, portion_s)


def _tare(bench: Bench, conditions: Conditions, rng: np.random.Generator) -> float:
    """Wait until the display has about settled after the last move, tare, and wait again.

    How long that takes is a matter of the slowest scale that the conditions allow, not of the one at hand, so
    that the same brew can be weighed on another scale.

    :returns: when the next move may begin
    """
    move, patience = bench.moves[-1], rng.uniform(*_PATIENCE)
    settles_s = conditions.lag_s[1] * max(math.log(abs(move.change_g) / _SETTLED_G), 0.0)
    touch_s = move.end_s + max(rng.uniform(*conditions.lead_s), 1.5, patience * settles_s)
    zero_s = touch_s + rng.uniform(*conditions.tare_delay_s)
    bench.tares.append(Tare(touch_s, zero_s))
    return float(zero_s + max(rng.uniform(*conditions.lead_s), 1.0))


def _tare_between(
    bench: Bench, pauses: Sequence[Span], conditions: Conditions, rng: np.random.Generator
) -> None:
    delay_s = rng.uniform(*conditions.tare_delay_s)
    # Nobody tares a moving display: what was poured or stirred has gone through the filter by then.
    lasts_s = _SETTLING_S + delay_s + _SETTLING_S / 2
    quiet_s = _find_room(lasts_s, pauses, bench.taken(), rng)
    if quiet_s is not None:
        touch_s = quiet_s + _SETTLING_S
        bench.tares.append(Tare(touch_s, touch_s + delay_s))


def _stir(
    bench: Bench, plan: Plan, pauses: Sequence[Span], conditions: Conditions, rng: np.random.Generator
) -> None:
    """Stir or swirl in a pause: an immersion after its last pour, a pour-over in any that is long enough."""
    drawn, size_g = rng.random(), rng.uniform(*conditions.stir_g)
    lasts_s = rng.uniform(_SHORTEST_STIR_S, _LONGEST_STIR_S)
    if plan.method == "espresso" or drawn >= conditions.stir_chance:
        return
    among = [pause for pause in pauses if pause[1] - pause[0] > _SHORTEST_STIR_S + 0.5]
    if plan.method == "immersion":
        among = among[-1:]
    if not among:
        return
    start_s, end_s = among[int(rng.integers(len(among)))]
    lasts_s = min(lasts_s, end_s - start_s - 0.4)
    # Brewers swirl right after the pour rather than anywhere in the pause.
    begins_s = start_s + rng.uniform(0.0, min(end_s - start_s - lasts_s, 2.0))
    bench.shakes.append(Shake("stir", begins_s, begins_s + lasts_s, size_g))


def _knock(bench: Bench, where: Sequence[Span], conditions: Conditions, rng: np.random.Generator) -> None:
    count = int(rng.integers(conditions.knocks[0], conditions.knocks[1] + 1))
    for _ in range(count):
        lasts_s, size_g = rng.uniform(0.08, 0.35), rng.uniform(*conditions.knock_g)
        down = 1.0 if rng.random() < 0.7 else -1.0
        start_s = _find_room(lasts_s, where, bench.taken(), rng)
        if start_s is not None:
            bench.shakes.append(Shake("knock", start_s, start_s + lasts_s, down * size_g))


def _lift(bench: Bench, plan: Plan, lifted_s: float, rng: np.random.Generator) -> Move:
    """Take off the dripper with its wet bed, or all that stands on the pan."""
    on_pan_g = sum(move.change_g for move in bench.moves)
    if not any(move.kind == "vessel-on" for move in bench.moves):
        on_pan_g += bench.vessel_g
    if not any(move.kind == "dose" for move in bench.moves) and plan.method != "espresso":
        on_pan_g += plan.dose_g
    off_g = on_pan_g + plan.total_g
    if plan.method == "pour-over" and rng.random() < 0.6:
        off_g = rng.uniform(*_DRIPPER_G) + _WET_BED_PER_DOSE * plan.dose_g
    lasts_s = rng.uniform(*_PLACING_S)
    return Move("vessel-off", lifted_s, lifted_s + lasts_s, -off_g, ((0.0, -off_g),), lasts_s)


def _pauses(pours: Sequence[Span], until_s: float) -> list[Span]:
    """The time between pours, and after the last one; some of it may be empty."""
    ends_s = [start_s - _AFTER_POUR_S for start_s, _ in pours[1:]] + [max(until_s, pours[-1][1])]
    return [(pour[1] + _AFTER_POUR_S, end_s) for pour, end_s in zip(pours, ends_s, strict=True)]


def _find_room(
    lasts_s: float, where: Sequence[Span], taken: Sequence[Span], rng: np.random.Generator
) -> float | None:
    roomy = [span for span in where if span[1] - span[0] > lasts_s]
    for _ in range(_TRIES if roomy else 0):
        start_s, end_s = roomy[int(rng.integers(len(roomy)))]
        at_s = float(rng.uniform(start_s, end_s - lasts_s))
        if not _overlaps((at_s, at_s + lasts_s), taken):
            return at_s
    return None


def _overlaps(span: Span, taken: Sequence[Span]) -> bool:
    return any(span[0] < end_s and start_s < span[1] for start_s, end_s in taken)
