"""What a brew's thermometers say, and how the water is held against the target when a probe is lifted."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from drivers.simulated import CLEAN, EASY, read_plan, simulate
from drivers.simulated.temperatures import lifted
from logger.compare import assess, compare
from logger.compare.thermometers import thermometers_of, water_channel
from logger.recording import Recording
from logger.target import parse_target
from tests.logger.compare.brews import AS_PLANNED, FOUR_POURS, START_S, analysis, four_pours, simulated

GRID_S = np.arange(0.0, 200.0, 0.02)
KETTLE_C = 22.0 + 72.0 * np.exp(-GRID_S / 3600.0)  # 1.2 °C a minute at first


def kettle(*out_s: tuple[float, float]) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """A kettle read twice a second; times of the lifts count from the first water."""
    spans_s = [(START_S + from_s, START_S + until_s) for from_s, until_s in out_s]
    shown_c = lifted(GRID_S, KETTLE_C, spans_s, 2.0, 8.0, 22.0)
    time_s = np.arange(0.0, 195.0, 0.5)
    return {"kettle": (time_s, np.round(np.interp(time_s, GRID_S, shown_c), 1))}


def test_the_kettle_is_known_at_the_start_and_the_end_of_every_pour() -> None:
    found = thermometers_of(analysis(*AS_PLANNED), kettle(), None, None)["kettle"]
    assert found.place == "kettle"
    for pour, (at_start, at_end) in zip(analysis(*AS_PLANNED).pours, found.at_pours, strict=True):
        assert at_start.value_c == pytest.approx(float(np.interp(pour.start_s, GRID_S, KETTLE_C)), abs=0.15)
        assert at_end.value_c == pytest.approx(float(np.interp(pour.end_s, GRID_S, KETTLE_C)), abs=0.15)
    assert found.contact is None


def test_a_pour_while_the_probe_was_out_has_no_water_and_says_why() -> None:
    comparison = compare(analysis(*AS_PLANNED), four_pours(), kettle((67.0, 90.0)))
    water = [
        next(each for each in result.deviations if each.quantity == "water_c") for result in comparison.stages
    ]
    assert [each.inside for each in water[:2]] == [True, True]
    assert water[2].inside is None
    assert math.isnan(water[2].actual)
    assert water[2].why == "the probe was out of the water from 1:07 to 1:30"


def test_a_probe_left_out_or_never_in_is_told_so() -> None:
    left = compare(analysis(*AS_PLANNED), four_pours(), kettle((60.0, 1e9)))
    never = compare(analysis(*AS_PLANNED), four_pours(), kettle((-100.0, 1e9)))
    assert left.stages[3].deviations[-1].why == "the probe was out of the water from 1:00 to the end"
    assert {result.deviations[-1].why for result in never.stages} == {"the probe was never in the water"}


def test_water_that_is_less_sure_than_the_tolerance_is_not_judged() -> None:
    """A second after cold water was poured in, a probe of unknown lag has not followed yet."""
    time_s = np.arange(0.0, 200.0, 0.5)
    since_s = np.maximum(time_s - START_S - 44.0, 0.0)
    shown_c = 96.0 - 12.0 * (1.0 - np.exp(-since_s / 4.0))
    comparison = compare(analysis(*AS_PLANNED), four_pours(), {"kettle": (time_s, np.round(shown_c, 1))})
    water = [result.deviations[-1] for result in comparison.stages]
    assert [each.inside for each in water] == [True, None, False, False]
    assert water[1].why.startswith("the readings resolve")


def test_cold_water_that_the_target_asks_for_is_water() -> None:
    cold = parse_target(FOUR_POURS.replace("94.0", "18.0"), "cold.toml")
    time_s = np.arange(0.0, 200.0, 1.0)
    readings = {"kettle": (time_s, np.round(18.0 + 0.05 * np.sin(time_s), 2))}
    comparison = compare(analysis(*AS_PLANNED), cold, readings)
    assert [result.deviations[-1].inside for result in comparison.stages] == [True] * 4


@pytest.mark.parametrize(
    ("names", "channel"),
    [
        (("kettle", "slurry"), "kettle"),
        (("thermometer",), "thermometer"),
        (("probe",), "probe"),
        (("slurry",), None),
        (("room",), None),
        (("one", "two"), None),
    ],
)
def test_which_channel_is_the_water(names: tuple[str, ...], channel: str | None) -> None:
    nothing = np.zeros(0)
    assert water_channel(dict.fromkeys(names, (nothing, nothing))) == channel


def test_the_room_is_that_of_its_own_channel_or_of_a_probe_before_it_was_put_in() -> None:
    room = (np.arange(0.0, 190.0, 10.0), np.full(19, 20.5))
    by_channel = thermometers_of(analysis(*AS_PLANNED), {**kettle(), "room": room}, None, None)
    assert set(by_channel) == {"kettle"}
    assert (by_channel["kettle"].room_by, by_channel["kettle"].cooled.room_c) == ("room", 20.5)
    by_probe = thermometers_of(analysis(*AS_PLANNED), kettle((-100.0, -5.0)), None, None)["kettle"]
    assert (by_probe.room_by, by_probe.cooled.room_c) == ("probe", 22.0)
    assert by_probe.cooled.k_per_min == pytest.approx(1.0 / 60.0, rel=0.05)
    unknown = thermometers_of(analysis(*AS_PLANNED), kettle(), None, None)["kettle"]
    assert (unknown.room_by, unknown.cooled.lack) == ("", "room-unknown")
    assert unknown.cooled.rate_c_min == pytest.approx(1.17, abs=0.05)


def slurry() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    time_s = np.arange(0.0, 195.0, 0.5)
    return {"slurry": (time_s, np.where(time_s < START_S, 22.0, 90.0 - 0.03 * (time_s - START_S)))}


def test_the_contact_time_ends_with_what_is_known() -> None:
    whole = analysis(*AS_PLANNED)
    last_s = whole.pours[-1].end_s
    for found, until_s, ended in [
        (thermometers_of(whole, slurry(), None, START_S + 160.0), START_S + 160.0, "dry"),
        (
            thermometers_of(analysis(*AS_PLANNED, lifted_s=150.0), slurry(), None, None),
            START_S + 150.0,
            "lifted",
        ),
        (thermometers_of(whole, slurry(), None, None), last_s, "last water"),
        (
            thermometers_of(replace(whole, method="immersion"), slurry(), None, None),
            float(whole.time_s[-1]),
            "readings",
        ),
    ]:
        one = found["slurry"]
        assert one.contact_end == ended
        assert one.contact.until_s == pytest.approx(until_s)
        lasts_s = min(until_s, 194.5) - START_S
        assert one.contact.mean_c == pytest.approx(90.0 - 0.03 * lasts_s / 2, abs=0.2)
        assert one.contact.least_c == pytest.approx(90.0 - 0.03 * lasts_s, abs=0.2)


@pytest.mark.parametrize("seed", range(3))
def test_a_simulated_brew_has_its_kettle_and_its_slurry(seed: int) -> None:
    brew = assess(simulated(FOUR_POURS, EASY, seed))
    kettle_, slurry_ = brew.thermometers["kettle"], brew.thermometers["slurry"]
    # What the unerring probes of the very same brew show.
    clean = replace(EASY, probe_lag_s=(0.0, 0.0), probe_noise_c=0.0)
    true = [r for r in simulate(read_plan(FOUR_POURS), seed, clean).readings if r.channel == "kettle"]
    true_s, true_c = [r.time_s for r in true], [r.value for r in true]
    for pour, (at_start, _) in zip(brew.analysis.pours, kettle_.at_pours, strict=True):
        assert at_start.value_c == pytest.approx(float(np.interp(pour.start_s, true_s, true_c)), abs=0.25)
    assert 0.6 < kettle_.cooled.rate_c_min < 1.8  # about one degree a minute: common practice
    assert slurry_.contact.least_c < slurry_.contact.mean_c < 94.0
    assert slurry_.contact.least_c > 60.0


def test_a_thermometer_whose_times_are_none_is_left_out() -> None:
    readings = {"kettle": (np.array([0.0, 1e9]), np.array([94.0, 94.0]))}
    assert thermometers_of(analysis(*AS_PLANNED), readings, None, None) == {}
    assert "No channel" in compare(analysis(*AS_PLANNED), four_pours(), readings).notes[0]


def test_readings_out_of_order_are_put_in_order() -> None:
    time_s, value_c = kettle()["kettle"]
    order = np.random.default_rng(1).permutation(time_s.size)
    shuffled = thermometers_of(analysis(*AS_PLANNED), {"kettle": (time_s[order], value_c[order])}, None, None)
    straight = thermometers_of(analysis(*AS_PLANNED), kettle(), None, None)
    assert shuffled["kettle"].at_pours == straight["kettle"].at_pours


def test_without_a_brew_there_is_nothing_to_say() -> None:
    assert thermometers_of(analysis(), kettle(), None, None) == {}


def test_a_recording_without_thermometers_has_none() -> None:
    whole = simulated(FOUR_POURS, CLEAN, seed=1)
    weights = whole.readings[whole.readings["unit"] == "g"].reset_index(drop=True)
    assert isinstance(weights, pd.DataFrame)
    assert assess(Recording(whole.path, whole.meta, (), weights)).thermometers == {}
