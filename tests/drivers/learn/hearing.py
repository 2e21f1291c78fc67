"""Captures of unknown instruments, and whether what was learned reads a later session right."""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from types import ModuleType
from typing import Any

from drivers.described import Description
from drivers.learn import Arrival, Capture, Learned, Load, Stream, learn
from drivers.learn.description.proving import decoded

LATE_S, EARLY_S = 0.25, 0.12
"""A frame behind a damaged one may be read with the next arrival only; and one may be read before its last
bytes, which only say that it ends and may come with the next block."""


_BY_CHANCE = 1
"""Damaged frames that a check of one byte lets pass in a session: one in 256."""


def capture_of(instrument: Any, session: Any) -> Capture:
    """Write a session down as evencup would have heard it."""
    streams = (Stream(),) if instrument.link == "serial" else tuple(Stream(uuid) for uuid in instrument.uuids)
    arrivals = tuple(Arrival(one.time_s, one.stream, one.data) for one in session.sent if one.data)
    return Capture(instrument.link, streams, arrivals, tuple(Load(*load) for load in session.loads))


def learned_from(module: ModuleType, seed: int, loads: int) -> tuple[str, Learned]:
    """Learn one instrument; say ``right``, ``unsure`` or ``wrong`` of how a later session is read."""
    rng = random.Random(seed * 7 + 77)
    instrument = module.Instrument(seed)
    session = instrument.session(module.random_loads(rng, loads), seed * 3 + 1)
    learned = learn(capture_of(instrument, session))
    if not learned.is_sure or learned.description is None:
        return "unsure", learned
    later = instrument.session(module.random_loads(rng, 5), seed * 5 + 2, 6.0, moving=True)
    seen_below = any(one.shown_g is not None and one.shown_g < 0 and not one.damaged for one in session.sent)
    right = reads_right(instrument, learned.description, later, below_zero=seen_below)
    return ("right" if right else "wrong"), learned


def reads_right(instrument: Any, description: Description, later: Any, *, below_zero: bool) -> bool:
    """Say whether every good frame of a session is read to the display step, and nothing else is read.

    :param below_zero: whether weights below zero count: not where the device was learned without any
    """
    got = [
        (time_s, value)
        for time_s, value in decoded(description, capture_of(instrument, later))
        if value is not None
    ]
    times, values = [time_s for time_s, _ in got], [value for _, value in got]
    step_g = instrument.number["step_g"]
    near_g = max(0.1 if instrument.number["unit"] == "odd" else 0.0, 0.5 * step_g + 1e-6)
    truth = [one for one in later.sent if one.shown_g is not None]
    counted = missing = strange = 0
    for one in truth:
        if one.damaged or (one.shown_g < 0 and not below_zero):
            continue
        counted += 1
        first, last = bisect_left(times, one.time_s - EARLY_S), bisect_right(times, one.time_s + LATE_S)
        missing += not any(abs(value - one.shown_g) <= near_g for value in values[first:last])
    when = [one.time_s for one in truth]
    for time_s, value in got:
        near = truth[bisect_left(when, time_s - LATE_S) : bisect_right(when, time_s + EARLY_S)]
        if not below_zero and any(one.shown_g < 0 for one in near):
            continue
        strange += not any(abs(value - one.shown_g) <= near_g for one in near)
    # Without a check, a damaged frame of the right shape is read as it stands, and cannot be told.
    allowed = 0.006 if instrument.check not in ("", "none") else 0.025
    return missing <= 0.02 * counted and strange <= max(allowed * counted, _BY_CHANCE)
