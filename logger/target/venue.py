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
    wanted: list[tuple[Path, float | None]] = [(("water_c",), target.water_c)]
    wanted += [(("stage", number, "water_c"), stage.water_c) for number, stage in enumerate(target.stages)]
    places = find_places(target.text)
    return tuple(
        placed(_remark(path, water_c, boils_c), where, places)
        for path, water_c in wanted
        if water_c is not None and water_c > boils_c + _ROUNDED_C
    )


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
    wanted = [("the target", target.water_c), *((stage.name, stage.water_c) for stage in target.stages)]
    return tuple(
        (whose, water_c)
        for whose, water_c in wanted
        if water_c is not None and water_c > boils_c + _ROUNDED_C
    )


def _capped(water_c: float | None, boils_c: float) -> float | None:
    return None if water_c is None else min(water_c, round(boils_c, 1))
