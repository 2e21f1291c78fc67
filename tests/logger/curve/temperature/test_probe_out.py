"""A probe out of the water is recognised, and what looks like it is not taken for it."""

import numpy as np
import pytest

from drivers.simulated.response import first_order
from logger.curve.temperature.probe_out import LEAST_WATER_C, in_water
from logger.curve.temperature.thermometer import Thermometer, thermometer
from tests.logger.curve.temperature.probes import (
    GRID_S,
    PROBES,
    ROOM_C,
    Probe,
    kettle_c,
    refilled_c,
    slurry_c,
)


def kinds(probe: Thermometer) -> list[str]:
    return [stretch.kind for stretch in probe.out]


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_a_probe_that_is_lifted_and_put_back_is_told_with_its_times(probe: Probe) -> None:
    found = probe.read(kettle_c(), [(40.0, 52.0), (110.0, 130.0)])
    assert kinds(found) == ["lifted", "lifted"]
    for stretch, (from_s, until_s) in zip(found.out, [(40.0, 52.0), (110.0, 130.0)], strict=True):
        assert stretch.start_s == pytest.approx(from_s, abs=1.2 / probe.hz + 0.2)
        assert stretch.end_s == pytest.approx(until_s, abs=1.2 / probe.hz + 0.2)
        # An exponential comes within 0.2 °C of 40 °C after ln(200) = 5.3 time constants.
        assert until_s <= stretch.settled_s < until_s + 6.5 * probe.lag_s + 2.0 / probe.hz


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_what_is_left_of_the_readings_is_the_water(probe: Probe) -> None:
    true_c = kettle_c()
    found = probe.read(true_c, [(40.0, 52.0), (110.0, 130.0)])
    time_s, value_c = found.readings.time_s[found.wet], found.readings.value_c[found.wet]
    off_c = np.abs(value_c - np.interp(time_s, GRID_S, true_c))
    assert off_c.max() < 0.6 + 0.5 * probe.step_c + 3.5 * probe.noise_c
    assert found.wet.mean() > 0.4


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_a_probe_that_is_left_out_is_out_to_the_end(probe: Probe) -> None:
    found = probe.read(kettle_c(), [(150.0, 1e9)])
    assert kinds(found) == ["left"]
    assert found.out[0].start_s == pytest.approx(150.0, abs=1.2 / probe.hz + 0.2)


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_a_probe_put_in_late_hung_in_the_room_before(probe: Probe) -> None:
    found = probe.read(kettle_c(), [(-1.0, 30.0)])
    assert kinds(found) == ["before"]
    assert found.out[0].end_s == pytest.approx(30.0, abs=1.2 / probe.hz + 0.2)
    assert found.room_c == pytest.approx(ROOM_C, abs=0.5 * probe.step_c + 0.2)


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_a_probe_at_room_temperature_throughout_was_never_in(probe: Probe) -> None:
    found = probe.read(kettle_c(), [(-1.0, 1e9)])
    assert kinds(found) == ["never"]
    assert not found.wet.any()


def test_cold_readings_are_water_where_cold_water_is_wanted() -> None:
    readings = Probe().readings(np.full_like(GRID_S, 18.0))
    assert kinds(thermometer(*readings)) == ["never"]
    assert kinds(thermometer(*readings, least_water_c=5.0)) == []


@pytest.mark.parametrize("probe", PROBES, ids=str)
@pytest.mark.parametrize("drop_c", [6.0, 20.0, 45.0])
@pytest.mark.parametrize("heats_c_s", [0.0, 0.3, 0.9])
def test_a_kettle_that_is_refilled_with_cold_water_is_no_probe_lifted(
    probe: Probe, drop_c: float, heats_c_s: float
) -> None:
    """It falls as fast, but stays at the mixture, and comes back as slowly as a kettle heats."""
    found = probe.read(refilled_c(80.0, drop_c, heats_c_s))
    assert kinds(found) == []
    assert found.wet.all()


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_a_kettle_that_heats_up_is_no_probe_put_in(probe: Probe) -> None:
    found = probe.read(np.minimum(ROOM_C + 0.6 * GRID_S, 94.0))
    assert kinds(found) == []


@pytest.mark.parametrize("probe", PROBES, ids=str)
def test_fresh_hot_water_on_a_slurry_is_no_probe_put_back(probe: Probe) -> None:
    found = probe.read(slurry_c(), vessel="slurry")
    assert kinds(found) == ["before"]  # until the first water reaches it
    assert 4.0 <= found.out[0].end_s <= 8.0


def test_a_slurry_that_cooled_for_long_and_gets_fresh_water_is_no_probe_put_back() -> None:
    found = Probe().read(slurry_c((5.0, 15.0, 150.0)), vessel="slurry")
    assert kinds(found) == ["before"]


@pytest.mark.parametrize("out_s", [(60.0, 68.0), (100.0, 112.0)])
def test_a_probe_lifted_from_a_slurry_is_told(out_s: tuple[float, float]) -> None:
    found = Probe().read(slurry_c(), [out_s], vessel="slurry")
    assert kinds(found) == ["before", "lifted"]
    assert found.out[1].start_s == pytest.approx(out_s[0], abs=0.8)


def test_a_probe_held_into_steam_is_told_by_its_way_back() -> None:
    """It falls no further than to the steam, and comes back to the line on which the water cooled."""
    steam = (GRID_S >= 60.0) & (GRID_S < 70.0)
    true_c = np.where(steam, 78.0, kettle_c())
    assert kinds(Probe(lag_s=1.5).read(true_c)) == ["lifted"]


def test_two_kettles_in_turn_are_two_waters() -> None:
    """Hot, then for half a minute and more cooler and calm, then hot again: another kettle, not steam."""
    other = (GRID_S >= 60.0) & (GRID_S < 110.0)
    found = Probe(lag_s=1.5).read(np.where(other, kettle_c(82.0), kettle_c()))
    assert kinds(found) == []
    assert len(found.history.changes_s) == 2


def test_a_probe_in_a_sheath_is_told_as_well() -> None:
    """Two lags in a row: its rise has not the shape that gives a lag, but is still no kettle's."""
    time_s, value_c = Probe(lag_s=3.0, hz=4.0, step_c=0.01, noise_c=0.0).readings(kettle_c(), [(60.0, 80.0)])
    sheathed_c = first_order(np.interp(GRID_S, time_s, value_c), 0.02, 2.0)
    found = thermometer(time_s, np.round(np.interp(time_s, GRID_S, sheathed_c), 1))
    assert kinds(found) == ["lifted"]
    assert found.out[0].start_s == pytest.approx(60.0, abs=1.0)


def test_a_probe_lifted_in_a_silence_is_told_by_what_came_after() -> None:
    time_s, value_c = Probe().readings(kettle_c(), [(60.0, 1e9)])
    heard = (time_s < 57.0) | (time_s > 75.0)
    assert kinds(thermometer(time_s[heard], value_c[heard])) == ["left"]


def test_moments_in_and_out_of_the_water() -> None:
    found = Probe().read(kettle_c(), [(40.0, 52.0)])
    moments_s = np.array([10.0, 45.0, 53.0, 100.0])
    assert in_water(moments_s, found.out).tolist() == [True, False, False, True]
    assert LEAST_WATER_C > ROOM_C


def test_most_of_many_probes_on_many_benches_are_told_right() -> None:
    """Everything drawn anew, 60 times: lag 0.5 to 8 s, 0.5 to 10 readings a second, steps 0.01 to 1 °C."""
    rng = np.random.default_rng(7)
    right = 0
    for seed in range(60):
        lag_s = rng.uniform(0.5, 8.0)
        probe = Probe(
            lag_s,
            lag_s * rng.uniform(1.5, 5.0),
            rng.choice([0.5, 1, 2, 4, 10]),
            rng.choice([0.01, 0.1, 0.5, 1.0]),
            rng.choice([0.02, 0.05, 0.2]),
        )
        from_s = rng.uniform(15.0, 150.0)
        out_s = [(from_s, from_s + rng.uniform(3.0, 25.0))] if seed % 2 else []
        right += kinds(probe.read(kettle_c(rng.uniform(86, 97)), out_s, seed=seed)) == ["lifted"] * len(out_s)
    assert right >= 58
