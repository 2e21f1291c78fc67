"""The colours of figures and pages, for light and for dark.

The line colours are those of Okabe and Ito, "Color Universal Design" (2008), which stay apart for
colour-blind eyes; their values are given from memory. A tone darkened or lightened from them is ours, where
the published one lacks contrast on our paper. No meaning is in colour alone: lines differ by dash, marks by
shape, and every mark has its word.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

BLUE, SKY, GREEN = "#0072B2", "#56B4E9", "#009E73"
VERMILLION, ORANGE, PURPLE, YELLOW = "#D55E00", "#E69F00", "#CC79A7", "#F0E442"

DASHES = ("solid", "dash", "dot", "dashdot", "longdash")


@dataclass(frozen=True, slots=True)
class Theme:
    """The roles that colours play.

    :param paper: behind everything
    :param ink: text and the lines that matter
    :param quiet: lesser text
    :param grid: rules and grid lines
    :param band: the corridor's fill
    :param edge: the corridor's edges
    :param bundle: the thin lines of every brew at once
    :param middle: the middle half of several brews
    :param most: nine tenths of many brews
    :param curve: the weight, and the flow
    :param pour: the shade behind a pour
    :param alarm: what is outside; the one accent
    :param first, second, third, fourth: lines that must be told apart
    """

    paper: str
    ink: str
    quiet: str
    grid: str
    band: str
    edge: str
    bundle: str
    middle: str
    most: str
    curve: str
    pour: str
    alarm: str
    first: str
    second: str
    third: str
    fourth: str

    @property
    def lines(self) -> tuple[str, ...]:
        """The colours of lines that must be told apart, in order of use."""
        return (self.first, self.second, self.third, self.fourth)


LIGHT = Theme(
    paper="#FDFCFA",
    ink="#191714",
    quiet="#5A554E",
    grid="#DDD8D0",
    band="rgba(168, 142, 70, 0.24)",
    edge="#857239",
    bundle="rgba(90, 85, 78, 0.42)",
    middle="rgba(0, 114, 178, 0.36)",
    most="rgba(0, 114, 178, 0.16)",
    curve=BLUE,
    pour="rgba(25, 23, 20, 0.055)",
    alarm="#B34700",
    first="#00724F",
    second="#A8447E",
    third="#6B5E00",
    fourth=VERMILLION,
)

DARK = Theme(
    paper="#161412",
    ink="#F4F1EB",
    quiet="#B5AEA3",
    grid="#3A3631",
    band="rgba(214, 188, 112, 0.24)",
    edge="#AD9A5B",
    bundle="rgba(181, 174, 163, 0.40)",
    middle="rgba(86, 180, 233, 0.40)",
    most="rgba(86, 180, 233, 0.16)",
    curve=SKY,
    pour="rgba(244, 241, 235, 0.075)",
    alarm=ORANGE,
    first="#2BC79B",
    second=PURPLE,
    third=YELLOW,
    fourth="#F08A3C",
)


def dark_for_light() -> dict[str, str]:
    """Map each colour of the light theme to that of the dark one in the same role."""
    return {getattr(LIGHT, field.name): getattr(DARK, field.name) for field in fields(Theme)}


def css_variables(theme: Theme) -> str:
    """Write a theme as CSS custom properties."""
    return " ".join(f"--{field.name}: {getattr(theme, field.name)};" for field in fields(Theme))
