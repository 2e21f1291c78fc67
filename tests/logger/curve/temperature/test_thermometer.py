"""The temperature at a moment, the probe's lag, and how the water cooled between changes."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from logger.curve.temperature.contact import contact_temperature
from logger.curve.temperature.probe_lag import lag_of
from logger.curve.temperature.readings import temperature_readings
from logger.curve.temperature.thermometer import thermometer
from tests.logger.curve.temperature.probes import (
    GRID_S,
    PROBES,
    ROOM_C,
    Probe,
    kettle_c,
    refilled_c,
    slurry_c,
)

POURS_S = (20.0, 60.0, 95.0, 130.0)


def true_at(true_c: np.ndarray, time_s: float) -> float:
    return float(np.interp(time_s, GRID_S, true_c))


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_a_kettle_is_known_at_each_pour_as_well_as_it_says(probe: Probe) -> None:
    true_c = kettle_c()
    found = probe.read(true_c)
    for pour_s in POURS_S:
        at = found.at(pour_s)
        assert at.value_c is not None
        assert at.uncertainty_c is not None
        assert abs(at.value_c - true_at(true_c, pour_s)) < 3.0 * at.uncertainty_c
        assert at.uncertainty_c < 0.5
        assert not at.lag_taken_out  # nothing in these readings shows it


def test_the_uncertainty_covers_what_it_says_it_does() -> None:
    rng = np.random.default_rng(3)
    off = []
    for seed in range(40):
        probe = Probe(rng.uniform(0.5, 8.0), 10.0, rng.choice([1, 2, 5]), rng.choice([0.1, 0.5, 1.0]))
        true_c = kettle_c(rng.uniform(86, 97), rng.uniform(0.8, 2.0))
        found = probe.read(true_c, seed=seed)
        for pour_s in POURS_S:
            at = found.at(pour_s)
            off.append(abs(at.value_c - true_at(true_c, pour_s)) / at.uncertainty_c)
    assert np.mean(np.array(off) < 2.0) > 0.9


@pytest.mark.parametrize("lag_s", [0.8, 3.0, 7.0])
def test_a_lag_is_read_off_the_rise_with_which_a_probe_is_put_in(lag_s: float) -> None:
    found = Probe(lag_s).read(kettle_c(), [(-1.0, 25.0)])
    assert found.lag is not None
    assert found.lag.lag_s == pytest.approx(lag_s, rel=0.06)
    assert abs(found.lag.lag_s - lag_s) < 3.0 * found.lag.uncertainty_s + 0.05


def test_a_known_lag_is_taken_out() -> None:
    """A steady fall of 12 °C a minute through a lag of 7 s is shown 1.4 °C too warm."""
    true_c = np.where(GRID_S < 60.0, 94.0, 94.0 - 0.2 * (GRID_S - 60.0))
    with_jump = Probe(7.0, noise_c=0.02, step_c=0.01).read(true_c, [(-1.0, 5.0)])
    at = with_jump.at(120.0)
    assert at.lag_taken_out
    assert at.value_c == pytest.approx(true_at(true_c, 120.0), abs=0.1)
    without = Probe(7.0, noise_c=0.02, step_c=0.01).read(true_c).at(120.0)
    assert without.value_c == pytest.approx(true_at(true_c, 120.0) + 1.4, abs=0.1)
    assert without.uncertainty_c > 0.7  # and says that it may be off by as much


def test_a_slurrys_first_rise_is_its_own_and_no_lag() -> None:
    assert Probe().read(slurry_c(), vessel="slurry").lag is None
    assert lag_of([]) is None


def test_just_after_fresh_water_the_value_is_unsure() -> None:
    found = Probe(4.0).read(refilled_c(94.0, 20.0))
    assert found.at(95.0).uncertainty_c > 2.0
    assert found.at(130.0).uncertainty_c < 0.5
    assert found.at(130.0).value_c == pytest.approx(true_at(refilled_c(94.0, 20.0), 130.0), abs=0.3)


def test_where_the_probe_was_out_there_is_no_value_but_that_reason() -> None:
    found = Probe().read(kettle_c(), [(85.0, 110.0)])
    at = found.at(95.0)
    assert (at.value_c, at.lack) == (None, "probe-out")
    assert at.out is not None
    assert at.out.end_s == pytest.approx(110.0, abs=0.8)
    assert found.at(87.0).value_c == pytest.approx(true_at(kettle_c(), 87.0), abs=0.3)  # read 2 s before
    assert found.at(20.0).lack == ""


def test_a_probe_that_was_never_in_gives_nothing() -> None:
    at = Probe().read(kettle_c(), [(-1.0, 1e9)]).at(60.0)
    assert (at.value_c, at.lack) == (None, "never-in-water")


def test_far_from_any_reading_there_is_none() -> None:
    time_s, value_c = Probe().readings(kettle_c())
    heard = (time_s < 50.0) | (time_s > 70.0)
    found = thermometer(time_s[heard], value_c[heard])
    assert (found.at(60.0).value_c, found.at(60.0).lack) == (None, "no-reading")
    assert found.at(53.0).value_c == pytest.approx(true_at(kettle_c(), 53.0), abs=0.3)
    assert thermometer([], []).at(1.0).lack == "no-reading"


def test_bursts_of_a_radio_do_no_harm() -> None:
    time_s, value_c = Probe(hz=4.0).readings(kettle_c())
    arrival_s = np.ceil(time_s / 3.0) * 3.0  # a dozen readings at once, every three seconds
    found = thermometer(arrival_s, value_c)
    assert found.at(60.0).value_c == pytest.approx(true_at(kettle_c(), 60.0), abs=0.3)
    assert found.out == ()


def test_codes_for_an_open_probe_are_no_temperatures() -> None:
    time_s, value_c = Probe().readings(kettle_c())
    value_c[::7], value_c[3::40] = -127.0, 6553.5
    readings = temperature_readings(time_s, value_c)
    assert readings.value_c.min() > 80.0
    assert thermometer(time_s, value_c).at(60.0).value_c == pytest.approx(true_at(kettle_c(), 60.0), abs=0.3)


def test_cooling_is_read_off_one_water() -> None:
    """The longest stretch between changes counts: 94 °C for 130 s, then 20 °C less."""
    found = Probe(2.0).read(refilled_c(130.0, 20.0)).cooled(ROOM_C)
    assert found.until_s == pytest.approx(130.0, abs=1.0)
    assert found.k_per_min == pytest.approx(1.2 / 72.0, rel=0.03)
    assert found.rate_c_min == pytest.approx(1.2, abs=0.05)


def test_a_slurrys_cooling_is_read_between_its_pours() -> None:
    """After the last of three pours of 60 g: 0.35 W/K from what dry bed and 180 g of water hold."""
    found = Probe(2.0).read(slurry_c((5.0, 35.0, 65.0)), vessel="slurry")
    cooled = found.cooled(ROOM_C, 5.0, added_s=[(at_s, at_s + 10.0) for at_s in (5.0, 35.0, 65.0)])
    assert cooled.since_s > 75.0
    assert cooled.k_per_min == pytest.approx(60.0 * 0.35 / (160.0 + 180.0 * 4.2), rel=0.05)


def test_cooling_goes_on_while_the_probe_is_out() -> None:
    found = Probe(2.0).read(kettle_c(), [(60.0, 80.0)]).cooled(ROOM_C)
    assert found.k_per_min == pytest.approx(1.2 / 72.0, rel=0.03)
    assert found.until_s > 190.0


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_the_slurrys_mean_and_lowest_over_the_contact_time(probe: Probe) -> None:
    true_c = slurry_c()
    found = contact_temperature(probe.read(true_c, vessel="slurry"), 5.0, 180.0)
    assert found.since_s is not None
    assert 5.0 < found.since_s < 45.0
    inside = (found.since_s <= GRID_S) & (GRID_S <= 180.0)
    assert found.mean_c == pytest.approx(
        float(true_c[inside].mean()), abs=max(2.5 * found.uncertainty_c, 0.3)
    )
    # A slow probe cannot follow a short dip to its bottom.
    assert found.least_c == pytest.approx(
        float(true_c[inside].min()), abs=0.3 + 0.2 * probe.lag_s + probe.step_c
    )
    assert found.seen > 0.95


def test_a_mean_is_weighted_by_time_and_not_by_readings() -> None:
    """90 °C for 10 s read ten times a second, then 80 °C for 30 s read every two: (10*90 + 30*80) / 40."""
    time_s = np.concatenate((np.arange(0, 10, 0.1), np.arange(10, 40.1, 2.0)))
    found = contact_temperature(
        thermometer(time_s, np.where(time_s < 10, 90.0, 80.0), vessel="slurry"), 0.0, 40.0
    )
    assert found.mean_c == pytest.approx(82.5, abs=0.2)  # by readings it would be 88.6
    assert found.least_c == pytest.approx(80.0)


def test_the_mean_leaves_out_the_probe_in_the_air() -> None:
    true_c = slurry_c()
    whole = contact_temperature(Probe().read(true_c, vessel="slurry"), 5.0, 180.0)
    lifted = contact_temperature(Probe().read(true_c, [(62.0, 72.0)], vessel="slurry"), 5.0, 180.0)
    assert lifted.mean_c == pytest.approx(whole.mean_c, abs=1.0)
    assert lifted.least_c == pytest.approx(whole.least_c, abs=0.5)
    assert lifted.seen < 0.95


def test_without_a_reading_in_the_slurry_there_is_no_mean_but_a_reason() -> None:
    never = contact_temperature(Probe().read(slurry_c(), [(-1.0, 1e9)], vessel="slurry"), 5.0, 180.0)
    assert (never.mean_c, never.lack) == (None, "never-in-water")
    early = contact_temperature(Probe().read(slurry_c(), vessel="slurry"), 300.0, 400.0)
    assert (early.mean_c, early.lack) == (None, "no-reading")


def test_what_makes_no_sense_is_refused_in_clear_words() -> None:
    with pytest.raises(ValueError, match="do not match"):
        thermometer([0.0, 1.0], [90.0])
    with pytest.raises(ValueError, match="time runs backwards"):
        thermometer([0.0, 2.0, 1.0], [90.0, 90.0, 90.0])
    with pytest.raises(ValueError, match="another unit"):
        thermometer([0.0, 1e9], [90.0, 90.0])
    with pytest.raises(ValueError, match="no moment"):
        thermometer([0.0], [90.0]).at(math.nan)
    with pytest.raises(ValueError, match="contact time"):
        contact_temperature(thermometer([0.0], [90.0]), 5.0, 1.0)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(width=32), st.floats(-100, 300) | st.floats(width=32)), max_size=60),
    st.floats(-10, 1e3),
    st.sampled_from(["kettle", "slurry"]),
)
def test_any_readings_give_figures_or_reasons(
    readings: list[tuple[float, float]], moment_s: float, vessel: str
) -> None:
    readings.sort(key=lambda one: (math.isnan(one[0]), one[0]))
    time_s, value_c = [one[0] for one in readings], [one[1] for one in readings]
    try:
        found = thermometer(time_s, value_c, vessel=vessel)
    except ValueError as error:
        assert "unit" in str(error) or "time" in str(error)
        return
    at = found.at(moment_s)
    assert (at.value_c is None) is bool(at.lack)
    contact = contact_temperature(found, moment_s, moment_s + 60.0)
    assert (contact.mean_c is None) is bool(contact.lack)
    assert 0.0 <= contact.seen <= 1.0
    assert bool(found.cooled(20.0).lack) is (found.cooled(20.0).k_per_min is None)


@settings(deadline=None)
@example([51.0, 45.0, 50.0, 0.0], 2.0)  # a rise that begins before the fall before it is over
@given(st.lists(st.floats(-20, 120), min_size=3, max_size=80), st.floats(0.1, 5.0))
def test_any_even_curve_is_read(values_c: list[float], interval_s: float) -> None:
    found = thermometer(interval_s * np.arange(len(values_c)), values_c)
    for stretch in found.out:
        assert stretch.start_s <= stretch.end_s <= stretch.settled_s
    assert found.wet.shape == (len(values_c),)
