"""When a brew is over, on weights as a scale shows them: nothing needs pressing, nothing ends too soon."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from logger.curve import LiveAnalysis, is_over
from logger.curve.brew import Method
from logger.curve.live.ending import AFTER_END_S, LIFTED_EARLY_S, LIFTED_FOR_GOOD_S, RESTS_S

RATE_HZ = 10.0
VESSEL_G = 350.0


@dataclass(frozen=True)
class Plan:
    """A target, so far as an ending looks at it."""

    total_g: float
    end_s: float | None = None
    method: Method = "pour-over"


@dataclass(frozen=True)
class Stretch:
    """Seconds in which the weight goes evenly to another one."""

    lasts_s: float
    to_g: float


def rest(lasts_s: float, at_g: float) -> Stretch:
    return Stretch(lasts_s, at_g)


def over_at_s(stretches: list[Stretch], plan: Plan | None = None) -> float | None:
    """When the brew is found to be over, None where it is not by the end."""
    live, time_s, weight_g = LiveAnalysis(target=plan), 0.0, stretches[0].to_g
    for stretch in stretches:
        count = round(stretch.lasts_s * RATE_HZ)
        from_g = weight_g
        for number in range(1, count + 1):
            weight_g = from_g + (stretch.to_g - from_g) * number / count
            live.push(time_s, round(weight_g, 1))
            if is_over(live, time_s, plan):
                return time_s
            time_s += 1 / RATE_HZ
    return None


def two_pours(first_g: float = 45.0, second_g: float = 150.0) -> list[Stretch]:
    """Quiet, 9 s of water, a bloom, 20 s of water, a rest; 70 s in all."""
    return [
        rest(3.0, 0.0),
        Stretch(9.0, first_g),
        rest(30.0, first_g),
        Stretch(20.0, second_g),
        rest(8.0, second_g),
    ]


LIFT = Stretch(0.3, -VESSEL_G)
ALL_IN_S = 70.0


def test_lifted_for_good() -> None:
    ended_s = over_at_s([*two_pours(), LIFT, rest(60.0, -VESSEL_G)])
    assert ended_s is not None
    assert LIFTED_FOR_GOOD_S <= ended_s - ALL_IN_S <= LIFTED_FOR_GOOD_S + 4.0


def test_lifted_to_be_swirled_and_put_back_is_not_over() -> None:
    swirl = [LIFT, rest(4.0, -VESSEL_G), Stretch(0.3, 150.0), rest(60.0, 150.0)]
    assert over_at_s([*two_pours(), *swirl]) is None


def test_lifted_between_the_pours_of_a_plan_waits_longer() -> None:
    bloom = two_pours()[:2]
    away_s = LIFTED_EARLY_S - 10.0
    swirled = [*bloom, rest(5.0, 45.0), LIFT, rest(away_s, -VESSEL_G), Stretch(0.3, 45.0), rest(5.0, 45.0)]
    assert over_at_s(swirled, Plan(150.0)) is None
    given_up = [*bloom, rest(5.0, 45.0), LIFT, rest(LIFTED_EARLY_S + 10.0, -VESSEL_G)]
    ended_s = over_at_s(given_up, Plan(150.0))
    assert ended_s is not None and ended_s - 17.0 >= LIFTED_EARLY_S


def test_without_a_plan_a_lift_after_the_bloom_ends_it() -> None:
    """Nobody can know then that more water was to come."""
    lifted = [*two_pours()[:2], rest(5.0, 45.0), LIFT, rest(20.0, -VESSEL_G)]
    assert over_at_s(lifted) is not None


def test_past_the_end_of_the_plan() -> None:
    plan = Plan(150.0, end_s=100.0)
    ended_s = over_at_s([*two_pours(), rest(200.0, 150.0)], plan)
    first_water_s = 3.0
    assert ended_s == pytest.approx(first_water_s + 100.0 + AFTER_END_S, abs=0.5)


def test_a_plan_whose_water_is_not_in_waits_for_it() -> None:
    plan = Plan(250.0, end_s=100.0)
    assert over_at_s([*two_pours(), rest(RESTS_S["pour-over"] - 10.0, 150.0)], plan) is None


def test_quiet_for_longer_than_any_rest() -> None:
    ended_s = over_at_s([*two_pours(), rest(RESTS_S["pour-over"] + 20.0, 150.0)])
    quiet_since_s = ALL_IN_S - 8.0
    assert ended_s == pytest.approx(quiet_since_s + RESTS_S["pour-over"], abs=2.0)


def test_a_long_bloom_is_no_end() -> None:
    long_bloom = [
        rest(3.0, 0.0),
        Stretch(9.0, 45.0),
        rest(120.0, 45.0),
        Stretch(20.0, 150.0),
        rest(20.0, 150.0),
    ]
    assert over_at_s(long_bloom) is None


def test_espresso_ends_soon_after_its_last_drop() -> None:
    shot = [rest(3.0, 0.0), Stretch(25.0, 36.0), rest(40.0, 36.0)]
    ended_s = over_at_s(shot, Plan(36.0, method="espresso"))
    assert ended_s == pytest.approx(28.0 + RESTS_S["espresso"], abs=2.0)


def test_a_steep_is_no_end() -> None:
    steep = [rest(3.0, 0.0), Stretch(30.0, 240.0), rest(240.0, 240.0)]
    assert over_at_s(steep, Plan(240.0, end_s=300.0, method="immersion")) is None


def test_nothing_is_over_before_it_has_begun() -> None:
    assert over_at_s([rest(600.0, 0.0)]) is None
    assert (
        over_at_s(
            [rest(3.0, 0.0), Stretch(0.3, VESSEL_G), rest(30.0, VESSEL_G), Stretch(0.3, 0.0), rest(60.0, 0.0)]
        )
        is None
    )
