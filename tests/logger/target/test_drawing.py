"""A target on the terminal."""

from __future__ import annotations

from hypothesis import given, settings

from logger.target import Target, draw_target, parse_target
from tests.logger.target.written_targets import TARGETS


def test_the_drawing_says_what_the_target_says(pour_over: str) -> None:
    drawing = draw_target(parse_target(pour_over, ""))
    assert "pour-over: 15 g coffee, 250 g water (1:16.7), water 94 °C" in drawing
    assert "bloom    0:00   0:09   45 g   45 g   5.0 g/s  94 °C" in drawing
    assert "pour 1   0:45  ~1:01   95 g  140 g  ~6.0 g/s" in drawing
    assert "~ no flow planned" in drawing
    assert "  250 │" in drawing


def test_a_shot_says_what_its_times_count_from(espresso: str) -> None:
    assert "times count from the pump's start" in draw_target(parse_target(espresso, ""))


@settings(deadline=None)  # other work may share the processor
@given(TARGETS)
def test_any_target_draws_within_its_width_and_cannot_steer_the_terminal(target: Target) -> None:
    drawing = draw_target(target, width=70, height=12)
    curve = [line for line in drawing.split("\n") if "│" in line and line[6:7] == "│"]
    assert len(curve) >= 12
    assert all(len(line) <= 70 for line in curve[:12])
    assert "●" in drawing
    assert not any(ord(letter) < 32 and letter != "\n" for letter in drawing)
    assert "\x7f" not in drawing
    assert "\x9b" not in drawing
