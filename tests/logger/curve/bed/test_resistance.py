"""The bed, held against Darcy's law in closed form and against simulated brews whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.simulated import CLEAN, EASY, MEDIUM, Percolation, SimulatedBrew, simulate
from drivers.simulated.response import first_order
from logger import Bed, read_bed
from logger.curve import Arrangement, conductivity_mm_s
from tests.benchmarks.curve_suite import THREE_POURS, filter_plan
from tests.logger.curve.bed.drained import LEAD_S, Drained, channel, drained, shown

CALM = (0.0, 0.0)
"""Response times of scales that have none."""

TWO_POURS = ((0.0, 12.0, 5.0), (40.0, 60.0, 6.0))
STEADY = ((0.0, 8.0, 6.0), (35.0, 115.0, 3.0))
FIVE_POURS = filter_plan((0, 50, 5), (40, 100, 5), (70, 150, 5), (100, 200, 5), (130, 250, 5), dose_g=16.0)


def read(bed: Drained, step_g: float = 0.1, noise_g: float = 0.02, **more: object) -> Bed:
    return read_bed(
        shown(bed.time_s, bed.water_g, step_g, noise_g, 1),
        shown(bed.time_s, bed.beverage_g, step_g, noise_g, 2),
        response_s=CALM,
        **more,  # type: ignore[arg-type]  # options by name
    )


def taus(bed: Bed) -> list[float]:
    return [stretch.tail.tau_s for stretch in bed.stretches if stretch.tail]


def at(bed: Bed, values: np.ndarray, since_s: float) -> float:
    """A value of a curve, so many seconds after the first water."""
    return float(np.interp(LEAD_S + since_s, bed.time_s, values))


@pytest.mark.parametrize("tau_s", [8.0, 15.0, 25.0])
def test_a_falling_head_is_the_exponential_that_darcys_law_gives(tau_s: float) -> None:
    bed = read(drained(TWO_POURS, (tau_s, tau_s), 60.0 + 5.0 * tau_s, kept_g=30.0))
    assert bed.tau_s == pytest.approx(tau_s, rel=0.01)
    assert taus(bed) == pytest.approx([tau_s, tau_s], rel=0.03)
    assert bed.kept_g == pytest.approx(30.0, abs=0.3)


def test_under_a_constant_head_the_flow_through_is_the_flow_in() -> None:
    """Darcy, ``Q = K A h / L``: at 3 g/s and tau 12 s the free water stays at 36 g."""
    bed = read(drained(STEADY, (12.0, 12.0), 180.0, kept_g=30.0))
    assert at(bed, bed.flow_g_s, 105.0) == pytest.approx(3.0, abs=0.05)
    assert bed.free_g is not None
    assert at(bed, bed.free_g, 105.0) == pytest.approx(36.0, abs=0.4)
    assert at(bed, bed.flow_g_s, 105.0) / at(bed, bed.free_g, 105.0) == pytest.approx(1 / 12.0, rel=0.03)
    assert bed.tau_s == pytest.approx(12.0, rel=0.01)


def test_conductivity_and_head_follow_where_the_beds_size_is_known() -> None:
    """A falling-head permeameter as wide as the bed: K = L / t ln(h1 / h2).

    40 mm deep, the head falls from 50 to 25 mm in 10 s: K = 40 / 10 * ln 2 = 2.773 mm/s, tau = 14.43 s.
    """
    tau_s = 10.0 / np.log(2.0)
    assert conductivity_mm_s(tau_s, 40.0) == pytest.approx(2.7726, abs=1e-4)
    bed = read(drained(STEADY, (12.0, 12.0), 180.0, kept_g=30.0))
    head_mm = bed.head_mm(area_cm2=20.0)
    assert head_mm is not None
    # 36 g of free water at 0.965 g/mL on 20 cm²: 18.65 mm
    assert at(bed, head_mm, 105.0) == pytest.approx(18.65, abs=0.3)


def test_water_in_is_beverage_and_what_is_held() -> None:
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    bed = read(true, step_g=0.01, noise_g=0.0)
    within = bed.time_s < LEAD_S + 139.0
    water, beverage, held = (
        np.interp(bed.time_s, true.time_s, values) for values in (true.water_g, true.beverage_g, true.held_g)
    )
    assert np.abs(bed.water_g - bed.beverage_g - bed.held_g)[within].max() < 1e-9
    assert np.abs(bed.water_g - water)[within].max() < 0.4  # a corner of a pour, smoothed by the grid
    calm = within & (np.abs(np.gradient(water, bed.time_s)) < 1e-9)
    for got, known in ((bed.water_g, water), (bed.beverage_g, beverage), (bed.held_g, held)):
        assert np.abs(got - known)[calm].max() < 0.1
    assert bed.held_end_g == pytest.approx(held[within][-1], abs=0.1)


def test_it_runs_dry_when_the_flow_falls_below_two_tenths() -> None:
    """Free water w at the last pour's end: dry ``tau ln(w / tau / 0.2)`` later."""
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    bed = read(true)
    free_g = float(np.interp(LEAD_S + 60.0, true.time_s, true.held_g)) - 30.0
    assert bed.drawdown is not None
    assert bed.drawdown.by == "flow"
    assert bed.drawdown.lasts_s == pytest.approx(15.0 * np.log(free_g / 15.0 / 0.2), abs=0.5)
    assert bed.drip_off_g == pytest.approx(free_g * np.exp(-80.0 / 15.0), abs=0.15)


def test_fines_show_as_a_rise_from_stretch_to_stretch() -> None:
    pours = ((0.0, 10.0, 5.0), (40.0, 50.0, 6.0), (90.0, 100.0, 6.0), (140.0, 150.0, 6.0))
    bed = read(drained(pours, (12.0, 14.0, 17.0, 21.0), 240.0, kept_g=30.0))
    assert taus(bed) == pytest.approx([12.0, 14.0, 17.0, 21.0], rel=0.03)
    for stretch, tau_s in zip(bed.stretches, (12.0, 14.0, 17.0, 21.0), strict=True):
        assert stretch.tail is not None
        assert abs(stretch.tail.tau_s - tau_s) < 3.0 * stretch.tail.tau_sd_s
        assert stretch.flow_per_head_s == pytest.approx(1.0 / tau_s, rel=0.03)


def test_a_stretch_cut_short_is_told_by_the_water_that_is_held_in_the_end() -> None:
    pours = ((0.0, 10.0, 5.0), (40.0, 50.0, 6.0), (56.0, 66.0, 6.0))
    bed = read(drained(pours, (14.0, 14.0, 14.0), 160.0, kept_g=30.0), noise_g=0.1)
    short = bed.stretches[1]
    assert short.end_from == "held"
    assert short.tail is not None
    assert abs(short.tail.tau_s - 14.0) < 3.0 * short.tail.tau_sd_s
    assert short.tail.unsure < 0.1


@pytest.mark.parametrize("arrangement", ["everything-server", "dripper-server", "everything-dripper"])
@pytest.mark.parametrize("told", [True, False])
def test_what_the_scales_carry_is_told_or_found(arrangement: Arrangement, told: bool) -> None:
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    carried = {"everything": true.water_g, "dripper": true.held_g, "server": true.beverage_g}
    first, second = (carried[name] for name in arrangement.split("-"))
    bed = read_bed(
        shown(true.time_s, first, 0.1, 0.02, 1),
        shown(true.time_s, second, 0.1, 0.02, 2),
        arrangement=arrangement if told else None,
        response_s=CALM,
    )
    assert bed.arrangement == arrangement
    assert len(bed.pours) == 2
    assert bed.tau_s == pytest.approx(15.0, rel=0.02)
    assert bed.pours[-1].to_g == pytest.approx(180.0, abs=0.5)
    assert bed.held_end_g == pytest.approx(true.held_g[-1], abs=0.2)


def test_a_server_lifted_to_swirl_it_loses_nothing() -> None:
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    lifted = (true.time_s > LEAD_S + 80.0) & (true.time_s < LEAD_S + 86.0)
    server_g = np.where(lifted, -300.0, true.beverage_g)
    bed = read_bed(
        shown(true.time_s, true.water_g, noise_g=0.02),
        shown(true.time_s, server_g, noise_g=0.02),
        response_s=CALM,
    )
    assert len(bed.lifts_s) == 1
    assert at(bed, bed.beverage_g, 120.0) == pytest.approx(
        float(np.interp(LEAD_S + 120.0, true.time_s, true.beverage_g)), abs=0.5
    )
    assert np.isnan(at(bed, bed.beverage_g, 83.0))
    assert bed.tau_s == pytest.approx(15.0, rel=0.05)


def test_a_dripper_lifted_to_swirl_it_comes_back_lighter_by_what_dripped() -> None:
    """Six seconds in the hand, over the server: the bed holds what it held before, less the drips."""
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    lifted = (true.time_s > LEAD_S + 80.0) & (true.time_s < LEAD_S + 86.0)
    dripper_g = np.where(lifted, -250.0, true.held_g)
    for first_g, second_g, arrangement in (
        (dripper_g, true.beverage_g, "dripper-server"),
        (true.water_g, dripper_g, "everything-dripper"),
    ):
        bed = read_bed(
            shown(true.time_s, first_g, noise_g=0.02),
            shown(true.time_s, second_g, noise_g=0.02, seed=2),
            arrangement=arrangement,  # type: ignore[arg-type]  # one of them
            response_s=CALM,
        )
        assert bed.held_end_g == pytest.approx(true.held_g[-1], abs=0.5)
        assert bed.pours[-1].to_g == pytest.approx(180.0, abs=0.7)


def test_each_scales_own_lag_is_taken_out() -> None:
    """Unshifted, 0.6 s between two scales at 4 g/s would be 2.4 g of water that nobody holds."""
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    beverage_g = first_order(true.beverage_g, 0.1, 0.7)
    bed = read_bed(
        shown(true.time_s, first_order(true.water_g, 0.1, 0.1), noise_g=0.02),
        shown(true.time_s, beverage_g, noise_g=0.02, seed=2),
        response_s=(0.1, 0.7),
    )
    for since_s in (65.0, 75.0, 90.0, 120.0):
        known_g = float(np.interp(LEAD_S + since_s, true.time_s, true.held_g))
        assert at(bed, bed.held_g, since_s) == pytest.approx(known_g, abs=0.25)


def test_a_server_tared_in_mid_brew_goes_on() -> None:
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    at_s = LEAD_S + 36.0
    zero_g = float(np.interp(at_s, true.time_s, true.beverage_g))
    server_g = np.where(true.time_s < at_s, true.beverage_g, true.beverage_g - zero_g)
    bed = read_bed(
        shown(true.time_s, true.water_g, noise_g=0.02),
        shown(true.time_s, server_g, noise_g=0.02),
        response_s=CALM,
    )
    assert bed.held_end_g == pytest.approx(true.held_g[-1], abs=0.3)
    assert bed.tau_s == pytest.approx(15.0, rel=0.02)


def test_a_vessel_taken_away_early_leaves_what_had_not_dripped_off() -> None:
    true = drained(TWO_POURS, (20.0, 20.0), 140.0, kept_g=30.0)
    gone = true.time_s > LEAD_S + 100.0
    bed = read_bed(
        shown(true.time_s, true.water_g, noise_g=0.02),
        shown(true.time_s, np.where(gone, -400.0, true.beverage_g), noise_g=0.02),
        response_s=CALM,
    )
    free_g = float(np.interp(LEAD_S + 99.6, true.time_s, true.held_g)) - 30.0
    assert bed.drip_off_g == pytest.approx(free_g, abs=0.6)
    assert bed.drawdown is not None
    assert bed.drawdown.dry_s is None
    assert "lifted" in bed.drawdown.why
    assert bed.tau_s == pytest.approx(20.0, rel=0.05)
    assert np.isnan(at(bed, bed.held_g, 120.0))


def test_a_valve_opened_late_drains_from_then_on() -> None:
    """An immersion that is drained through its bed: nothing comes for a minute, then all of it."""
    time_s = np.arange(0.0, 190.0, 0.1)
    since = time_s - LEAD_S
    water_g = np.clip(since, 0.0, 25.0) * 8.0
    open_s = np.maximum(since - 90.0, 0.0)
    beverage_g = 170.0 * (1.0 - np.exp(-open_s / 14.0))
    bed = read_bed(
        shown(time_s, water_g, noise_g=0.02), shown(time_s, beverage_g, noise_g=0.02, seed=2), response_s=CALM
    )
    assert bed.first_drip_s == pytest.approx(LEAD_S + 90.0, abs=0.3)
    assert bed.tau_s == pytest.approx(14.0, rel=0.01)
    assert bed.kept_g == pytest.approx(30.0, abs=0.3)


def test_the_brewers_mark_stands_in_where_the_flow_does_not_tell() -> None:
    true = drained(TWO_POURS, (20.0, 20.0), 90.0, kept_g=30.0)
    marked, unmarked = read(true, dry_s=LEAD_S + 120.0), read(true)
    assert marked.drawdown is not None
    assert (marked.drawdown.by, marked.drawdown.dry_s) == ("mark", LEAD_S + 120.0)
    assert unmarked.drawdown is not None
    assert unmarked.drawdown.dry_s is None
    assert "the readings ended" in unmarked.drawdown.why


def test_a_coarse_scale_says_less_and_says_so() -> None:
    pours = ((0.0, 10.0, 5.0), (30.0, 35.0, 6.0), (42.0, 47.0, 6.0))
    fine, coarse = (
        read(drained(pours, (14.0, 14.0, 14.0), 62.0, kept_g=30.0), step_g=step_g) for step_g in (0.1, 5.0)
    )
    assert len(taus(coarse)) < len(taus(fine))
    untold = [stretch for stretch in coarse.stretches if stretch.tail is None]
    assert all(stretch.why for stretch in untold)
    assert any("steps of 5 g" in stretch.why for stretch in untold)


def simulated(seed: int, level: str) -> SimulatedBrew:
    plan = (THREE_POURS, FIVE_POURS)[seed % 2]
    return simulate(
        plan, seed, {"clean": CLEAN, "easy": EASY, "medium": MEDIUM}[level], percolation=Percolation()
    )


@pytest.mark.parametrize(("level", "brews"), [("clean", 2), ("easy", 3), ("medium", 5)])
def test_simulated_brews_are_read_as_they_were(level: str, brews: int) -> None:
    """Some brews a level. The first stretch is left out: there the coffee still soaks."""
    inside, told, held_off_g = 0, 0, []
    for seed in range(brews):
        brew = simulated(seed, level)
        true, bed = brew.truth.bed, read_bed(channel(brew, "scale"), channel(brew, "server"), dose_g=15.0)
        assert true is not None
        assert bed.arrangement == "everything-server"
        assert len(bed.stretches) == len(true.taus_s)
        assert bed.first_drip_s == pytest.approx(true.first_drip_s, abs=5.0)
        held_off_g.append(
            abs((bed.held_end_g or 0.0) - np.interp(bed.end_s or 0.0, true.time_s, true.held_g))
        )
        for stretch, tau_s in list(zip(bed.stretches, true.taus_s, strict=True))[1:]:
            if stretch.tail:
                told += 1
                inside += abs(stretch.tail.tau_s - tau_s) < 3.0 * stretch.tail.tau_sd_s
                assert stretch.tail.tau_s == pytest.approx(tau_s, rel=0.12)
    assert told >= 2 * brews
    assert inside >= 0.95 * told
    assert np.median(held_off_g) < {"clean": 0.2, "easy": 0.2, "medium": 0.6}[level]


def test_the_mass_balance_of_a_clean_brew_holds_to_a_tenth_of_a_gram() -> None:
    quiet = replace(CLEAN, step_g=(0.01,))
    brew = simulate(THREE_POURS, 5, quiet, percolation=Percolation(drop_g=0.02))
    true = brew.truth.bed
    assert true is not None
    bed = read_bed(channel(brew, "scale"), channel(brew, "server"), response_s=CALM)
    known = np.interp(bed.time_s, true.time_s, true.held_g)
    calm = (bed.time_s < bed.end_s) & (np.abs(np.gradient(bed.water_g, bed.time_s)) < 0.05)
    assert np.abs(bed.held_g - known)[calm].max() < 0.1


@pytest.mark.parametrize(
    ("scale", "server", "says"),
    [
        (([0.0, 1.0], [0.0]), ([0.0], [0.0]), r"scale: times of shape \(2,\)"),
        (([0.0, 1.0], [0.0, 0.0]), ([1.0, 0.0], [0.0, 0.0]), "server: time runs backwards"),
    ],
)
def test_what_does_not_match_is_refused(scale: tuple, server: tuple, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        read_bed(scale, server)


def test_an_unknown_arrangement_is_refused() -> None:
    with pytest.raises(ValueError, match="everything-dripper"):
        read_bed(([], []), ([], []), arrangement="upside-down")  # type: ignore[arg-type]  # what a caller may do


def test_a_response_that_no_scale_has_is_refused() -> None:
    with pytest.raises(ValueError, match=r"server.*response"):
        read_bed(([], []), ([], []), response_s=(None, -1.0))


def test_scales_that_were_not_read_at_the_same_time_tell_nothing() -> None:
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    bed = read_bed(shown(true.time_s, true.water_g), shown(true.time_s + 1000.0, true.beverage_g))
    assert bed.why == "the two scales were not read at the same time"


def test_a_server_in_which_nothing_arrives_tells_nothing() -> None:
    true = drained(TWO_POURS, (15.0, 15.0), 140.0, kept_g=30.0)
    bed = read_bed(shown(true.time_s, true.water_g), shown(true.time_s, np.zeros_like(true.time_s)))
    assert "nothing came through" in bed.why
    assert bed.drawdown is None


STEPS_S = st.sampled_from([0.0, 0.02, 0.1, 0.1, 0.1, 0.25, 1.0, 3.0, 100.0])
WEIGHTS_G = st.one_of(st.floats(-2000.0, 2000.0), st.sampled_from([0.0, 0.1, 250.0, 1e6, float("nan")]))


@settings(max_examples=50, deadline=None)
@given(
    steps_s=st.lists(STEPS_S, min_size=1, max_size=120),
    first=st.lists(WEIGHTS_G, min_size=1, max_size=10),
    second=st.lists(WEIGHTS_G, min_size=1, max_size=10),
    later_s=st.sampled_from([0.0, 2.0, -50.0]),
    seed=st.integers(0, 2**16),
)
def test_any_readings_give_a_sound_bed(
    steps_s: list[float], first: list[float], second: list[float], later_s: float, seed: int
) -> None:
    rng, time_s = np.random.default_rng(seed), np.cumsum(steps_s)
    one, other = (np.cumsum(rng.choice(np.array(each), len(steps_s))) for each in (first, second))
    try:
        bed = read_bed((time_s, one), (time_s + later_s, other))
    except ValueError as refusal:
        assert "ten tonnes" in str(refusal)
        return
    assert (
        bed.time_s.shape
        == bed.water_g.shape
        == bed.beverage_g.shape
        == bed.held_g.shape
        == bed.flow_g_s.shape
    )
    assert bool(bed.why) == (bed.drawdown is None) == (bed.end_s is None)
    assert np.isfinite(bed.water_g).all()
    for stretch in bed.stretches:
        assert (stretch.tail is None) == bool(stretch.why)


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 2000), level=st.sampled_from(["easy", "medium"]))
def test_no_brew_is_held_that_was_not_poured(seed: int, level: str) -> None:
    brew = simulated(seed, level)
    bed = read_bed(channel(brew, "scale"), channel(brew, "server"))
    assert not bed.why
    assert np.nanmin(bed.held_g) > -2.0
    assert (np.nan_to_num(bed.flow_g_s) >= 0.0).all()
    assert np.nanmax(bed.beverage_g) <= bed.water_g.max() + 2.0
