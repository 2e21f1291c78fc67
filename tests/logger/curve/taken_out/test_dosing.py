"""Coffee weighed before the first water, on its way to somewhere else or not."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from tests.benchmarks.curve_suite import PLANS, THREE_POURS, Floats
from tests.logger.curve.staged import CALM, assert_pours, dosed, kinds, read, staged


def test_a_filter_holder_is_filled_here_and_taken_to_the_machine() -> None:
    """No tare between dose and lift; then a cup, which is tared."""
    time_s, weight_g, truth = staged(PLANS[1], replace(CALM, lead_s=(40.0, 40.0)))
    weight_g = dosed(time_s, weight_g, 8.0, [7.0, 6.0, 5.0])
    holder, cup = (time_s > 2.0) & (time_s < 16.0), time_s > 24.0
    weight_g += 520.0 * holder + 160.0 * cup - 18.0 * (time_s >= 16.0)
    weight_g -= 520.0 * (time_s > 5.0) - 360.0 * (time_s > 28.0)
    brew = analyse(time_s, weight_g, response_s=0.0)
    assert brew.method == "espresso"
    assert len(brew.pours) == len(truth.pours) == 1
    assert brew.pours[0].poured_g == pytest.approx(truth.pours[0].poured_g, abs=0.3)
    assert kinds(brew)[:4] == ["vessel-on", "tare", "dose", "vessel-off"]


@pytest.mark.parametrize(
    ("tin_g", "leans_g", "cup_g"),
    [(34.0, 0.0, 160.0), (60.0, 12.0, 160.0), (60.0, 0.0, 160.0), (60.0, 0.0, 77.5)],
)
def test_coffee_leaves_with_the_tin_that_it_was_weighed_into(
    tin_g: float, leans_g: float, cup_g: float
) -> None:
    """A tin as light as a dose and tared alone, or a finger that leans on the key, is no coffee itself.

    And the cup may weigh what the tin did with it, where an espresso runs into it.
    """
    time_s, weight_g, truth = staged(PLANS[1], replace(CALM, lead_s=(50.0, 50.0)))
    tin, cup = (time_s > 2.0) & (time_s < 26.0), time_s > 32.0
    coffee_g = 18.0 * np.clip((time_s - 15.0) / 5.0, 0.0, 1.0) * (time_s < 26.0)
    on_pan_g = (
        weight_g
        + tin_g * tin
        + coffee_g
        + 160.0 * cup
        + leans_g * np.clip(np.minimum((time_s - 7.5) / 0.3, (8.8 - time_s) / 0.3), 0.0, 1.0)
    )
    brew = analyse(time_s, tared_g(time_s, on_pan_g, 10.0, 40.0), response_s=0.0)
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([truth.pours[0].poured_g], abs=0.3)
    assert brew.method == "espresso"
    assert [event.kind for event in brew.events if event.kind in ("dose", "tare")] == ["tare", "dose", "tare"]


@pytest.mark.parametrize(
    ("drink_g", "cup_g", "tares_s"),
    [
        pytest.param(15.0, 140.0, (6.0, 40.0), id="less than its coffee"),
        pytest.param(15.0, 570.0, (6.0, 40.0), id="less than its coffee, into a cup like the holder"),
        pytest.param(32.0, 542.0, (6.0, 18.0), id="into a cup that nobody could tell from the holder"),
    ],
)
def test_what_fell_in_at_once_before_a_machine_ran_is_coffee(
    drink_g: float, cup_g: float, tares_s: tuple[float, float]
) -> None:
    """21 g in 4 s into a holder, then a shot: no hand pours so fast and then so thinly."""
    time_s, weight_g, _ = staged(PLANS[1], replace(CALM, lead_s=(50.0, 50.0)))
    holder, cup = (time_s > 2.0) & (time_s < 24.0), np.clip((time_s - 32.0) / 0.5, 0.0, 1.0)
    coffee_g = 21.0 * np.clip((time_s - 11.0) / 4.0, 0.0, 1.0) * holder
    on_pan_g = weight_g / weight_g[-1] * drink_g + 520.0 * holder + coffee_g + cup_g * cup
    brew = read(time_s, tared_g(time_s, on_pan_g, *tares_s))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([drink_g], abs=0.3)
    assert (brew.method, "dose" in kinds(brew)) == ("espresso", True)


@pytest.mark.parametrize("thin_g", [[50.0, 50.0], [110.0]])
def test_a_bloom_that_is_tared_before_a_thin_stream_is_water_all_the_same(thin_g: list[float]) -> None:
    """Where more than one stream follows, or more of it than a shot."""
    time_s = np.arange(0.0, 150.0, 0.1)
    water_g = 25.0 * np.clip((time_s - 10.0) / 4.0, 0.0, 1.0)
    for number, grams in enumerate(thin_g):
        water_g += np.clip(2.0 * (time_s - 45.0 - 40.0 * number), 0.0, grams)
    brew = read(time_s, tared_g(time_s, water_g, 20.0))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([25.0, *thin_g], abs=0.5)


@pytest.mark.parametrize(("heavier_g", "pours"), [(4.0, 1), (-4.0, 2)])
def test_what_is_lifted_and_put_back_comes_back_no_heavier(heavier_g: float, pours: int) -> None:
    """A turbo shot into a cup heavier than the tin with its coffee; or a tin that was lifted and dripped."""
    time_s = np.arange(0.0, 70.0, 0.1)
    tin, cup = (time_s > 2.0) & (time_s < 18.0), time_s > 24.0
    came_g = 17.0 * np.clip((time_s - 9.0) / 4.0, 0.0, 1.0)
    shot_g = np.clip(3.4 * (time_s - 40.0), 0.0, 41.0)
    on_pan_g = 80.0 * tin + came_g * tin + (97.0 + heavier_g) * cup + shot_g
    brew = read(time_s, tared_g(time_s, on_pan_g, 6.0, 30.0))
    assert len(brew.pours) == pours


def test_coffee_leaves_with_its_tin_before_server_and_dripper_come_one_by_one() -> None:
    """A light tin is tared, filled and taken away; all that it is brewed in is put on, then tared."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(50.0, 50.0)))
    tin = (time_s > 2.0) & (time_s < 22.0)
    coffee_g = 17.0 * np.clip((time_s - 12.0) / 4.0, 0.0, 1.0) * (time_s < 22.0)
    vessels_g = 350.0 * (time_s > 28.0) + 280.0 * (time_s > 32.0) + 20.0 * (time_s > 36.0)
    on_pan_g = weight_g + 25.0 * tin + coffee_g + vessels_g
    brew = analyse(time_s, tared_g(time_s, on_pan_g, 6.0, 42.0), response_s=0.0)
    assert_pours(brew, truth, grams=0.1)
    assert [event.kind for event in brew.events if event.kind in ("dose", "tare")] == ["tare", "dose", "tare"]


def test_a_bloom_that_is_tared_is_water_where_the_coffee_was_tared_before() -> None:
    """The coffee was in the dripper that was put on the tared server; then a bloom of 45 g, and a tare."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(20.0, 20.0)))
    bloomed_s = truth.pours[0].end_s + 2.0
    weight_g += 300.0 * (time_s > 2.0) - 300.0 * (time_s > 5.0)
    # Coffee that comes so slowly that nothing is seen of it but the tare.
    weight_g += np.clip(time_s - 7.0, 0.0, 7.0) / 7.0 * 0.3 + 15.0 * (time_s > 9.0) - 15.3 * (time_s > 15.0)
    weight_g -= truth.pours[0].poured_g * (time_s > bloomed_s)
    brew = read(time_s, weight_g)
    assert_pours(brew, truth, grams=0.1)


def test_a_lift_after_the_bloom_leaves_the_bloom_in_the_brew() -> None:
    """The dripper is lifted, swirled and put back: the same comes back."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(10.0, 10.0)))
    lifted_s = truth.pours[0].end_s + 4.0
    weight_g -= 230.0 * ((time_s > lifted_s) & (time_s < lifted_s + 5.0))
    brew = read(time_s, weight_g)
    assert_pours(brew, truth)


def tared_g(time_s: Floats, weight_g: Floats, *tares_s: float) -> Floats:
    """Press the tare key at each of the times."""
    shown_g = weight_g.copy()
    for tare_s in tares_s:
        shown_g[time_s > tare_s] -= shown_g[time_s <= tare_s][-1]
    return shown_g


def test_coffee_that_is_ground_right_into_the_filter_takes_its_time() -> None:
    """20 s at 0.8 g/s, and the tare key only when the bed is level and the kettle is at hand."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(60.0, 60.0)))
    ground_g = weight_g + 300.0 * (time_s > 2.0) + 16.0 * np.clip((time_s - 12.0) / 20.0, 0.0, 1.0)
    brew = read(time_s, tared_g(time_s, ground_g, 6.0, 50.0))
    assert_pours(brew, truth)
    assert kinds(brew) == ["vessel-on", "tare", "dose", "tare"]


def test_a_long_thin_pour_that_is_tared_is_water_where_too_little_comes_for_coffee() -> None:
    """A bloom: five to eight times its weight comes after it, no ten times."""
    time_s, weight_g, _ = staged(THREE_POURS, replace(CALM, lead_s=(60.0, 60.0)))
    wetted_g = weight_g + 300.0 * (time_s > 2.0) + 40.0 * np.clip((time_s - 12.0) / 20.0, 0.0, 1.0)
    brew = read(time_s, tared_g(time_s, wetted_g, 6.0, 50.0))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([40.0, 45.0, 105.0, 100.0], abs=1.0)


@pytest.mark.parametrize(("paper_g", "knock_g"), [(2.5, 0.0), (0.0, 9.0)])
def test_what_is_tared_before_the_coffee_is_not_the_coffee(paper_g: float, knock_g: float) -> None:
    """Paper, tared alone; or the rest of the vessel's step, tared with it."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(40.0, 40.0)))
    weight_g += 300.0 * (time_s > 2.0) + knock_g * (time_s > 4.0) + paper_g * (time_s > 8.0)
    weight_g += 15.0 * np.clip((time_s - 16.0) / 5.0, 0.0, 1.0)
    tares_s = (6.0, 12.0, 30.0) if paper_g else (6.0, 30.0)
    brew = read(time_s, tared_g(time_s, weight_g, *tares_s))
    assert_pours(brew, truth)
    assert "dose" in kinds(brew)


@pytest.mark.parametrize("coffee_g", [16.0, 33.0])
def test_a_small_bloom_that_is_tared_is_water_where_the_coffee_fell_in_at_once(coffee_g: float) -> None:
    """It is followed by more than ten times its weight; but coffee was put in, and tared alone."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(40.0, 40.0)))
    weight_g += 300.0 * (time_s > 2.0) + coffee_g * (time_s > 8.0)
    weight_g += 22.0 * np.clip((time_s - 18.0) / 4.0, 0.0, 1.0)
    brew = read(time_s, tared_g(time_s, weight_g, 5.0, 12.0, 30.0))
    assert len(brew.pours) == 1 + len(truth.pours)


@pytest.mark.parametrize("cup_g", [470.0, 500.0, 560.0])
@pytest.mark.parametrize("pauses_s", [0.0, 5.0])
def test_a_cup_may_weigh_nearly_as_much_as_the_filter_holder(cup_g: float, pauses_s: float) -> None:
    """The coffee may come in two goes: together they are the dose."""
    time_s, weight_g, truth = staged(PLANS[1], replace(CALM, lead_s=(60.0, 60.0)))
    holder, cup = (time_s > 2.0) & (time_s < 26.0), time_s > 34.0
    dose_g = 11.0 * np.clip((time_s - 9.0) / 4.0, 0.0, 1.0)
    dose_g += 7.0 * np.clip((time_s - 13.0 - pauses_s) / 3.0, 0.0, 1.0)
    weight_g += (520.0 + dose_g) * holder + cup_g * cup
    brew = read(time_s, tared_g(time_s, weight_g, 5.0, 36.0))
    assert brew.method == "espresso"
    assert len(brew.pours) == len(truth.pours) == 1


@pytest.mark.parametrize("lag_s", [0.0, 0.4])
@pytest.mark.parametrize(("portions_g", "every_s"), [([18.0], 4.0), ([6.0, 3.0, 2.0, 7.0], 2.2)])
def test_a_filter_holder_is_tared_once_more_when_it_is_filled(
    lag_s: float, portions_g: list[float], every_s: float
) -> None:
    """Holder, tare, coffee, tare; then it leaves, and a cup comes. Some scales let a tare fall slowly."""
    time_s, weight_g, truth = staged(PLANS[1], replace(CALM, lead_s=(60.0, 60.0)))
    coffee_g = sum(
        grams * np.clip((time_s - 9.0 - every_s * number) / (3.0 if len(portions_g) == 1 else 0.5), 0.0, 1.0)
        for number, grams in enumerate(portions_g)
    )
    holder, cup = (time_s > 2.0) & (time_s < 32.0), time_s > 42.0
    on_pan_g = weight_g + (500.0 + coffee_g) * holder + 180.0 * cup
    zero_g = on_pan_g - tared_g(time_s, on_pan_g, 6.0, 26.0, 50.0)
    share = 1.0 - np.exp(-0.1 / lag_s) if lag_s else 1.0
    brew = analyse(time_s, signal.lfilter([share], [1.0, share - 1.0], on_pan_g - zero_g))
    assert brew.method == "espresso"
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([truth.pours[0].poured_g], abs=0.4)
    before_shot = [event.kind for event in brew.events if event.start_s < 46.0]
    assert list(dict.fromkeys(before_shot[:-3])) == ["vessel-on", "tare", "dose"]
    assert before_shot[-3:] == ["tare", "vessel-off", "vessel-on"]


def test_a_bloom_that_is_tared_before_its_dripper_is_lifted_stays_in_the_brew() -> None:
    """The same comes back, and much water follows."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(20.0, 20.0)))
    bloomed_s = truth.pours[0].end_s + 2.0
    on_pan_g = weight_g + 300.0 * (time_s > 2.0) + 16.0 * np.clip((time_s - 9.0) / 0.4, 0.0, 1.0)
    on_pan_g -= 230.0 * ((time_s > bloomed_s + 2.0) & (time_s < bloomed_s + 6.0))
    assert_pours(read(time_s, tared_g(time_s, on_pan_g, 6.0, 14.0, bloomed_s)), truth, grams=0.1)


def test_a_filter_holder_leaves_in_the_same_move_that_brings_the_cup() -> None:
    """One hand takes the holder, the other puts the cup down: the pan bears less than when it was tared."""
    time_s, weight_g, truth = staged(PLANS[1], replace(CALM, lead_s=(40.0, 40.0)))
    holder, cup = (time_s > 2.0) & (time_s < 21.0), time_s > 22.0
    coffee_g = 18.0 * np.clip((time_s - 8.0) / 9.0, 0.0, 1.0) * (time_s < 21.0)
    brew = read(time_s, tared_g(time_s, weight_g + coffee_g + 520.0 * holder + 110.0 * cup, 5.0, 28.0))
    assert brew.method == "espresso"
    assert_pours(brew, truth, start_s=0.7, end_s=0.3, grams=0.2)
    assert kinds(brew)[:4] == ["vessel-on", "tare", "dose", "vessel-off"]


def test_a_bloom_is_no_dose_where_the_key_is_pressed_while_the_dripper_is_away() -> None:
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(10.0, 10.0)))
    lifted_s = truth.pours[0].end_s + 3.0
    away = (time_s > lifted_s) & (time_s < lifted_s + 6.0)
    brew = read(time_s, tared_g(time_s, weight_g - 230.0 * away, lifted_s + 3.0))
    assert len(brew.pours) == len(truth.pours)


@pytest.mark.parametrize(
    ("grams", "lasts_s", "water_g"),
    [(21.0, 3.0, 126.0), (20.0, 4.0, 90.0), (34.0, 2.2, 200.0), (29.0, 22.0, 230.0)],
)
def test_a_large_dose_is_told_by_how_it_came(grams: float, lasts_s: float, water_g: float) -> None:
    """Of a quarter to an eighth of the water: less than any bloom, faster than one, or thinner."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(50.0, 50.0)))
    share = water_g / sum(pour.poured_g for pour in truth.pours)
    coffee_g = grams * np.clip((time_s - 12.0) / lasts_s, 0.0, 1.0)
    tared_s = 19.0 if lasts_s < 5.0 else 39.0
    shown_g = tared_g(time_s, share * weight_g + 300.0 * (time_s > 2.0) + coffee_g, 6.0, tared_s)
    brew = read(time_s, shown_g)
    assert len(brew.pours) == len(truth.pours)
    assert brew.total_g == pytest.approx(water_g, abs=0.5)


@pytest.mark.parametrize(("rests_s", "dosed"), [(12.0, True), (30.0, False)])
def test_what_is_tared_and_followed_by_water_at_once_was_no_bloom(rests_s: float, dosed: bool) -> None:
    """30 g of coffee for a strong brew of five times as much; a bloom of 30 g is left for half a minute."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(50.0, 50.0)))
    share = 150.0 / sum(pour.poured_g for pour in truth.pours)
    came_g = 30.0 * np.clip((time_s - 46.0 + rests_s) / 4.0, 0.0, 1.0)
    shown_g = tared_g(time_s, share * weight_g + 300.0 * (time_s > 2.0) + came_g, 6.0, 56.0 - rests_s)
    brew = read(time_s, shown_g)
    assert len(brew.pours) == len(truth.pours) + (not dosed)
    assert ("dose" in kinds(brew)) == dosed


@pytest.mark.parametrize("light_g", [6.0, 9.0])
def test_what_is_too_light_for_the_water_was_not_the_coffee(light_g: float) -> None:
    """The paper of a filter and a clip, tared by themselves; then 22 g of coffee."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(40.0, 40.0)))
    weight_g += light_g * np.clip((time_s - 4.0) / 0.2, 0.0, 1.0)
    weight_g += 22.0 * np.clip((time_s - 15.0) / 7.0, 0.0, 1.0)
    brew = read(time_s, tared_g(time_s, weight_g, 7.0, 26.0))
    assert_pours(brew, truth, grams=0.2)


def test_a_bloom_that_is_tared_where_nobody_saw_the_coffee_is_water() -> None:
    """The scale was switched on late, with all on it."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(10.0, 10.0)))
    brew = read(time_s, tared_g(time_s, weight_g, truth.pours[0].end_s + 3.0))
    assert_pours(brew, truth, grams=0.1)


def test_a_small_bloom_is_water_where_little_coffee_for_much_water_was_seen_to_come() -> None:
    """A weak brew, of 27 times the coffee, whose bloom is tared."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(40.0, 40.0)))
    weight_g += 11.0 * np.clip((time_s - 8.0) / 3.0, 0.0, 1.0) + 24.0 * np.clip(
        (time_s - 20.0) / 4.0, 0.0, 1.0
    )
    brew = read(time_s, tared_g(time_s, weight_g, 14.0, 30.0))
    assert len(brew.pours) == 1 + len(truth.pours)


def test_the_finger_on_the_key_is_no_portion_of_the_dose() -> None:
    """19 g of coffee for 85 g of water, and 5 g more for a moment."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(40.0, 40.0)))
    share = 85.0 / sum(pour.poured_g for pour in truth.pours)
    weight_g = share * weight_g + 19.0 * np.clip((time_s - 8.0) / 5.0, 0.0, 1.0)
    weight_g += 5.0 * np.clip((time_s - 16.0) / 1.0, 0.0, 1.0) * (time_s < 17.4)
    shown_g = np.where(time_s > 17.4, weight_g - 19.0, weight_g)
    assert len(read(time_s, shown_g).pours) == len(truth.pours)


@pytest.mark.parametrize("waited_s", [12.0, 15.0, 18.0])
@pytest.mark.parametrize("in_lumps", [True, False])
def test_coffee_falls_in_lumps_and_may_be_levelled_before_it_is_tared(
    in_lumps: bool, waited_s: float
) -> None:
    """20 g in three to four seconds, then 150 g of water: in lumps it is coffee, evenly a small bloom."""
    fine_s = np.arange(0.0, 90.0, 0.01)
    rises = [(10.0, 3.0, 0.8), (11.0, 5.0, 0.8), (12.4, 12.0, 0.8)] if in_lumps else [(10.0, 20.0, 4.0)]
    loads_g = sum(grams * np.clip((fine_s - at_s) / lasts_s, 0.0, 1.0) for at_s, grams, lasts_s in rises)
    water_g = 6.0 * np.clip(fine_s - 45.0, 0.0, 10.0) + 6.0 * np.clip(fine_s - 65.0, 0.0, 15.0)
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [0.4, 1.0]), loads_g + water_g, fine_s)
    shown_g = shown_g - np.where(fine_s > 14.0 + waited_s, 20.0, 0.0)
    weight_g = shown_g[::10] + np.random.default_rng(1).normal(0.0, 0.03, shown_g[::10].size)
    brew = analyse(fine_s[::10], np.round(weight_g, 1))
    assert [round(pour.poured_g) for pour in brew.pours] == ([] if in_lumps else [20]) + [60, 90]
