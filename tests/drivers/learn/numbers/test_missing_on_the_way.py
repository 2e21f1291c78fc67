"""When a number went over to the next load, where the packets that tell of the way are missing."""

from __future__ import annotations

import struct
from dataclasses import replace

import numpy as np
import pytest

from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.lagging import behind_s
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import kinds_of
from tests.drivers.learn.small import DWELL_S, LOADS, captured


def followed(*, missing_s: float = 0.0, late_s: float = 0.0) -> Fit:
    """Hold a weight in tenths against the loads.

    :param missing_s: how long none of its packets come after each load has been laid on
    :param late_s: by how much it is sent later than it is
    """
    capture = captured(lambda g, n: struct.pack(">Bh", 0xA7, round(10.0 * g)), LOADS, 0.05, "ble")
    come = [
        (one.time_s + late_s, one.data)
        for one in capture.arrivals
        if one.time_s < DWELL_S or not 0.01 < one.time_s % DWELL_S < missing_s
    ]
    kind = next(kinds_of(0, np.array([time_s for time_s, _ in come]), [data for _, data in come]))
    seen = kind.seen_with(capture.loads)
    assert seen is not None
    found = fit(seen, Number("integer", 1, 2, signed="twos-complement"), capture.loads, "weight")
    assert found is not None
    return found


@pytest.mark.parametrize("missing_s", [0.5, 1.0, 1.7, 2.4, 3.1, 3.8])
def test_a_number_of_lines_that_come_at_rest_only_is_not_late(missing_s):
    assert behind_s(followed(missing_s=missing_s), followed()) <= 0.0


@pytest.mark.parametrize("late_s", [0.4, 1.0])
def test_a_number_that_is_sent_later_is_late(late_s):
    assert behind_s(followed(late_s=late_s), followed()) > 0.0
    assert behind_s(followed(), followed(late_s=late_s)) <= 0.0


def test_a_number_that_never_goes_over_between_two_loads_is_not_late():
    """Where nothing tells when it did, as on lines that come at rest alone."""
    never = replace(followed(), switch_s=np.full(len(LOADS) - 1, np.nan), path=9.0)
    assert behind_s(never, never) <= 0.0
    assert behind_s(never, followed()) <= 0.0
