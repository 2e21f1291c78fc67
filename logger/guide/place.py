"""What this place lets a target have: water does not get hotter than it boils here."""

from __future__ import annotations

from dataclasses import replace

from logger.target import Stage, Target

ROUNDED_C = 0.05
"""A target written to the tenth may lie so much above the boiling point and be it."""


def reachable(target: Target, boils_c: float | None) -> Target:
    """The target with no water hotter than it can be here: what a brew of this place is held against.

    :param boils_c: at which temperature water boils here; None leaves the target as it is
    """
    if boils_c is None:
        return target
    stages = tuple(replace(stage, water_c=_capped(stage.water_c, boils_c)) for stage in target.stages)
    return replace(target, water_c=_capped(target.water_c, boils_c), stages=stages)


def unreachable(target: Target, boils_c: float | None) -> tuple[str, ...]:
    """Say beforehand which water this place cannot give; nothing where it can give all."""
    if boils_c is None:
        return ()
    wanted = [("the target", target.water_c), *((stage.name, stage.water_c) for stage in target.stages)]
    return tuple(
        f"Water boils at {boils_c:.1f} °C here: the {water_c:g} °C of {what} cannot be had. Pour it just off "
        "the boil; it is not counted as a miss."
        for what, water_c in wanted
        if water_c is not None and water_c > boils_c + ROUNDED_C
    )


def wanted_c(target: Target, stage: Stage | None) -> float | None:
    """The water that a stage asks for, or the whole brew."""
    return target.water_c if stage is None or stage.water_c is None else stage.water_c


def _capped(water_c: float | None, boils_c: float) -> float | None:
    return None if water_c is None else min(water_c, round(boils_c, 1))
