"""The tare key, told from a lift: the display jumps to zero between two readings, and stays there.

What was shown just before goes on just after.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Event, Floats
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Samples
from logger.curve.taken_out.fast_water import FASTEST_POUR_G_S, SURELY_RUNS_G_S
from logger.curve.taken_out.fingers import pressed_with_a_finger

SMALLEST_STEP_G = 1.5
SETTLES = 6.0
"""A display that rises so many noises less from reading to reading after the key than before it settles."""

STILL_BEFORE = 0.05
"""Share of a fall by which the display may move just before it."""

KNOCKED = 3
"""Of so many readings before it a quick knock shows in one."""

BESIDE_S, FEWEST = 0.8, 4
RUNS_ON = 0.6
"""Over so long beside the key, and so many readings, a stream that runs on keeps so much of its flow. What a
scale that lags by less than 0.8 s still shows of a vessel falls to less."""


def find_tares(samples: Samples, noise_g: float, step_g: float) -> tuple[Event, ...]:
    """Find where the tare key was pressed: a jump between two readings that lands at zero and stays there.

    The jump of a vessel that is lifted lands wherever it lands, and arrives with a lag: the reading before
    its last one has moved already.
    """
    time, weight = samples.time_s, samples.weight_g
    if weight.size < 4:
        return ()
    jump = weight[1:] - weight[:-1]
    # A vessel whose tail has not quite decayed goes on rising by a little after the key was pressed.
    zero_g = np.maximum(max(4.0 * noise_g, 1.6 * step_g, 0.25), 0.01 * np.abs(jump))
    least_g = max(6.0 * noise_g, 2.5 * step_g, SMALLEST_STEP_G)
    # While water runs, or a vessel's tail does, the reading after the key has gone on rising as before.
    rising_g = np.zeros(jump.size)
    rising_g[2:] = np.maximum(np.minimum(jump[:-2], jump[1:-1]), 0.0)
    rising_g[:-1] = np.minimum(rising_g[:-1], np.maximum(1.5 * jump[1:], 0.0))
    # Where readings were dropped or held up, it has risen for as long.
    silent_s = time[1:] - time[:-1]
    silent = np.where(silent_s < samples.gap_s, np.maximum(silent_s / samples.interval_s, 1.0), 1.0)
    risen_g = zero_g + rising_g * silent
    lands = (np.abs(jump) > least_g) & (weight[1:] <= risen_g) & (weight[1:] >= -zero_g)
    events: list[Event] = []
    for at in lands.nonzero()[0].tolist():
        last = at - 1 if _falls_in_two(jump, at) else at
        near_zero = _stays_near_zero(
            samples, at + 1, float(zero_g[at]), float(risen_g[at]), float(rising_g[at])
        )
        if (_moved_before(jump, at) and last == at) or not near_zero or _bears_nothing(weight, last, at + 1):
            continue
        pressed = pressed_with_a_finger(samples, last, at + 1, noise_g, step_g)
        last, after, change_g = pressed or (last, at + 1, _change_g(samples, last, at + 1, noise_g))
        events.append(Event("tare", float(time[last]), float(time[after]), change_g))
    return tuple(events)


def without_tares(samples: Samples, tares: tuple[Event, ...]) -> Floats:
    """Give the weights as if the tare key had never been pressed, shape (n,)."""
    time, weight = samples.time_s, samples.weight_g.copy()
    for tare in tares:
        last, after = time.searchsorted([tare.start_s, tare.end_s]).tolist()
        weight[after:] -= tare.change_g
        if after > last + 1:
            between = slice(last + 1, after)
            weight[between] = np.interp(time[between], time[[last, after]], weight[[last, after]])
    return weight


def _moved_before(jump: Floats, at: int) -> bool:
    return at > 0 and np.sign(jump[at - 1]) == np.sign(jump[at]) and abs(jump[at - 1]) > 0.3 * abs(jump[at])


def _bears_nothing(weight: Floats, last: int, after: int) -> bool:
    """Whether the display was about where it lands a moment before, too: it was knocked, and comes back.

    :param last: its last reading before it jumps to the one ``after``
    """
    shown_g = median(weight[max(last + 1 - KNOCKED, 0) : last + 1])
    return bool(abs(shown_g - weight[after]) < 0.5 * abs(weight[last] - weight[after]))


def _falls_in_two(jump: Floats, at: int) -> bool:
    """Whether the display falls by this jump and the one before it, and no more: a reading was taken just as
    the key worked, or drawn between two others by whoever laid them on even times. A filter takes longer.
    """
    fell_g = -float(jump[at - 1] + jump[at])
    return at > 1 and _moved_before(jump, at) and abs(jump[at - 2]) < STILL_BEFORE * fell_g


def _stays_near_zero(samples: Samples, at: int, zero_g: float, risen_g: float, rising_g: float) -> bool:
    """Whether the readings of the next half second rise from zero no faster than water, or than before.

    :param risen_g: as far as the first of them may have risen
    :param rising_g: by how much it rose from reading to reading
    """
    after = slice(at, at + max(int(0.6 / samples.interval_s), 2) + 1)
    fastest_g_s = max(0.6 * FASTEST_POUR_G_S, 1.3 * rising_g / samples.interval_s)
    allowed = risen_g + fastest_g_s * (samples.time_s[after] - samples.time_s[at])
    shown_g = samples.weight_g[after]
    return bool(((shown_g <= allowed) & (shown_g >= -2.0 * zero_g)).all())


def _change_g(samples: Samples, last: int, after: int, noise_g: float) -> float:
    """By how much the key moved the display, from its last reading before to its first one after."""
    time, weight = samples.time_s, samples.weight_g
    first, end = time.searchsorted([time[last] - BESIDE_S, time[after] + BESIDE_S], side="right").tolist()
    before, then = slice(first, last + 1), slice(after, end)
    running_g = _jump_while_it_runs_g(time[before], weight[before], time[then], weight[then])
    if running_g is not None:
        return running_g
    silent_s = float(time[after] - time[last])
    # What came in a gap is not known; a reading that was dropped or held up comes a moment later.
    readings = silent_s / samples.interval_s if silent_s < samples.gap_s else 1.0
    return float(weight[after]) - _level_before(weight, last, noise_g, readings)


def _jump_while_it_runs_g(
    before_s: Floats, before_g: Floats, after_s: Floats, after_g: Floats
) -> float | None:
    """By how much two lines differ that run side by side before and after; None where they do not.

    Over as much time on both sides, a flow that wavers puts both off alike.
    """
    if min(before_s.size, after_s.size) < FEWEST:
        return None
    if before_g[-1] - before_g[0] < 0.5 * SURELY_RUNS_G_S * (before_s[-1] - before_s[0]):
        return None
    since, until = before_s - before_s.mean(), after_s - after_s.mean()
    power, later_power = float(since @ since), float(until @ until)
    rose, rises = float(since @ before_g), float(until @ after_g)
    if min(power, later_power) <= 0.0 or rose < SURELY_RUNS_G_S * power:
        return None
    if not RUNS_ON < rises * power / (rose * later_power) < 1.0 / RUNS_ON:
        return None
    flow_g_s = (rose + rises) / (power + later_power)
    return float(after_g.mean() - before_g.mean() - flow_g_s * (after_s.mean() - before_s.mean()))


def _level_before(weight: Floats, at: int, noise_g: float, readings: float) -> float:
    """Where the display would have gone on: the last readings, carried forward if it was rising.

    Where a slow scale still settles it rises less and less: then what it did just before the key and just
    after it tells by how much.
    """
    last = weight[max(at - 4, 0) : at + 1]
    if last.size < 3:
        return float(last[-1])
    after = weight[at + 1 : at + 4]
    rises, next_rises = last[1:] - last[:-1], after[1:] - after[:-1]
    rise = median(rises)
    if next_rises.size and rise - median(next_rises) > SETTLES * noise_g:
        last, rise = last[-3:], median(np.concatenate((rises[-2:], next_rises)))
    return median(last + rise * np.arange(last.size)[::-1]) + readings * rise
