"""The bed of a recording with two scales, whichever they are; and its change from practice to practice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from drivers.simulated import EASY, Percolation, read_plan, simulate
from logger.compare import Brew, assess
from logger.compare.beds import bed_change, two_scales
from logger.recording import Recording
from tests.logger.compare.brews import FOUR_POURS, SHOT, recording
from tests.logger.curve.bed.drained import Drained, channel, drained, shown

WATER = ((0.0, 9.0, 5.0), (45.0, 54.0, 6.0), (75.0, 83.0, 6.0), (105.0, 121.0, 6.0))
TAU_S = 15.0


def drained_brew(tau_s: float = TAU_S) -> Drained:
    return drained(WATER, (tau_s,) * 4, 200.0, kept_g=30.0)


def of_channels(
    target_text: str = "", marks: dict[str, float] | None = None, **channels: np.ndarray
) -> Recording:
    """A recording in memory, of channels that were read at the times of :func:`drained_brew`."""
    time_s = drained_brew().time_s
    parts = [
        pd.DataFrame(
            {"time_s": time_s, "channel": name, "value": shown(time_s, values, noise_g=0.02, seed=seed)[1]}
        )
        for seed, (name, values) in enumerate(channels.items(), 1)
    ]
    frame = pd.concat(parts).sort_values("time_s", kind="stable", ignore_index=True)
    frame = frame.assign(unit="g", status="stable", device_time_s=np.nan)
    return recording(frame, target_text=target_text, dose_g=15.0, marks=marks or {})


def weighed(name: str, tau_s: float = TAU_S) -> np.ndarray:
    true = drained_brew(tau_s)
    return {"water": true.water_g, "held": true.held_g, "beverage": true.beverage_g}[name]


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (("scale",), None),
        (("scale", "server"), ("scale", "server", None)),
        (("server", "scale"), ("scale", "server", None)),
        (("scale", "cup"), ("scale", "cup", None)),
        (("server", "dripper"), ("dripper", "server", "dripper-server")),
        (("scale", "dripper"), ("scale", "dripper", "everything-dripper")),
        (("scale", "dripper", "server"), ("scale", "server", None)),
        (("server", "bench"), ("bench", "server", None)),
        (("server",), None),
        (("dripper",), None),
        (("scale", "left"), None),
    ],
)
def test_two_scales_are_found_by_their_names(
    names: tuple[str, ...], expected: tuple[str, str, str | None]
) -> None:
    found = two_scales(of_channels(**dict.fromkeys(names, weighed("water"))))
    assert (found and (found.first, found.second, found.arrangement)) == expected


def test_a_second_scale_tells_what_the_bed_did() -> None:
    brew = assess(of_channels(scale=weighed("water"), server=weighed("beverage")))
    assert brew.bed is not None
    assert brew.bed.tau_s == pytest.approx(TAU_S, rel=0.02)
    assert brew.bed.held_per_dose == pytest.approx(30.0 / 15.0, abs=0.1)
    assert brew.drawdown is brew.bed.drawdown


def test_one_scale_tells_no_bed_and_a_mark_its_end() -> None:
    brew = assess(of_channels(scale=weighed("water"), marks={"dry": 160.0}), method="pour-over")
    assert brew.bed is None
    assert brew.drawdown is not None
    assert (brew.drawdown.dry_s, brew.drawdown.by, brew.drawdown.at_latest) == (160.0, "mark", False)


def test_under_the_dripper_alone_water_is_what_both_scales_weigh_together() -> None:
    """Each pour is known by its grams, though its water drained while it was poured."""
    brew = assess(of_channels(FOUR_POURS, dripper=weighed("held"), server=weighed("beverage")))
    assert [pour.to_g for pour in brew.analysis.pours] == pytest.approx([45.0, 99.0, 147.0, 243.0], abs=0.6)
    assert brew.comparison is not None
    assert [result.finding for result in brew.comparison.stages] == ["matched"] * 4


def test_the_flow_tells_the_end_where_nothing_was_lifted() -> None:
    brew = assess(of_channels(FOUR_POURS, scale=weighed("water"), server=weighed("beverage")))
    assert brew.comparison is not None
    assert brew.drawdown is not None
    end = next(one for one in brew.comparison.whole if one.quantity == "end_s")
    assert end.actual == pytest.approx((brew.drawdown.dry_s or 0.0) - (brew.analysis.start_s or 0.0))
    assert end.inside is not None


def test_an_espresso_has_no_bed_to_read() -> None:
    brew = assess(of_channels(SHOT, scale=weighed("water") / 8.0, cup=weighed("beverage") / 8.0))
    assert brew.bed is None
    assert brew.drawdown is None


def test_a_second_scale_that_cannot_be_read_does_not_take_the_report_with_it() -> None:
    brew = assess(of_channels(scale=weighed("water"), server=np.full(weighed("water").shape, 1e9)))
    assert brew.bed is not None
    assert "ten tonnes" in brew.bed.why
    assert len(brew.analysis.pours) == 4


def practice(tau_s: float, name: str) -> Brew:
    whole = of_channels(scale=weighed("water", tau_s), server=weighed("beverage", tau_s))
    return assess(replace(whole, path=whole.path / name))


def test_a_slower_bed_shows_from_practice_to_practice() -> None:
    change = bed_change([practice(15.0, "one"), practice(16.0, "two"), practice(19.0, "three")])
    assert change is not None
    assert change.taus_s == pytest.approx((15.0, 16.0, 19.0), rel=0.02)
    assert change.change_s == pytest.approx(4.0, abs=0.3)
    assert change.is_sure


def test_the_same_bed_twice_is_no_change() -> None:
    change = bed_change([practice(15.0, "one"), practice(15.0, "two")])
    assert change is not None
    assert not change.is_sure


def test_one_brew_alone_changes_nothing() -> None:
    single = assess(of_channels(scale=weighed("water")))
    assert bed_change([practice(15.0, "one"), single]) is None


def test_a_simulated_brew_gives_what_it_was_made_with() -> None:
    made = simulate(
        read_plan(FOUR_POURS), 2, EASY, percolation=Percolation(tau_s=(14.0, 14.0), clog=(0.0, 0.0))
    )
    parts = [
        pd.DataFrame({"time_s": time_s, "channel": name, "value": values})
        for name in ("scale", "server")
        for time_s, values in [channel(made, name)]
    ]
    frame = pd.concat(parts).sort_values("time_s", kind="stable", ignore_index=True)
    brew = assess(
        recording(frame.assign(unit="g", status="stable", device_time_s=np.nan), target_text=FOUR_POURS)
    )
    assert brew.bed is not None
    assert brew.bed.tau_s == pytest.approx(14.0, rel=0.02)
