"""The same recipe for another dose."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.errors import BadInputError
from logger.target import Target, parse_target, scale_target, write_target
from tests.logger.target.written_targets import TARGETS


def test_weights_and_flows_scale_and_the_rest_stays_as_written(pour_over: str) -> None:
    scaled = scale_target(pour_over, 20)
    changed = [
        (old.split("#")[0].strip(), new.split("#")[0].strip())
        for old, new in zip(pour_over.splitlines(), scaled.splitlines(), strict=True)
        if old != new
    ]
    assert changed == [
        ("dose_g  = 15.0", "dose_g  = 20.0"),
        ("to_g     = 45.0", "to_g     = 60.0"),
        ("flow_g_s = 5.0", "flow_g_s = 6.7"),
        ("to_g  = 140", "to_g  = 186.5"),
        ("to_g       = 250.0", "to_g       = 333.5"),
    ]
    assert "# what the scale shows" in scaled


def test_the_ratio_and_the_times_stay(pour_over: str) -> None:
    old, new = parse_target(pour_over, ""), parse_target(scale_target(pour_over, 12.0), "")
    assert new.total_g == pytest.approx(12.0 * old.brew_ratio, abs=0.25)
    assert [stage.start_s for stage in new.stages] == [stage.start_s for stage in old.stages]
    assert new.stages[0].planned_end_s == pytest.approx(9.0, abs=0.3)
    assert new.end_s == old.end_s


def test_a_shot_keeps_its_window(espresso: str) -> None:
    new = parse_target(scale_target(espresso, 17.3), "")
    assert new.shot
    assert (new.shot.yield_g, new.shot.time_s) == (34.6, (25.0, 30.0))


def test_the_same_dose_changes_nothing(pour_over: str) -> None:
    assert scale_target(pour_over, 15.0) == pour_over


def test_fields_are_found_however_they_are_written() -> None:
    text = (
        'title = "dose_g = 15.0"\n"method" = "pour-over"\r\n\'dose_g\'=15 # dose_g = 15.0\n'
        'stage = [ {name="to_g = 60", to_g = 60.0, start = 0}, {name = "b",start="0:30",to_g=240.0 } ]\n'
    )
    new = scale_target(text, 30)
    assert new == text.replace("=15 #", "=30.0 #").replace("to_g = 60.0", "to_g = 120.0").replace(
        "240.0", "480.0"
    )


@pytest.mark.parametrize("dose_g", [0.0, -3.0, float("nan"), float("inf"), 500.0])
def test_an_impossible_dose_is_refused(pour_over: str, dose_g: float) -> None:
    with pytest.raises(BadInputError):
        scale_target(pour_over, dose_g)


def test_a_dose_that_no_kettle_can_follow_is_refused(pour_over: str) -> None:
    with pytest.raises(BadInputError, match=r"no kettle pours 15\.3 g/s.*nearer to 15 g"):
        scale_target(pour_over.replace("duration_s = 18", ""), 46)


def test_a_target_changed_by_a_program_is_scaled_as_it_is_now(pour_over: str) -> None:
    target = replace(parse_target(pour_over, ""), dose_g=10.0)
    assert parse_target(scale_target(target, 20), "").total_g == 500.0


@settings(deadline=None)  # other work may share the processor
@given(TARGETS, st.floats(0.5, 2.0))
def test_scaling_keeps_the_ratio_or_says_that_it_cannot(target: Target, factor: float) -> None:
    dose_g = round(target.dose_g * factor, 1)
    try:
        new = parse_target(scale_target(write_target(target), dose_g), "")
    except BadInputError:
        return
    assert new.dose_g == dose_g
    assert new.total_g == pytest.approx(target.brew_ratio * dose_g, abs=0.26)
    assert [stage.start_s for stage in new.stages] == [stage.start_s for stage in target.stages]
