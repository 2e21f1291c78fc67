"""When a stream seems to have ended, by its slope alone."""

import numpy as np
import pytest

from logger.curve.live.ebb import AGAIN_S, LEFT_S, SEEN_S, Ebb
from tests.benchmarks.curve_suite import Floats

PACE_S = 0.1


def looks_at(ebb: Ebb, slopes_g_s: Floats, packed: int = 1, from_s: float = 0.0) -> list[float]:
    """Follow slopes, several to a message; give when the readings were to be looked at."""
    at = []
    for number, slope_g_s in enumerate(slopes_g_s.tolist()):
        now_s = from_s + (number // packed + 1) * packed * PACE_S
        if ebb.follow(now_s, max(slope_g_s, 0.0)):
            at.append(now_s)
    return at


def stream(flows_s: float, rests_s: float, flow_g_s: float = 6.0) -> Floats:
    return np.repeat([flow_g_s, 0.0], [round(flows_s / PACE_S), round(rests_s / PACE_S)])


def test_a_stream_that_has_fallen_is_looked_at_soon() -> None:
    assert looks_at(Ebb(), stream(5.0, 2.0))[0] == pytest.approx(5.0 + SEEN_S, abs=0.15)
    assert looks_at(Ebb(), stream(5.0, 0.3)) == []


def test_a_message_is_looked_at_when_all_of_it_has_come() -> None:
    """Four readings come at once; the look is at the last of them, which is as fresh as it seems."""
    ebb, slopes_g_s, place = Ebb(), stream(5.2, 2.0), 0
    for number, slope_g_s in enumerate(slopes_g_s.tolist()):
        if ebb.follow((number // 4 + 1) * 0.4, max(slope_g_s, 0.0)):
            place = number % 4
            break
    assert place == 3
    assert ebb.is_whole


@pytest.mark.parametrize("counts", [(4, 3), (3, 4), (2, 1)])
def test_messages_that_hold_one_more_in_turn_are_each_whole(counts: tuple[int, ...]) -> None:
    """Ten readings a second, three messages a second: the smaller ones are looked at, too."""
    ebb, now_s, whole = Ebb(), 0.0, []
    for count in counts * 4:
        now_s += count * PACE_S
        for _ in range(count):
            ebb.follow(now_s, 6.0)
        whole.append(ebb.is_whole)
    assert all(whole[2:])


def through_two_stages(flows_s: float, rests_s: float, stage_s: float) -> Floats:
    """The slope over the last 0.8 s of a display that shows a stream of 6 g/s through two stages."""
    since_s = np.arange(PACE_S, rests_s, PACE_S)
    left = [np.maximum(since_s - before_s, 0.0) / stage_s for before_s in (0.8, 0.0)]
    missing_g = [6.0 * stage_s * (2.0 - (2.0 + each) * np.exp(-each)) for each in left]
    runs_g = 6.0 * np.maximum(0.8 - since_s, 0.0)
    return np.concatenate(
        (np.full(round(flows_s / PACE_S), 6.0), (missing_g[1] - missing_g[0] + runs_g) / 0.8)
    )


@pytest.mark.parametrize("stage_s", [0.1, 0.3, 0.5, 0.65])
def test_a_slow_scale_needs_less_of_a_fall_and_is_looked_at_as_soon(stage_s: float) -> None:
    ebb = Ebb()
    ebb.is_shown_late(2.0 * stage_s)
    assert looks_at(ebb, through_two_stages(5.0, 3.0, stage_s))[0] < 5.0 + 1.5


def test_a_scale_that_is_not_known_to_be_slow_is_looked_at_when_half_has_fallen() -> None:
    slow = through_two_stages(5.0, 3.0, 0.65)
    known, unknown = Ebb(), Ebb()
    known.is_shown_late(1.3)
    assert looks_at(known, slow)[0] < looks_at(unknown, slow)[0] - 0.3


def test_a_look_that_came_too_early_says_itself_when_it_is_time() -> None:
    ebb = Ebb()
    assert looks_at(ebb, stream(5.0, 0.5))
    ebb.looked(0.0, sees_in_s=0.6)
    assert looks_at(ebb, np.zeros(10), from_s=5.5)[0] == pytest.approx(5.5 + 0.6, abs=0.15)


def test_one_that_saw_no_end_waits_longer_each_time_until_the_stream_has_flowed_on() -> None:
    ebb, at = Ebb(), 0.0
    waits_s = []
    for _ in range(4):
        looks_at(ebb, stream(1.0, 0.4), from_s=at)
        at += 1.4
        began = at
        ebb.looked(0.0)
        while not ebb.follow(at, 0.0):
            at += PACE_S
        waits_s.append(at - began)
    assert waits_s == [pytest.approx(AGAIN_S * longer, abs=0.25) for longer in (1, 1, 2, 4)]
    ebb.looked(0.0)
    at += PACE_S
    assert looks_at(ebb, stream(6.0, 2.0), from_s=at)[0] == pytest.approx(at + 6.0 + SEEN_S, abs=0.2)


def test_a_stream_that_was_said_to_be_over_and_runs_on_is_followed_again() -> None:
    """What a slow display still shows is not taken for another; what lasts longer than any is."""
    ebb = Ebb()
    looks_at(ebb, stream(5.0, 0.5))
    ebb.over(2.0)
    slow = 2.0 * np.exp(-np.arange(20) * PACE_S / 0.8)
    assert looks_at(ebb, np.concatenate((slow, np.zeros(10))), from_s=5.5) == []
    ebb.over(2.0)
    assert looks_at(ebb, stream(2.0 * LEFT_S, 2.0, 2.0), from_s=8.5)


def test_what_only_weakened_is_looked_at_once_and_then_when_it_falls_further() -> None:
    ebb = Ebb()
    assert looks_at(ebb, np.repeat([6.0, 2.7], [50, 6]))
    ebb.looked(2.7)
    assert looks_at(ebb, np.full(40, 2.7), from_s=5.6) == []
    assert looks_at(ebb, np.zeros(6), from_s=9.6)[0] < 9.6 + SEEN_S + 0.15
