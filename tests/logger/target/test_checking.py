"""Plans that cannot be brewed, and plans that deserve a second look."""

from __future__ import annotations

import pytest

from logger.target import TargetError, check_target, parse_target


def told(text: str) -> str:
    with pytest.raises(TargetError) as caught:
        parse_target(text, "bench.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("written", "instead", "said"),
    [
        ("to_g  = 140", "to_g  = 45", "line 20, stage 2, to_g: 45 g is not more than the 45 g"),
        ('start = "0:45"', 'start = "0:05"', "before bloom can be done at 0:09"),
        ('start = "0:45"', 'start = "1:14"', "before pour 1 can be done at 1:20, even at 15 g/s"),
        ('start = "0:45"', 'start = "1:20"', "1:15 is not after 1:20"),
        ('start    = "0:00"', 'start    = "0:05"', "the first water starts the clock"),
        ("flow_g_s = 5.0", "flow_g_s = 15.5", "no kettle pours 15.5 g/s: 0.5 to 15 g/s is common practice"),
        ("flow_g_s = 5.0", "flow_g_s = 0.4", "no kettle pours 0.4 g/s"),
        (
            "flow_g_s = 5.0",
            "flow_g_s = 5.0\nduration_s = 12",
            "12 s at 5 g/s make 60 g, and the stage pours 45 g",
        ),
        ("duration_s = 18", "duration_s = 5", "no kettle pours 22 g/s"),
        ("duration_s = 18", "duration_s = 0", "a pour takes time"),
        ('end     = "3:00"', 'end     = "1:20"', "the brew ends at 1:20, before pour 2 can be done at 1:33"),
        ("weight_g = 3.0", "weight_g = -3.0", "a tolerance of -3 can never be met"),
        ("{ weight_g = 1.0 }", "{ weight_g = 0 }", "stage 3, tolerance, weight_g"),
        ("water_c = 94.0", "water_c = 100.5", "100.5 °C is hotter than boiling water"),
        ("water_c = 94.0", "water_c = 0", "0 °C is ice"),
        ("dose_g  = 15.0", "dose_g  = 250", "250 g of coffee is not between 1 and 200 g"),
        ('method  = "pour-over"', 'method  = "espresso"', "espresso has no pours"),
        ("[tolerance]", "[shot]\nyield_g = 36\ntime = [25, 30]\n[tolerance]", "pour-over has no shot"),
    ],
)
def test_an_impossible_plan_is_told(pour_over: str, written: str, instead: str, said: str) -> None:
    assert written in pour_over
    assert said in told(pour_over.replace(written, instead, 1))


@pytest.mark.parametrize(
    ("written", "instead", "said"),
    [
        ('["0:25", "0:30"]', '["0:30", "0:25"]', "0:30 comes after 0:25"),
        ('["0:25", "0:30"]', '"0:25"', "two times belong"),
        ('["0:05", "0:08"]', '["0:05", "0:26"]', "when the shot may be over"),
        ("yield_g    = 36.0", "yield_g    = 0", "0 g is not between"),
        ('method = "espresso"', 'method = "immersion"', "immersion has no shot"),
        ("[shot]", 'end = "0:30"\n[shot]', "espresso has no end of its own"),
    ],
)
def test_an_impossible_shot_is_told(espresso: str, written: str, instead: str, said: str) -> None:
    assert written in espresso
    assert said in told(espresso.replace(written, instead, 1))


def test_half_a_second_of_overlap_is_rounding(pour_over: str) -> None:
    text = pour_over.replace('start = "0:45"', "start = 8.6")
    assert parse_target(text, "bench.toml").stages[1].start_s == 8.6


def test_a_plan_as_usual_has_nothing_to_warn_of(pour_over: str, espresso: str) -> None:
    assert check_target(parse_target(pour_over, "bench.toml"), "bench.toml") == ()
    assert check_target(parse_target(espresso, "shot.toml"), "shot.toml") == ()


def test_an_unusual_ratio_warns_and_does_not_refuse(pour_over: str) -> None:
    target = parse_target(pour_over.replace("dose_g  = 15.0", "dose_g  = 26.0"), "bench.toml")
    (warning,) = check_target(target, "bench.toml")
    assert str(warning).startswith(
        "bench.toml, line 3, dose_g: the brew ratio is 1:9.6, outside 1:10 to 1:20"
    )


def test_other_doubts_are_told_with_their_lines(pour_over: str) -> None:
    text = (
        pour_over.replace('"pour 2"', '"Pour 1"')
        .replace('end     = "3:00"', "")
        .replace("= 1.0 }", "= 110 }")
    )
    doubts = [(doubt.line, doubt.field) for doubt in check_target(parse_target(text, "x"), "x")]
    assert doubts == [(1, "end"), (23, "stage 3, name"), (25, "stage 3, to_g")]
