"""A target as plain text: the curve with its corridor, and the stages as a table. Reads without colour."""

from __future__ import annotations

import unicodedata

import numpy as np

from drivers.clock import clock_text
from logger.target.planned import Span, corridor, curve, first_weight_s, last_s, stage_spans
from logger.target.target import Target

_PLAN, _INSIDE, _EMPTY = "●", "░", " "
_AXIS_WIDTH = 7
_TITLES = ("stage", "start", "end", "pour", "to", "flow", "water")


def draw_target(target: Target, *, width: int = 78, height: int = 16) -> str:
    """Draw a target for the terminal.

    :param width: of the drawing, in characters; at least 40
    :param height: of the curve, in lines; at least 6
    """
    width, height = max(width, 40), max(height, 6)
    parts = [_heading(target), _chart(target, width - _AXIS_WIDTH, height), _table(target)]
    return "\n\n".join(part for part in parts if part) + "\n"


def _heading(target: Target) -> str:
    water = "" if target.water_c is None else f", water {target.water_c:g} °C"
    into = "beverage" if target.shot else "water"
    amounts = f"{target.dose_g:g} g coffee, {target.total_g:g} g {into} (1:{target.brew_ratio:.1f}){water}"
    remembered = [words for words in (target.coffee, target.grind) if words]
    lines = [target.title, f"{target.method}: {amounts}", *remembered]
    return "\n".join(_one_line(line) for line in lines)


def _chart(target: Target, columns: int, rows: int) -> str:
    """Time to the right, weight upwards; ● is the plan, ░ the corridor."""
    longest_s = max(last_s(target), 1.0) * 1.02
    time_s = np.linspace(0.0, longest_s, columns)
    low_g, high_g = corridor(target, time_s)
    plan_g = curve(target, time_s)
    top_g = float(high_g.max())
    step_g = top_g / (rows - 1)
    plan_row, low_row, high_row = (np.rint(weight / step_g) for weight in (plan_g, low_g, high_g))
    marks = _label_rows(target, step_g)
    lines = []
    for row in range(rows - 1, -1, -1):
        inside = (low_row <= row) & (row <= high_row) & (high_g > low_g)
        cells = np.where(plan_row == row, _PLAN, np.where(inside, _INSIDE, _EMPTY))
        lines.append(f"{marks.get(row, ''):>{_AXIS_WIDTH - 2}} │{''.join(cells).rstrip()}")
    lines += [f"{'':{_AXIS_WIDTH - 1}}└{'─' * columns}", _time_axis(longest_s, columns)]
    return "\n".join([*lines, "", f"{'':{_AXIS_WIDTH}}{_PLAN} plan   {_INSIDE} corridor   weight in g"])


def _label_rows(target: Target, step_g: float) -> dict[int, str]:
    """The finishing weights, each on its row; where two share one, the heavier."""
    weights_g = [0.0, *(span.to_g for span in stage_spans(target))]
    return {round(weight / step_g): _short(weight) for weight in weights_g}


def _short(weight_g: float) -> str:
    """A weight that fits beside the axis."""
    text = f"{weight_g:g}"
    return text if len(text) < _AXIS_WIDTH - 1 else f"{weight_g:.0f}"


def _time_axis(longest_s: float, columns: int) -> str:
    """Times at round steps, none running into the next."""
    steps_s = (5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400)
    step_s = next((step for step in steps_s if longest_s / step <= columns / 8), 28800)
    axis = [" "] * (columns + 8)
    for at_s in range(0, int(longest_s) + 1, step_s):
        column = round(at_s / longest_s * (columns - 1))
        for offset, letter in enumerate(clock_text(at_s)):
            axis[column + offset] = letter
    return f"{'':{_AXIS_WIDTH}}{''.join(axis).rstrip()}"


def _table(target: Target) -> str:
    rows = [_TITLES, *(_row(target, span) for span in stage_spans(target))]
    if target.end_s is not None:
        rows.append(("end", "", clock_text(target.end_s), "", "", "", ""))
    widths = [max(_wide(row[column]) for row in rows) for column in range(7)]
    lines = ["  ".join(_padded(*cell) for cell in zip(row, widths, _TITLES, strict=True)) for row in rows]
    remarks = []
    if any(span.assumed for span in stage_spans(target)):
        remarks.append("~ no flow planned: drawn at a usual one")
    if first_weight_s(target) > 0:
        remarks.append("times count from the pump's start")
    return "\n".join([*(line.rstrip() for line in lines), *remarks])


def _row(target: Target, span: Span) -> tuple[str, ...]:
    about = "~" if span.assumed else ""
    own_c = [stage.water_c for stage in target.stages if stage.start_s == span.start_s]
    water_c = own_c[0] if own_c and own_c[0] is not None else target.water_c
    return (
        _one_line(span.name),
        clock_text(span.start_s),
        about + clock_text(span.end_s),
        f"{span.to_g - span.from_g:g} g",
        f"{span.to_g:g} g",
        f"{about}{span.flow_g_s:.1f} g/s",
        "" if water_c is None else f"{water_c:g} °C",
    )


def _one_line(words: str) -> str:
    """Words without control characters, which would tear the drawing or steer the terminal."""
    return "".join(" " if unicodedata.category(letter) in ("Cc", "Zl", "Zp") else letter for letter in words)


def _wide(words: str) -> int:
    """Columns on the screen: wide letters take two, combining marks none."""
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in words)
    return len(words) + wide - sum(unicodedata.combining(letter) > 0 for letter in words)


def _padded(words: str, width: int, title: str) -> str:
    """One cell of the table: names to the left, figures to the right."""
    space = " " * (width - _wide(words))
    return f"{words}{space}" if title == "stage" else f"{space}{words}"
