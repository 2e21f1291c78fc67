"""Two practice sets compared, in words."""

from __future__ import annotations

from collections.abc import Sequence

from logger.compare.practice.contrasts import Contrast
from logger.compare.practice.estimates import (
    Estimate,
)
from logger.compare.practice.table import Column
from logger.compare.practice.words import figure_name

_MORE_LESS = {
    "s": ("later", "sooner"),
    "g": ("more", "less"),
    "g/s": ("faster", "slower"),
    "°C": ("hotter", "cooler"),
    "%": ("stronger", "weaker"),
}
_LENGTHS = ("drawdown_s", "resistance_s")


def contrast_words(
    column: Column,
    off: Estimate,
    ratio: Estimate,
    names: tuple[str, str],
    *,
    beyond: bool,
    spread_beyond: bool,
) -> str:
    """Say how one figure differs, a sentence."""
    what = figure_name(*column.key)
    if not beyond and not spread_beyond:
        return f"{what}: no difference beyond chance."
    parts = []
    if beyond:
        more, less = ("longer", "shorter") if column.quantity in _LENGTHS else _MORE_LESS[column.unit]
        side = more if off.value > 0 else less
        reach = f" ({off.low:+.1f} to {off.high:+.1f})" if off.is_known else ""
        parts.append(f"{abs(off.value):.1f} {column.unit} {side} with {names[1]}{reach}")
    if spread_beyond:
        wider = ratio.value > 1
        times = f"{ratio.value if wider else 1 / ratio.value:.1f} times"
        parts.append(f"varies {times} as much with {names[1] if wider else names[0]}")
    return f"{what}: {'; '.join(parts)}."


def verdict_on(contrasts: Sequence[Contrast], names: tuple[str, str], n_first: int, n_second: int) -> str:
    """Say in one sentence whether the sets differ."""
    if min(n_first, n_second) < 3:
        return "Too few brews to compare: 3 of each set are the least."
    apart = [each for each in contrasts if each.beyond_chance or each.spread_beyond_chance]
    counts = f"{names[0]} ({n_first}) and {names[1]} ({n_second})"
    if not apart:
        return f"{counts} do not differ beyond chance in any figure: that is no proof that they are alike."
    most = sorted(apart, key=lambda each: -abs(each.effect.value) if each.beyond_chance else 0.0)
    more = f"; so do {len(apart) - 1} more figures" if len(apart) > 2 else "; so does 1 more figure"
    besides = more if len(apart) > 1 else ""
    return f"{counts} differ beyond chance. {most[0].says[:-1]}{besides}."
