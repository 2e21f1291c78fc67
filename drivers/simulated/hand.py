"""A hand that pours after a plan, as well as hands do: late, a bit over, unsteady, dripping."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.conditions import Conditions
from drivers.simulated.plan import Plan, Step

Floats = NDArray[np.float64]

WOBBLE_HZ = (0.2, 1.0)
END_G_S = 0.1  # below this a stream counts as ended
DROPS_BELOW_G_S = 0.4  # a thinner stream breaks into drops

_WOBBLES = 8
_SLOWEST = 0.25  # of the flow intended: a wobble never stops the stream
_DRIBBLE_S = 0.5
_DRIBBLE_LASTS_S = 20 * _DRIBBLE_S
_RUSHED_S = 8.0
_HALVED = (0.40, 0.55)
_HALVING_S = 0.4
_LEAST_G = 2.0


@dataclass(frozen=True, slots=True)
class HandPour:
    """What the hand does for one step of the plan.

    :param start_s: first water, from the first water of the brew
    :param poured_g: all water of the pour, the dribble included
    :param flow_g_s: the full stream
    :param rise_s: until the stream is full
    :param fall_s: until the stream has stopped
    :param dribble_g_s: at which the spout goes on after that
    :param halved: share of the full stream, and from where to where along the pour (0 to 1), or None
    """

    start_s: float
    poured_g: float
    flow_g_s: float
    rise_s: float = 0.0
    fall_s: float = 0.0
    dribble_g_s: float = 0.0
    halved: tuple[float, float, float] | None = None

    @property
    def stream_g(self) -> float:
        """What the stream brings, the dribble left out."""
        return self.poured_g - self.dribble_g_s * (_DRIBBLE_S + self.fall_s / 2)

    @property
    def duration_s(self) -> float:
        """From the first water until the stream has stopped; half of each ramp counts as full stream."""
        share, begins, ends = self.halved or (1.0, 0.0, 0.0)
        evenness = 1.0 - (1.0 - share) * (ends - begins)
        return self.stream_g / (self.flow_g_s * evenness) + (self.rise_s + self.fall_s) / 2

    @property
    def end_s(self) -> float:
        """When the stream has stopped."""
        return self.start_s + self.duration_s

    @property
    def quiet_s(self) -> float:
        """When the dribble, too, has fallen below what counts as flow."""
        return self.end_s + _DRIBBLE_S * math.log(max(self.dribble_g_s / END_G_S, 1.0))


def decide_pours(plan: Plan, conditions: Conditions, rng: np.random.Generator) -> tuple[HandPour, ...]:
    """Decide when and how the hand will pour each step, times counted from the first water."""
    halved = _one_of(rng, len(plan.steps), conditions.halving_chance, _longest(plan.steps))
    hurried = _one_of(rng, len(plan.steps) - 1, conditions.short_pause_chance) + 1
    pours: list[HandPour] = []
    reached_g = 0.0
    for index, step in enumerate(plan.steps):
        pour = _decide(step, reached_g, conditions, rng)
        if index == halved:
            begins = rng.uniform(0.3, 0.5)
            ends = 1.0 if rng.random() < 0.5 else begins + 0.35
            pour = replace(pour, halved=(rng.uniform(*_HALVED), begins, ends))
        pause_s = rng.uniform(*conditions.short_pause_s)
        late_s = rng.normal(0.0, 1.0) * conditions.start_error_s
        if pours and index == hurried:
            pours[-1] = _stretch(pours[-1], step.start_s - pause_s)
            pour = replace(pour, start_s=pours[-1].quiet_s + pause_s)
        elif pours:
            pour = replace(pour, start_s=_start_s(step, pours[-1].quiet_s, late_s, conditions))
        pours.append(pour)
        reached_g += pour.poured_g
    return tuple(pours)


def hand_flow(
    pours: Sequence[HandPour], time_s: Floats, conditions: Conditions, rng: np.random.Generator
) -> Floats:
    """Give the flow of all pours on an even grid whose zero is the first water; shape (n,)."""
    whole = np.zeros_like(time_s)
    step_s = time_s[1] - time_s[0]
    for pour in pours:
        first = int(np.searchsorted(time_s, pour.start_s - step_s / 2))
        last = max(int(np.searchsorted(time_s, pour.end_s)), first + 2)
        since_s = time_s[first:last] - pour.start_s
        stream = _shape(pour, since_s) * np.maximum(1.0 + conditions.wobble * wobble(since_s, rng), _SLOWEST)
        whole[first:last] += stream * (pour.stream_g / (stream.sum() * step_s))
        if pour.dribble_g_s > 0:
            _add_dribble(whole, pour, time_s)
    return whole


def wobble(since_s: Floats, rng: np.random.Generator) -> Floats:
    """Give the slow unsteadiness of a hand, mean near 0 and standard deviation near 1; shape (n,)."""
    hz = rng.uniform(*WOBBLE_HZ, _WOBBLES)
    phases = rng.uniform(0.0, 2 * math.pi, _WOBBLES)
    waves = np.sin(2 * math.pi * np.outer(hz, since_s) + phases[:, None])
    unsteadiness: Floats = waves.sum(axis=0) * math.sqrt(2.0 / _WOBBLES)
    return unsteadiness


def landed(flow_g_s: Floats, weight_g: Floats, drop_g: float, begins: Sequence[int]) -> Floats:
    """Let a thin stream land drop by drop: the weight that the pan has really received; shape (n,).

    A pour begins with its first drop; a stream that thins out leaves a drop hanging. So what has landed is
    ahead of ``weight_g``, the smooth integral of the flow, or behind it, by less than one drop.

    :param begins: index of the first flow of each pour
    """
    if drop_g <= 0:
        return weight_g
    thin = flow_g_s < DROPS_BELOW_G_S
    since = np.zeros(len(thin), dtype=np.intp)
    thins = np.flatnonzero(thin[1:] & ~thin[:-1]) + 1
    since[thins] = thins
    since[list(begins)] = np.maximum(np.array(begins) - 1, 0)
    since = np.maximum.accumulate(since)
    drops = (weight_g - weight_g[since]) / drop_g
    first = np.isin(since, np.maximum(np.array(begins) - 1, 0))
    whole = np.where(first, np.ceil(drops), np.floor(drops))
    received: Floats = np.maximum.accumulate(np.where(thin, weight_g[since] + drop_g * whole, weight_g))
    return received


def _decide(step: Step, reached_g: float, conditions: Conditions, rng: np.random.Generator) -> HandPour:
    error_g = rng.normal(0.0, 1.0) * conditions.weight_error_g
    wanted_g = step.to_g - reached_g
    poured_g = max(wanted_g + error_g, 0.5 * step.poured_g, min(_LEAST_G, step.poured_g))
    flow_g_s = step.flow_g_s * math.exp(rng.normal(0.0, 1.0) * conditions.flow_error)
    # A short pour has no time for slow ramps.
    longest_ramp_s = 0.6 * poured_g / flow_g_s
    return HandPour(
        start_s=step.start_s,
        poured_g=poured_g,
        flow_g_s=flow_g_s,
        rise_s=min(rng.uniform(*conditions.ramp_s), longest_ramp_s),
        fall_s=min(rng.uniform(*conditions.ramp_s), longest_ramp_s),
        dribble_g_s=min(rng.uniform(*conditions.dribble_g_s), 0.1 * poured_g),
    )


def _start_s(step: Step, free_s: float, late_s: float, conditions: Conditions) -> float:
    """Start when planned, give or take; later when the pour before has left little time."""
    pause_s = max(step.start_s - free_s, 0.0)
    rushed_s = 2 * conditions.start_error_s * max(1.0 - pause_s / _RUSHED_S, 0.0)
    return max(step.start_s + late_s + rushed_s, free_s + conditions.shortest_pause_s)


def _stretch(pour: HandPour, until_s: float) -> HandPour:
    """Pour as slowly as a hand may, so that the pour ends at a time or comes near it."""
    ramps_s = (pour.rise_s + pour.fall_s) / 2
    flow_g_s = pour.flow_g_s * (pour.duration_s - ramps_s) / max(until_s - pour.start_s - ramps_s, 1e-3)
    slowest_g_s = min(max(0.5 * pour.flow_g_s, 2.5), pour.flow_g_s)
    return replace(pour, flow_g_s=float(np.clip(flow_g_s, slowest_g_s, pour.flow_g_s)))


def _shape(pour: HandPour, since_s: Floats) -> Floats:
    """The stream of a steady hand, 1 where it is full."""
    shape = np.ones_like(since_s)
    if pour.rise_s > 0:
        shape *= _ease((since_s + 1e-3) / pour.rise_s)
    if pour.fall_s > 0:
        shape *= _ease((pour.duration_s - since_s) / pour.fall_s)
    if pour.halved:
        share, begins, ends = pour.halved
        begins_s, ends_s = begins * pour.duration_s, ends * pour.duration_s
        shape *= 1.0 - (1.0 - share) * (
            _ease((since_s - begins_s) / _HALVING_S) - _ease((since_s - ends_s) / _HALVING_S)
        )
    return shape


def _ease(share: Floats) -> Floats:
    """From 0 to 1 with neither corner."""
    eased: Floats = 0.5 - 0.5 * np.cos(math.pi * np.clip(share, 0.0, 1.0))
    return eased


def _add_dribble(whole: Floats, pour: HandPour, time_s: Floats) -> None:
    """What the spout lets go beside and after the stream: it comes up as the stream falls, then fades."""
    first, last = np.searchsorted(time_s, (pour.end_s - pour.fall_s, pour.end_s + _DRIBBLE_LASTS_S))
    after_s = time_s[first:last] - pour.end_s
    rising = _ease(1.0 + after_s / max(pour.fall_s, 1e-3))
    whole[first:last] += pour.dribble_g_s * rising * np.exp(-np.maximum(after_s, 0.0) / _DRIBBLE_S)


def _longest(steps: Sequence[Step]) -> int:
    return max(range(len(steps)), key=lambda index: steps[index].poured_g / steps[index].flow_g_s)


def _one_of(rng: np.random.Generator, count: int, chance: float, favourite: int | None = None) -> int:
    """Pick one index, or -2 for none; always draws the same number of random values."""
    drawn, index = rng.random(), int(rng.integers(max(count, 1)))
    if drawn >= chance or count < 1:
        return -2
    return index if favourite is None else favourite
