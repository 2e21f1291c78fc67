"""What somebody who knew the simulated hand could say of its ends: no method can do better on these brews.

``end_bound`` takes the shape of an end for known. Here it is not: of every end only what the simulator draws
from is known, how long its hands take to stop, how much their spouts drip, how they waver and from how high
they pour, and of this scale all that nobody is told: its lag, its noise, its step, and when each reading was
taken. By Bayes' theorem that leaves each of these ends, at each time, so likely; the median of that is the
time with the least error on average that any method could give. Ends beside a knock, stirring, a tare or a
lift are left out; so are drops.

    python docs/end_oracle.py [BREWS] [--espressos]
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drivers.simulated import CLEAN, Conditions, SimulatedBrew, TruePour
from drivers.simulated.hand import WOBBLE_HZ, HandPour, hand_flow
from drivers.simulated.pan import fall_time_s
from logger.curve import analyse
from logger.curve.edges.fading import ENDS_AT_G_S
from tests.benchmarks.curve_suite import LEVELS, ReadPour, brews, matches, spread, weights

Floats = NDArray[np.float64]

STEP_S = 0.02
BEFORE_S, SHOT_BEFORE_S, AFTER_S = 3.0, 7.0, 3.5
ENOUGH_BEFORE_S, ENOUGH_AFTER_S = 1.0, 1.0
_LASTS_S = 8.0
_STOPS, _DRIPS, _FADES, _FALLS, _WAVES = 8, 9, 16, 3, 6
_SHOT_WOBBLES, _SHOT_RISES_PER_S = 0.3, 0.01
_TRIED_S = np.arange(-1.3, 1.3001, 0.03)
_FLOW_SD = 0.1
_SMOOTHED_G = 0.006
_MOST = 45


@dataclass(frozen=True, slots=True)
class Hand:
    """Ends as a level's hands make them, at one flow; their time axes are 0 where each is over.

    :param time_s: even, shape (n,)
    :param flow_g_s: shape (k, n)
    :param waves: how each may waver, 1 on average in square, shape (w, n)
    :param wobble: by how much of the flow
    :param falls_s: how long the stream falls, as likely as each other
    """

    time_s: Floats
    flow_g_s: Floats
    waves: Floats
    wobble: float
    falls_s: Floats

    @classmethod
    def of(cls, level: Conditions, flow_g_s: float) -> Hand:
        """Draw them evenly, as the simulator does by chance."""
        own_s = np.arange(0.0, _LASTS_S + 5.0, STEP_S)
        time_s = np.arange(-BEFORE_S - 2.5, AFTER_S + 2.0, STEP_S)
        stops_s, drips = middles(level.ramp_s, _STOPS), middles(level.dribble_g_s, _DRIPS)
        shapes = []
        for stop_s, drip_g_s in product(stops_s, drips):
            pour = HandPour(0.0, _LASTS_S * flow_g_s, flow_g_s, 0.1, float(stop_s), float(drip_g_s))
            flow = hand_flow([pour], own_s, CLEAN, np.random.default_rng(0))
            over_s = own_s[flow >= ENDS_AT_G_S][-1]
            shapes.append(np.interp(time_s + over_s, own_s, flow))
        turns = 2.0 * np.pi * np.outer(middles(WOBBLE_HZ, _WAVES), time_s)
        waves = np.concatenate((np.cos(turns), np.sin(turns))) / np.sqrt(_WAVES)
        falls_s = np.array([fall_time_s(float(fall_m)) for fall_m in middles(level.fall_m, _FALLS)])
        return cls(time_s, np.array(shapes), waves, level.wobble, falls_s)

    @classmethod
    def of_machine(cls, level: Conditions, flow_g_s: float) -> Hand:
        """Draw an espresso's: the pump stops at once, and the stream fades from all that it was."""
        time_s = np.arange(-SHOT_BEFORE_S - 2.5, AFTER_S + 2.0, STEP_S)
        shapes = []
        for fade_s in np.maximum(middles(level.after_drip_s, _FADES), STEP_S):
            since_s = time_s + fade_s * np.log(flow_g_s / ENDS_AT_G_S)
            shapes.append(flow_g_s * np.exp(-np.maximum(since_s, 0.0) / fade_s))
        turns = 2.0 * np.pi * np.outer(middles(WOBBLE_HZ, _WAVES), time_s)
        wobble = _SHOT_WOBBLES * max(level.wobble, 0.01)
        rises = time_s[None] * _SHOT_RISES_PER_S / wobble
        waves = np.concatenate((np.cos(turns) / np.sqrt(_WAVES), np.sin(turns) / np.sqrt(_WAVES), rises))
        falls_s = np.array([fall_time_s(float(fall_m)) for fall_m in middles(level.fall_m, _FALLS)])
        return cls(time_s, np.array(shapes), waves, wobble, falls_s)

    def shown_g(self, lags_s: tuple[float, ...]) -> Floats:
        """What a scale shows of each, and of how it may waver; shape (falls, k, 1 + w, n)."""
        every = np.concatenate((np.ones((1, self.time_s.size)), self.waves))
        flow = self.flow_g_s[:, None] * every
        pan = np.cumsum(flow, axis=-1) * STEP_S + self.falls_s[:, None, None, None] * flow
        for lag_s in lags_s:
            kept = np.exp(-STEP_S / lag_s)
            new = 1.0 - (1.0 - kept) * lag_s / STEP_S
            pan = lfilter([new, 1.0 - kept - new], [1.0, -kept], pan, axis=-1)
        return np.asarray(pan - pan[..., -1:])


def middles(drawn: tuple[float, float], count: int) -> Floats:
    """Give the middles of as many equal parts of what is drawn evenly; one where nothing is drawn."""
    if drawn[0] == drawn[1]:
        return np.array([drawn[0]])
    return np.asarray(drawn[0] + (np.arange(count) + 0.5) / count * (drawn[1] - drawn[0]))


def seen(brew: SimulatedBrew, pour: TruePour) -> tuple[Floats, Floats] | None:
    """Give the readings around an end, and when they were taken; None where something else happened there."""
    is_shot = brew.truth.method == "espresso"
    before_s, built_up_s = (SHOT_BEFORE_S, 6.0) if is_shot else (BEFORE_S, 0.9)
    from_s, until_s = max(pour.end_s - before_s, pour.start_s + built_up_s), pour.end_s + AFTER_S
    for event in brew.truth.events:
        if event.end_s < pour.end_s:
            from_s = max(from_s, event.end_s + 0.5)
        else:
            until_s = min(until_s, event.start_s - 0.15)
    later_s = [other.start_s for other in brew.truth.pours if other.start_s > pour.end_s]
    until_s = min([until_s, *later_s])
    if from_s > pour.end_s - ENOUGH_BEFORE_S or until_s < pour.end_s + ENOUGH_AFTER_S:
        return None
    time_s, first = np.unique(np.asarray(brew.truth.sample_s), return_index=True)
    weight_g = weights(brew)[1][first]
    among = (time_s > from_s) & (time_s < until_s)
    return (time_s[among], weight_g[among]) if among.sum() >= 8 else None


def known_end_s(brew: SimulatedBrew, pour: TruePour, level: Conditions, tried_s: Floats) -> float | None:
    """Give the median of what is possible of an end; None where something else happened there.

    :param tried_s: when it may be, from the true end on
    """
    readings = seen(brew, pour)
    if readings is None:
        return None
    scale, (time_s, weight_g) = brew.truth.instrument, readings
    of_each = max(time_s.size // _MOST, 1)
    whole = time_s.size // of_each * of_each
    time_s, weight_g = (each[:whole].reshape(-1, of_each).mean(axis=1) for each in (time_s, weight_g))
    noise_g = np.hypot(scale.noise_g, scale.step_g / np.sqrt(12.0)) / np.sqrt(of_each)
    apart_s = np.abs(time_s[:, None] - time_s)
    errs_g2 = noise_g**2 * np.eye(time_s.size) + _SMOOTHED_G**2 * np.exp(-apart_s / 1.5)
    whitened = np.linalg.inv(np.linalg.cholesky(errs_g2)).T

    is_shot = brew.truth.method == "espresso"
    flows = brew.truth.flow_g_s[np.abs(brew.truth.time_s - pour.end_s + (6.0 if is_shot else 1.5)) < 0.6]
    hand = (Hand.of_machine if is_shot else Hand.of)(level, float(flows.mean()))
    shown = hand.shown_g(scale.lags_s)
    since_s = time_s - pour.end_s - tried_s[:, None]
    place = np.clip(np.rint((since_s - hand.time_s[0]) / STEP_S).astype(int), 0, hand.time_s.size - 1)
    level_and_flow = np.array([1e-6, 1.0 / _FLOW_SD**2])
    wobbles = np.full(hand.waves.shape[0], 1.0 / max(hand.wobble, 1e-3) ** 2)
    prior, usual = np.diag(np.concatenate((level_and_flow, wobbles))), np.zeros(wobbles.size + 2)
    usual[1] = 1.0
    read = (weight_g - weight_g[-1]) @ whitened
    scores, flow = [], []
    for of_fall in shown:
        shapes = of_fall[:, :, place].transpose(0, 2, 1, 3)
        shapes = np.concatenate((np.ones_like(shapes[:, :, :1]), shapes), axis=2) @ whitened
        precision = shapes @ shapes.transpose(0, 1, 3, 2) + prior
        told = shapes @ read + prior @ usual
        parts = np.linalg.solve(precision, told[..., None])[..., 0]
        scores.append(0.5 * ((told * parts).sum(axis=-1) - np.linalg.slogdet(precision)[1]))
        flow.append(parts[..., 1])
    chance = np.exp(np.array(scores) - np.max(scores))
    ends_s = tried_s + _moved_s(hand, np.array(flow))
    order = np.argsort(ends_s, axis=None)
    below = np.cumsum(chance.ravel()[order])
    return float(ends_s.ravel()[order][np.searchsorted(below, 0.5 * below[-1])])


def _moved_s(hand: Hand, flow: Floats) -> Floats:
    """By how much an end with so much of the flow falls below 0.1 g/s later; shape of ``flow``."""
    shares = np.array([0.5, 0.75, 0.9, 1.0, 1.1, 1.3, 2.0])
    over_s = np.array(
        [[hand.time_s[one * share >= ENDS_AT_G_S][-1] for share in shares] for one in hand.flow_g_s]
    )
    moved = [np.interp(flow[:, number], shares, each) for number, each in enumerate(over_s)]
    return np.asarray(np.stack(moved, axis=1) + 0.5 * STEP_S)


def errors_s(
    level: Conditions, count: int, first_seed: int, *, of_shots: bool = False
) -> Iterator[tuple[float, float]]:
    """Give, for each end that both can tell, the error of who knows the hand and that of what is read.

    :param of_shots: of espressos alone, and who knows the machine; else of kettles
    """
    chance = np.random.default_rng(1)
    for brew in brews(level, count, first_seed):
        if (brew.truth.method == "espresso") is not of_shots:
            continue
        read = [ReadPour(each.start_s, each.end_s, each.poured_g) for each in analyse(*weights(brew)).pours]
        for mine, true in matches(read, brew.truth.pours):
            known = known_end_s(brew, true, level, _TRIED_S + chance.uniform(-0.2, 0.2))
            if known is not None:
                yield known, mine.end_s - true.end_s


def table(count: int, *, of_shots: bool = False) -> Iterator[str]:
    """Give a line for each level, and one for all but the water alone; parameters as above."""
    found: list[tuple[float, float]] = []
    for name, level in LEVELS.items():
        these = list(errors_s(level, count, 5_000_000, of_shots=of_shots))
        found += these if name != "water only" else []
        yield _line(name, these)
    yield _line("easy to hard", found)


def _line(name: str, errors: list[tuple[float, float]]) -> str:
    knows, reads = (spread(list(each)) for each in zip(*errors, strict=True))
    return f"| {name} | {len(errors)} | {knows[0]:.2f} / {knows[1]:.2f} | {reads[0]:.2f} / {reads[1]:.2f} |\n"


if __name__ == "__main__":
    counts = [int(each) for each in sys.argv[1:] if each.isdecimal()]
    for line in table(counts[0] if counts else 48, of_shots="--espressos" in sys.argv):
        sys.stdout.write(line)
        sys.stdout.flush()
