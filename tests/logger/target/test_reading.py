"""Target files: what a brewer writes, and what they are told when it is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import BadInputError
from logger.target import Shot, Stage, Target, TargetError, Tolerance, parse_target, read_target


def mistakes_in(text: str) -> list[tuple[int, str]]:
    with pytest.raises(TargetError) as caught:
        parse_target(text, "bench.toml")
    return [(mistake.line, mistake.field) for mistake in caught.value.mistakes]


def told(text: str) -> str:
    with pytest.raises(TargetError) as caught:
        parse_target(text, "bench.toml")
    return str(caught.value)


def test_a_pour_over_is_read_stage_by_stage(pour_over: str) -> None:
    target = parse_target(pour_over, "bench.toml")
    tolerance = Tolerance(start_s=3.0, weight_g=3.0, flow_g_s=1.5, water_c=2.0, end_s=10.0)
    assert (target.title, target.method, target.dose_g, target.water_c, target.end_s) == (
        "Three pours for the morning bench", "pour-over", 15.0, 94.0, 180.0,
    )  # fmt: skip
    assert target.stages == (
        Stage("bloom", 0.0, 45.0, 0.0, flow_g_s=5.0, tolerance=tolerance),
        Stage("pour 1", 45.0, 140.0, 45.0, tolerance=tolerance),
        Stage("pour 2", 75.0, 250.0, 140.0, duration_s=18.0, tolerance=Tolerance(weight_g=1.0)),
    )
    assert target.text == pour_over
    assert target.brew_ratio == pytest.approx(250 / 15)


def test_an_espresso_is_read_as_a_shot(espresso: str) -> None:
    target = parse_target(espresso, "shot.toml")
    assert target.shot == Shot(36.0, (25.0, 30.0), (5.0, 8.0))
    assert target.brew_ratio == 2.0


def test_a_stage_takes_the_tolerances_of_the_file_but_for_its_own(pour_over: str) -> None:
    target = parse_target(pour_over.replace("start_s  = 3.0", "start_s = 2.0"), "bench.toml")
    assert target.stages[2].tolerance == Tolerance(start_s=2.0, weight_g=1.0)


def test_a_file_from_another_system_reads_the_same(tmp_path: Path, pour_over: str) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xef\xbb\xbf" + pour_over.replace("\n", "\r\n").encode())
    assert read_target(path).stages == parse_target(pour_over, "").stages


def test_every_mistake_is_told_at_once_with_its_line() -> None:
    text = """\
title = "x"
method = "pourover"
dose = 15
water_c = 140
[[stage]]
name = "bloom"
start = "soon"
to_g = "45 g"
[[stage]]
start = "0:45"
to_g = nan
flow_g_s = true
"""
    assert mistakes_in(text) == [
        (1, "dose_g"),
        (2, "method"),
        (3, "dose"),
        (4, "water_c"),
        (7, "stage 1, start"),
        (8, "stage 1, to_g"),
        (9, "stage 2, name"),
        (11, "stage 2, to_g"),
        (12, "stage 2, flow_g_s"),
    ]
    message = told(text)
    assert "Did you mean dose_g?" in message
    assert 'Write "pour-over".' in message
    assert "bench.toml: 9 mistakes" in message


def test_one_mistake_reads_as_one_line(pour_over: str) -> None:
    message = told(pour_over.replace("to_g  = 140", "to_g  = 40"))
    assert message.splitlines()[0].startswith(
        "bench.toml, line 20, stage 2, to_g: 40 g is not more than the 45 g"
    )
    assert "\n" not in message


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("end = 3:00", "Put times in quotes"),
        ("end = ", "Write a value after the ="),
        ("water_c = 94,5", "Write decimals with a point"),
        ("water_c = 94 °C", "Write the number alone"),
        ("method = pour-over", "Put words in quotes"),
        ("title = “Bench”", "Use straight quotes"),
        ("just words", "Write each line as name = value"),
    ],
)
def test_a_slip_of_the_pen_is_told_with_its_remedy(line: str, remedy: str) -> None:
    message = told(f"# a target\n{line}\n")
    assert message.startswith("bench.toml, line 2")
    assert remedy in message


def test_a_field_in_the_wrong_table_is_sent_where_it_belongs(pour_over: str) -> None:
    moved = pour_over.replace("dose_g  = 15.0\n", "").replace(
        "weight_g = 3.0\n", "weight_g = 3.0\ndose_g = 15.0\n"
    )
    assert "dose_g belongs above the first line in square brackets." in told(moved)


def test_a_single_stage_in_single_brackets_is_told(pour_over: str) -> None:
    text = pour_over[: pour_over.index("[[stage]]")] + '[stage]\nname = "all"\nstart = 0\nto_g = 250\n'
    assert "[[stage]] in double square brackets" in told(text)


def test_the_same_field_twice_is_told(pour_over: str) -> None:
    assert "twice" in told(pour_over.replace("water_c = 94.0", "dose_g = 16.0"))


@pytest.mark.parametrize("number", ["1e999", "nan", "-inf", "9" * 400])
def test_a_number_that_is_no_amount_is_told(pour_over: str, number: str) -> None:
    text = pour_over.replace("dose_g  = 15.0", f"dose_g  = {number}")
    assert mistakes_in(text) == [(3, "dose_g")]


def test_text_too_deep_or_too_long_to_follow_is_a_mistake_too() -> None:
    for text in ("x = " + "[" * 100_000, "x = 1" + "0" * 6000):
        assert mistakes_in(text)


def test_a_file_that_is_not_utf8_is_told_with_its_line(tmp_path: Path, pour_over: str) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(pour_over.replace("the bed is dry", "fertig: schön").encode("latin-1"))
    with pytest.raises(TargetError, match="line 5: the byte 0xf6 is not UTF-8"):
        read_target(path)


def test_a_file_that_is_not_there_is_bad_input(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path, "bad\0name"):
        with pytest.raises(BadInputError):
            read_target(path)


@given(st.text(max_size=200))
def test_any_text_is_a_target_or_a_target_error(text: str) -> None:
    try:
        parse_target(text, "any")
    except TargetError as error:
        assert error.mistakes


FRAGMENTS = """\
title = "x"
method = "pour-over"
method = "espresso"
dose_g = 15
dose_g = -1
water_c = 1e-320
end = 0
end = 00:03:00
[shot]
[[stage]]
[tolerance]
name = "a"
start = "0:00"
start = 9999999
to_g = 45
to_g = 1e308
to_g = -5
flow_g_s = 0
flow_g_s = 1e-320
duration_s = 0
duration_s = -1e-320
duration_s = 1e-320
yield_g = 36
time = ["0:25", 30]
time = [0, 0]
first_drip = [30, 5]
tolerance = { weight_g = 0 }
tolerance = 3
weight_g = inf
stage = []
stage = [1]
stage.name = 1
shot = 1
"""


@given(st.lists(st.sampled_from(FRAGMENTS.splitlines()), max_size=14))
def test_any_heap_of_fields_is_a_target_or_a_target_error(lines: list[str]) -> None:
    try:
        target = parse_target("\n".join(lines), "any")
    except TargetError as error:
        assert all(1 <= mistake.line <= max(len(lines), 1) for mistake in error.mistakes)
    else:
        assert isinstance(target, Target)
        assert target.total_g > 0
