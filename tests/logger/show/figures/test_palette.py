from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from logger.show.figures.palette import DARK, LIGHT, Theme, css_variables, dark_for_light
from tests.logger.show.figures.colour_blindness import DEUTERANOPIA, EYES, PROTANOPIA, apart, linear

NEARLY_ALIKE = 9.0
"""A CIE 1976 difference four times the just noticeable one, 2.3."""


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_text_and_lines_stand_out_from_the_paper(theme: Theme) -> None:
    # WCAG 2.1, success criteria 1.4.3 (text, 4.5 to 1) and 1.4.11 (graphics, 3 to 1)
    assert all(_contrast(colour, theme.paper) >= 4.5 for colour in (theme.ink, theme.quiet, theme.alarm))
    assert all(_contrast(colour, theme.paper) >= 3 for colour in (*theme.lines, theme.curve, theme.edge))


def test_the_contrast_formula_gives_21_for_black_on_white() -> None:
    assert _contrast("#000000", "#FFFFFF") == pytest.approx(21.0)


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_what_must_be_told_apart_is_for_a_colour_blind_eye_too(theme: Theme, eye: str) -> None:
    lines = [linear(colour) for colour in (*theme.lines, theme.curve)]
    marks = [linear(theme.curve), linear(theme.alarm), linear(theme.quiet)]
    fills = [linear(fill, theme.paper) for fill in (theme.band, theme.most, theme.middle, theme.paper)]
    for group in (lines, marks, fills):
        assert min(apart(one, other, EYES[eye]) for one, other in combinations(group, 2)) > NEARLY_ALIKE


def test_the_simulation_leaves_white_and_greys_alone_and_makes_red_and_green_alike() -> None:
    for eye in (PROTANOPIA, DEUTERANOPIA):
        assert eye @ np.ones(3) == pytest.approx(np.ones(3), abs=1e-4)
    red, green = linear("#B22222"), linear("#6B6B00")
    assert apart(red, green, DEUTERANOPIA) < apart(red, green, EYES["normal"]) / 3


def test_each_role_has_a_light_colour_of_its_own_so_that_it_can_be_exchanged() -> None:
    assert len(dark_for_light()) == len(LIGHT.__dataclass_fields__)


def test_pages_get_every_role_as_a_variable() -> None:
    assert "--alarm: #B34700;" in css_variables(LIGHT)
    assert css_variables(DARK).count("--") == len(DARK.__dataclass_fields__)
