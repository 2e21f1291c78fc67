"""Too fast or too slow, and when that is worth a word."""

from __future__ import annotations

from logger.guide.pace import AGAIN_AFTER_S, OFF_FOR_S, RISES_S, Pace


def spoken(pace: Pace, offs_g_s: list[float], from_s: float = 0.0) -> list[float]:
    """Show it so many tenths of a second; give when it spoke."""
    times = [from_s + number / 10 for number in range(len(offs_g_s))]
    return [time_s for time_s, off in zip(times, offs_g_s, strict=True) if pace.follow(time_s, off, 1.0)]


def test_the_first_moments_are_the_stream_coming_up() -> None:
    pace = Pace()
    assert spoken(pace, [-5.0] * round(10 * RISES_S)) == [] and pace.rate is None


def test_the_bar_has_the_tolerance_at_its_quarters() -> None:
    pace = Pace()
    for off, rate in ((0.0, 0.0), (1.0, 0.5), (-1.0, -0.5), (9.0, 1.0), (-9.0, -1.0)):
        pace.follow(10.0, off, 1.0)
        assert pace.rate == rate


def test_it_speaks_of_what_lasts_and_is_silent_again() -> None:
    pace = Pace()
    assert spoken(pace, [1.4] * 40) == [RISES_S + OFF_FOR_S]
    assert pace.advice == "slower"
    assert spoken(pace, [0.9] * 5, 4.0) == [] and pace.advice == "slower"  # hardly inside: not yet back
    assert spoken(pace, [0.5], 4.5) == [] and pace.advice == ""


def test_it_does_not_nag() -> None:
    pace = Pace()
    (first_s,) = spoken(pace, [1.4] * 40)
    spoken(pace, [0.0], 4.0)
    again = spoken(pace, [1.4] * 60, 4.1)
    assert len(again) == 1 and again[0] >= first_s + AGAIN_AFTER_S - 1e-9


def test_too_slow_is_another_word() -> None:
    pace = Pace()
    spoken(pace, [-1.4] * 40)
    assert pace.advice == "faster"
    pace.begin(9.0)
    assert pace.advice == "" and pace.rate is None
