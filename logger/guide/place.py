"""What this place does not let a target have, said before the brew."""

from __future__ import annotations

from logger.target import Stage, Target, out_of_reach


def unreachable(target: Target, boils_c: float | None) -> tuple[str, ...]:
    """Say beforehand which water this place cannot give; nothing where it can give all."""
    return tuple(
        f"Water boils at {boils_c:.1f} °C here: the {water_c:g} °C of {whose} cannot be had. "
        "Pour it just off the boil; it is not counted as a miss."
        for whose, water_c in out_of_reach(target, boils_c)
    )


def wanted_c(target: Target, stage: Stage | None) -> float | None:
    """The water that a stage asks for, or the whole brew."""
    return target.water_c if stage is None or stage.water_c is None else stage.water_c
