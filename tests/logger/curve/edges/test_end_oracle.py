"""The best that could be said of the simulated ends (``docs/end_oracle.py``), beside what is said."""

from __future__ import annotations

import numpy as np
import pytest

from docs.end_oracle import Hand, errors_s, known_end_s, middles, seen
from drivers.simulated import EASY, MEDIUM, simulate
from drivers.simulated.response import first_order
from tests.benchmarks.curve_suite import THREE_POURS

TRIED_S = np.arange(-0.61, 0.6, 0.03)


def test_every_end_of_a_hand_is_over_where_its_time_is_nothing() -> None:
    hand = Hand.of(MEDIUM, 6.0)
    over_s = [hand.time_s[one >= 0.1][-1] for one in hand.flow_g_s]
    assert np.abs(over_s).max() < 0.05
    assert hand.flow_g_s[:, hand.time_s < -2.0] == pytest.approx(6.0, rel=0.02)
    assert np.mean(hand.waves**2, axis=1).sum() == pytest.approx(1.0, rel=0.1)


def test_what_the_scale_shows_of_them_is_what_the_simulated_scale_makes_of_them() -> None:
    hand = Hand.of(EASY, 6.0)
    shown = hand.shown_g((0.3, 0.2))
    step_s = hand.time_s[1] - hand.time_s[0]
    flow = hand.flow_g_s[3]
    pan = np.cumsum(flow) * step_s + hand.falls_s[1] * flow
    lagging = first_order(first_order(pan, step_s, 0.3), step_s, 0.2)
    late = hand.time_s > -2.0
    assert shown[1, 3, 0][late] == pytest.approx((lagging - lagging[-1])[late], abs=0.02)


def test_who_knows_the_hand_says_quiet_ends_better_than_anybody() -> None:
    knows, reads = np.abs(list(errors_s(EASY, 8, 40))).T
    assert knows.size >= 12
    assert np.median(knows) < 0.06
    assert np.median(knows) < np.median(reads)


def test_an_espresso_of_a_machine_fades_from_all_that_it_was_until_its_time_is_nothing() -> None:
    machine = Hand.of_machine(MEDIUM, 2.0)
    over_s = [machine.time_s[one >= 0.1][-1] for one in machine.flow_g_s]
    assert np.abs(over_s).max() < 0.05
    assert machine.flow_g_s[:, machine.time_s < -4.0] == pytest.approx(2.0)
    after = machine.time_s > -1.0
    fades_s = -1.0 / np.polyfit(machine.time_s[after], np.log(machine.flow_g_s[:, after]).T, 1)[0]
    assert fades_s == pytest.approx(middles(MEDIUM.after_drip_s, fades_s.size), rel=1e-3)


def test_who_knows_the_machine_says_quiet_ends_of_espressos_better_than_anybody() -> None:
    knows, reads = np.abs(list(errors_s(EASY, 24, 40, of_shots=True))).T
    assert knows.size >= 5
    assert np.median(knows) < 0.06
    assert np.median(knows) < np.median(reads)


def test_what_happened_beside_an_end_is_not_among_its_readings() -> None:
    brew = simulate(THREE_POURS, 3, MEDIUM)
    for pour in brew.truth.pours:
        readings = seen(brew, pour)
        if readings is None:
            assert known_end_s(brew, pour, MEDIUM, TRIED_S) is None
            continue
        for event in brew.truth.events:
            assert not np.any((readings[0] > event.start_s) & (readings[0] < event.end_s))


def test_middles_of_equal_parts() -> None:
    assert middles((0.0, 1.0), 2).tolist() == [0.25, 0.75]
    assert middles((0.3, 0.3), 5).tolist() == [0.3]
