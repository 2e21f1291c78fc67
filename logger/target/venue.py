"""What a venue cannot give a target: water hotter than it boils there."""

from __future__ import annotations

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
