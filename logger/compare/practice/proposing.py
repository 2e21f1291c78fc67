"""Tolerances that a brewer can hold, proposed from practice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from logger.compare.comparison import Quantity
from logger.compare.evenness_words import ENOUGH
from logger.compare.practice.results import (
    Practice,
    Scatter,
)
from logger.compare.practice.words import figure_name
from logger.errors import BadInputError
from logger.target import Shot, Target, Tolerance

_FIELDS: dict[Quantity, tuple[str, float]] = {
    "start_s": ("start_s", 0.5),
    "end_s": ("end_s", 0.5),
    "to_g": ("weight_g", 0.5),
    "flow_g_s": ("flow_g_s", 0.1),
    "water_c": ("water_c", 0.5),
}
"""Which tolerance a figure goes by, and to what it is rounded up."""


def proposed_tolerances(practice: Practice) -> Target:
    """The practice set's target with the tolerances that its brewer holds in nine of ten brews.

    Each reaches as far from what is wanted as the statistical tolerance interval does (``tolerance_factor``),
    so a steady miss widens it too; where a figure was not measured in enough brews the old one stays.

    :raises BadInputError: when there are too few brews to tell
    """
    target = practice.target
    if practice.n < ENOUGH:
        count = "1 brew" if practice.n == 1 else f"{practice.n} brews"
        raise BadInputError(
            "tolerances",
            f"{count} cannot say what you hold: nine in ten lie within the mean ±{_factor(practice)} sd",
            f"Record {ENOUGH - practice.n} more of the same, or leave the tolerances as they are.",
        )
    whole = {one.quantity: one for one in practice.whole}
    stages = tuple(
        replace(spread.stage, tolerance=_held(spread.stage.tolerance, spread.figures))
        for spread in practice.stages
    )
    total = _reach(whole.get("total_g"), 0.5)
    end = _reach(whole.get("end_s"), 0.5) if target.stages else None
    tolerance = replace(
        target.tolerance,
        weight_g=total if total is not None and target.shot else target.tolerance.weight_g,
        end_s=end if end is not None else target.tolerance.end_s,
    )
    shot = _shot(target.shot, whole.get("end_s")) if target.shot else None
    return replace(target, stages=stages, tolerance=tolerance, shot=shot, text="")


def proposal_words(practice: Practice) -> Iterator[str]:
    """Say of each figure what was proposed and why, a sentence each."""
    for one in practice.figures:
        if not one.judged or one.quantity not in (*_FIELDS, "total_g") or not _is_told(one):
            continue
        yield (
            f"{figure_name(one.stage, one.quantity)}: nine in ten within {one.tolerance.low:.1f} to "
            f"{one.tolerance.high:.1f} {one.unit} ({one.n} brews, {one.tolerance.confidence:.0%} confidence)."
        )


def _held(tolerance: Tolerance, figures: tuple[Scatter, ...]) -> Tolerance:
    changed = {}
    for one in figures:
        if one.quantity in _FIELDS and one.judged:
            name, step = _FIELDS[one.quantity]
            reach = _reach(one, step)
            if reach is not None:
                changed[name] = reach
    return replace(tolerance, **changed)


def _reach(figure: Scatter | None, step: float) -> float | None:
    """How far from what is wanted nine in ten reach, rounded up; None where that cannot be told."""
    if figure is None or not _is_told(figure):
        return None
    interval = figure.tolerance
    reach = max(abs(interval.low - figure.wanted), abs(interval.high - figure.wanted), figure.step)
    return round(math.ceil(reach / step - 1e-9) * step, 2)


def _is_told(figure: Scatter) -> bool:
    """Whether it varies and was measured often enough: the first pour's start does not."""
    return figure.tolerance.tight and figure.sd > 0 and math.isfinite(figure.wanted)


def _shot(shot: Shot, end: Scatter | None) -> Shot:
    if end is None or not _is_told(end):
        return shot
    earliest_s = max(math.floor(end.tolerance.low), 1.0)
    return replace(shot, time_s=(float(earliest_s), float(math.ceil(end.tolerance.high))))


def _factor(practice: Practice) -> str:
    from logger.compare.practice.tolerance_factor import tolerance_factor

    return f"{tolerance_factor(practice.n):.1f}" if practice.n > 1 else "infinitely many"
