"""A curve in its corridor as lines of text: Braille dots where the terminal has them, ASCII where not.

The curve must stay apart from the corridor without any colour, which a general chart library does not give
us: here the corridor is a shade and the curve is drawn over it, two by four dots to a character.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from logger.curve import Floats
from logger.show.words.wording import clock

_TICK_STEPS_S = (5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400)
_TICK_STEPS_G = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
# The eight dots of a Braille cell by row and column, as Unicode numbers them (block U+2800).
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


@dataclass(frozen=True, slots=True)
class ChartLine:
    """One line of a chart.

    :param label: the scale's label, right-aligned
    :param cells: one character and its kind each: ``curve``, ``band``, or ``""``
    """

    label: str
    cells: tuple[tuple[str, str], ...]

    @property
    def text(self) -> str:
        """The line without colours."""
        return f"{self.label}{''.join(character for character, _ in self.cells)}".rstrip()


def chart(
    time_s: Floats,
    weight_g: Floats,
    band: tuple[Floats, Floats] | None,
    width: int,
    height: int,
    plain: bool = False,
) -> list[ChartLine]:
    """Draw a curve.

    :param time_s: from 0 on, rising; shape (n,)
    :param weight_g: NaN where there is no data; shape (n,)
    :param band: lowest and highest weight of the corridor at the same times, or None
    :param width: characters in all
    :param height: lines of the curve; two more carry the time
    :param plain: ASCII alone
    """
    highs = [weight_g] if band is None else [weight_g, band[1]]
    top_g = 1.03 * max([1.0, *(float(np.nanmax(high)) for high in highs if not np.isnan(high).all())])
    end_s = float(time_s[-1])
    tick_g = _step(top_g, height / 2.5, _TICK_STEPS_G)
    labels = {
        round((1 - weight / top_g) * (height - 1)): f"{weight:g} g"
        for weight in np.arange(0, top_g, tick_g).tolist()
    }
    margin = max(len(label) for label in labels.values()) + 1
    columns = width - margin - 1
    dots = _curve_dots(time_s, weight_g, end_s, top_g, columns, height)
    shade = _shade(time_s, band, end_s, top_g, columns, height)
    wall = "|" if plain else "│"
    lines = []
    for row in range(height):
        label = labels.get(row, "").rjust(margin - 1) + " " + wall
        cells = tuple(_cell(dots, shade, row, column, plain) for column in range(columns))
        lines.append(ChartLine(label, cells))
    return lines + _time_axis(end_s, margin, columns, plain)


def _step(span: float, most: float, steps: tuple[int, ...]) -> int:
    return next((step for step in steps if span / step <= most), steps[-1])


def _curve_dots(
    time_s: Floats, weight_g: Floats, end_s: float, top_g: float, columns: int, height: int
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Draw the curve into a grid of dots, joined upwards and downwards; where it is NaN nothing is drawn."""
    rows, wide = height * 4, columns * 2
    dots = np.zeros((rows, wide), dtype=np.bool_)
    edges_s = np.linspace(0.0, end_s, wide + 1)
    before = None
    for column in range(wide):
        within = weight_g[(time_s >= edges_s[column]) & (time_s <= edges_s[column + 1])]
        within = within[~np.isnan(within)]
        if len(within) == 0:
            before = None
            continue
        levels = np.clip(np.round((1 - within / top_g) * (rows - 1)), 0, rows - 1).astype(int)
        first, last = int(levels.min()), int(levels.max())
        if before is not None:
            first, last = min(first, before), max(last, before)
        dots[first : last + 1, column] = True
        before = int(levels[-1])
    return dots


def _shade(
    time_s: Floats, band: tuple[Floats, Floats] | None, end_s: float, top_g: float, columns: int, height: int
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Say which characters the corridor passes through."""
    shade = np.zeros((height, columns), dtype=np.bool_)
    if band is None:
        return shade
    middles_s = (np.arange(columns) + 0.5) * end_s / columns
    low_g, high_g = (np.interp(middles_s, time_s, edge) for edge in band)
    first = np.clip(np.round((1 - high_g / top_g) * (height - 1)), 0, height - 1).astype(int)
    last = np.clip(np.round((1 - low_g / top_g) * (height - 1)), 0, height - 1).astype(int)
    for column in range(columns):
        shade[first[column] : last[column] + 1, column] = True
    return shade


def _cell(
    dots: np.ndarray[tuple[int, int], np.dtype[np.bool_]],
    shade: np.ndarray[tuple[int, int], np.dtype[np.bool_]],
    row: int,
    column: int,
    plain: bool,
) -> tuple[str, str]:
    cell = dots[row * 4 : row * 4 + 4, column * 2 : column * 2 + 2]
    if cell.any():
        return (_ascii_curve(cell) if plain else _braille(cell)), "curve"
    if shade[row, column]:
        return ("." if plain else "░"), "band"
    return " ", ""


def _braille(cell: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> str:
    code = sum(_DOTS[row][column] for row in range(4) for column in range(2) if cell[row, column])
    return chr(0x2800 + code)


def _ascii_curve(cell: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> str:
    return "#" if cell.any(axis=1).sum() > 2 else "*"


def _time_axis(end_s: float, margin: int, columns: int, plain: bool) -> list[ChartLine]:
    step_s = _step(end_s, columns / 9, _TICK_STEPS_S)
    axis = ["-" if plain else "─"] * columns
    labels = [" "] * (columns + margin + 1)
    for tick in range(math.floor(end_s / step_s) + 1):
        column = min(round(tick * step_s / end_s * columns), columns - 1)
        text = clock(tick * step_s)
        at = margin + 1 + column - len(text) // 2
        if at + len(text) > len(labels):
            continue
        axis[column] = "+" if plain else "┬"
        labels[at : at + len(text)] = text
    corner = " " * margin + ("+" if plain else "└")
    return [ChartLine(corner, tuple((one, "") for one in axis)), ChartLine("".join(labels), ())]
