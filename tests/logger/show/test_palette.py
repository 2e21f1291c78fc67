from __future__ import annotations

import pytest

from logger.show.palette import DARK, LIGHT, Theme, css_variables, dark_for_light


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


def test_each_role_has_a_light_colour_of_its_own_so_that_it_can_be_exchanged() -> None:
    assert len(dark_for_light()) == len(LIGHT.__dataclass_fields__)


def test_pages_get_every_role_as_a_variable() -> None:
    assert "--alarm: #B34700;" in css_variables(LIGHT)
    assert css_variables(DARK).count("--") == len(DARK.__dataclass_fields__)
