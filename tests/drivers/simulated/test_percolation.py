"""The simulated bed: no water made or lost, Darcy's law between pours, and a brew that stays as it was."""

from pathlib import Path

import numpy as np
import pytest

from drivers.address import parse_address
from drivers.device import ChannelNames, open_device
from drivers.errors import AddressError
from drivers.reading import GRAM, Reading
from drivers.simulated import CLEAN, PRESETS, Conditions, Percolation, Plan, TrueBed, read_plan, simulate
from drivers.simulated.device import open_simulated
from tests.drivers.simulated.conftest import ESPRESSO, POUR_OVER

SLOW = Percolation(tau_s=(20.0, 20.0), clog=(0.5, 0.5), absorbs=(2.0, 2.0), soak_s=(1.0, 1.0), drop_g=0.0)


def bed_of(
    plan: Plan, conditions: Conditions = CLEAN, seed: int = 3, percolation: Percolation = SLOW
) -> TrueBed:
    bed = simulate(plan, seed, conditions, percolation=percolation).truth.bed
    assert bed is not None
    return bed


@pytest.mark.parametrize("level", list(PRESETS))
def test_the_rest_of_the_brew_stays_as_it_is_without_a_server(pour_over: Plan, level: str) -> None:
    for seed in range(3):
        plain = simulate(pour_over, seed, PRESETS[level])
        weighed = simulate(pour_over, seed, PRESETS[level], percolation=Percolation())
        assert tuple(one for one in weighed.readings if one.channel != "server") == plain.readings
        assert weighed.truth.pours == plain.truth.pours


def test_no_water_is_made_or_lost(pour_over: Plan) -> None:
    brew = simulate(pour_over, 3, CLEAN, percolation=SLOW)
    bed = brew.truth.bed
    assert bed is not None
    assert np.abs(brew.truth.weight_g - bed.held_g - bed.beverage_g).max() < 0.05
    assert bed.absorbed_g.max() == pytest.approx(30.0, abs=0.1)
    assert (np.diff(bed.beverage_g) >= -1e-9).all()
    assert bed.free_g.min() > -0.05


def test_between_pours_the_free_water_decays_as_darcys_law_says(pour_over: Plan) -> None:
    """Soaked grounds, no inflow: ``m(t) = m(0) exp(-t / tau)``."""
    brew = simulate(pour_over, 3, CLEAN, percolation=SLOW)
    bed = brew.truth.bed
    assert bed is not None
    since_s = brew.truth.pours[-1].end_s + 1.0
    free = np.interp([since_s, since_s + 20.0, since_s + 40.0], bed.time_s, bed.free_g)
    assert free[1:] / free[0] == pytest.approx(np.exp([-20.0 / 30.0, -40.0 / 30.0]), rel=5e-3)


def test_fines_slow_the_bed_with_each_pour(pour_over: Plan) -> None:
    taus_s = bed_of(pour_over).taus_s
    assert taus_s[0] == pytest.approx(20.0, abs=0.1)
    assert taus_s[-1] == pytest.approx(30.0, abs=0.1)
    assert list(taus_s) == sorted(taus_s)


def test_nothing_drips_until_half_of_the_grounds_are_wet(pour_over: Plan) -> None:
    bed = bed_of(pour_over)
    assert bed.first_drip_s is not None
    assert np.interp(bed.first_drip_s, bed.time_s, bed.absorbed_g) > 15.0
    before = bed.beverage_g[bed.time_s < bed.first_drip_s]
    assert before.max() <= 0.02


def test_a_thin_stream_lands_in_drops(pour_over: Plan) -> None:
    bed = bed_of(pour_over, percolation=Percolation(drop_g=0.1))
    late = bed.beverage_g[bed.time_s > bed.time_s[-1] - 5.0]
    steps_g = np.diff(np.unique(np.round(late, 6)))
    assert steps_g == pytest.approx(0.1, abs=1e-6)


def test_when_the_dripper_is_taken_away_nothing_drips_any_more(pour_over: Plan) -> None:
    bed = bed_of(pour_over, PRESETS["medium"])
    assert bed.stops_s is not None
    after = bed.beverage_g[bed.time_s > bed.stops_s + 0.05]
    assert after.max() - after.min() < 0.15


def test_only_a_pour_over_drips_into_a_server(espresso: Plan, immersion: Plan) -> None:
    for plan in (espresso, immersion):
        with pytest.raises(ValueError, match="no pour-over"):
            simulate(plan, 1, percolation=Percolation())


async def test_the_server_is_a_channel_of_the_device(tmp_path: Path) -> None:
    path = tmp_path / "filter.toml"
    path.write_text(POUR_OVER, encoding="utf-8")
    device = open_device(f"simulated:{path}?speed=max&server=yes&tau_s=17&level=easy")
    async with device:
        readings = [reading async for reading in device]
    assert {reading.channel for reading in readings if reading.unit == GRAM} == {"scale", "server"}
    assert {reading.channel for reading in readings if reading.unit != GRAM} == {"kettle", "slurry"}


async def test_a_tare_reaches_the_scale_alone(tmp_path: Path) -> None:
    path = tmp_path / "filter.toml"
    path.write_text(POUR_OVER, encoding="utf-8")
    plain = simulate(read_plan(path), 0, PRESETS["clean"], percolation=Percolation())
    seen: list[Reading] = []
    async with open_device(f"simulated:{path}?speed=max&server=yes&level=clean") as device:
        async for reading in device:
            seen.append(reading)
            if len(seen) == 2000:
                await device.tare()
    both = [[one.value for one in readings if one.channel == "server"] for readings in (seen, plain.readings)]
    assert both[0] == both[1]
    last_g = [
        next(one.value for one in readings[::-1] if one.channel == "scale")
        for readings in (seen, plain.readings)
    ]
    assert last_g[0] < last_g[1] - 10.0


async def test_tau_can_be_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "filter.toml"
    path.write_text(POUR_OVER, encoding="utf-8")
    device = open_simulated(parse_address(f"simulated:{path}?server=yes&tau_s=17"), ChannelNames())
    async with device:
        assert device.brew is not None
        assert device.brew.truth.bed is not None
        assert device.brew.truth.bed.taus_s == pytest.approx([17.0] * 3)


async def test_an_espresso_has_no_server(tmp_path: Path) -> None:
    path = tmp_path / "shot.toml"
    path.write_text(ESPRESSO, encoding="utf-8")
    with pytest.raises(AddressError, match="no pour-over"):
        async with open_device(f"simulated:{path}?server=yes"):
            pass


@pytest.mark.parametrize(
    ("options", "says"),
    [("server=maybe", "server=maybe"), ("tau_s=12", "server=yes"), ("server=yes&tau_s=0", "tau_s")],
)
def test_impossible_beds_are_refused(options: str, says: str) -> None:
    with pytest.raises(AddressError, match=says):
        open_simulated(parse_address(f"simulated:target.toml?{options}"), ChannelNames())


def test_two_channels_cannot_have_one_name() -> None:
    with pytest.raises(AddressError, match="cannot be called server"):
        open_simulated(parse_address("simulated:target.toml?server=yes"), ChannelNames(weight="server"))
