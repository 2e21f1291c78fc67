"""What a venue cannot give a target: water hotter than it boils there."""

from __future__ import annotations

from dataclasses import replace

from drivers.toml_mistakes import Mistake, Remark, placed
from drivers.toml_places import Path, find_places
from logger.target.target import Target

_ROUNDED_C = 0.05
"""A target written to the tenth may lie so much above the boiling point and be it."""


def check_at_venue(target: Target, boils_c: float, where: str = "target") -> tuple[Mistake, ...]:
    """Name every temperature of a target that cannot be had where water boils at ``boils_c``.

    :param where: its file, for the message; lines are those of ``target.text``
    """
    places = find_places(target.text)
    return tuple(
        placed(_remark(_path(number), water_c, boils_c), where, places)
        for number, water_c in _too_hot(target, boils_c)
    )


def _path(number: int | None) -> Path:
    return ("water_c",) if number is None else ("stage", number, "water_c")


def _remark(path: Path, water_c: float, boils_c: float) -> Remark:
    what = f"{water_c:g} °C cannot be had at this venue, where water boils at {boils_c:.1f} °C"
    return Remark(
        path, what, "Pour it just off the boil there, and grind finer or pour longer if it tastes thin."
    )


def reachable(target: Target, boils_c: float | None) -> Target:
    """The target with no water hotter than it can be there: what a brew of that place is held against.

    :param boils_c: at which temperature water boils there; None leaves the target as it is
    """
    if boils_c is None:
        return target
    stages = tuple(replace(stage, water_c=_capped(stage.water_c, boils_c)) for stage in target.stages)
    return replace(target, water_c=_capped(target.water_c, boils_c), stages=stages)


def out_of_reach(target: Target, boils_c: float | None) -> tuple[tuple[str, float], ...]:
    """Name the water that a place cannot give.

    :param boils_c: at which temperature water boils there; None where nobody knows
    :return: whose water it is, the target's or a stage's by its name, and how hot it should be
    """
    if boils_c is None:
        return ()
    return tuple(
        ("the target" if number is None else target.stages[number].name, water_c)
        for number, water_c in _too_hot(target, boils_c)
    )


def _too_hot(target: Target, boils_c: float) -> list[tuple[int | None, float]]:
    """Give what is hotter than water gets there, each with its stage's place; None for the target's own."""
    wanted = [(None, target.water_c), *((number, each.water_c) for number, each in enumerate(target.stages))]
    return [
        (number, water_c)
        for number, water_c in wanted
        if water_c is not None and water_c > boils_c + _ROUNDED_C
    ]


def _capped(water_c: float | None, boils_c: float) -> float | None:
    return None if water_c is None else min(water_c, round(boils_c, 1))
