"""The same recipe for another dose."""

from __future__ import annotations

import math
from dataclasses import replace

from drivers.toml_places import Path, find_places
from logger.errors import BadInputError
from logger.target.mistakes import TargetError
from logger.target.reading import parse_target
from logger.target.target import Stage, Target
from logger.target.writing import write_target

_STAGE_STEP_G = 0.5
_YIELD_STEP_G = 0.1
_FLOW_STEP_G_S = 0.1


def scale_target(target: Target | str, dose_g: float) -> str:
    """Write a target for another dose: weights scale, the brew ratio and all times stay.

    Flows scale with the weights, so that every pour takes as long as before. Tolerances stay: they belong to
    the hand and the scale. All else in the text stays as it was written, comments too.

    :param target: a target, or its text
    :param dose_g: the new dose
    :return: the new text
    :raises BadInputError: when the dose is impossible, or the plan becomes so
    """
    if not (math.isfinite(dose_g) and dose_g > 0):
        raise BadInputError("the new dose", f"{dose_g} g is no dose", "Give the grams of dry coffee, as 18.")
    read = parse_target(target, "target") if isinstance(target, str) else target
    # Another program may have changed a target without its text: then the text is not what to keep.
    text = read.text if read.text and _same(read) else write_target(read)
    if dose_g == read.dose_g:
        return text
    scaled = _replaced(text, _new_numbers(read, dose_g / read.dose_g, dose_g))
    try:
        parse_target(scaled, f"the target for {dose_g:g} g")
    except TargetError as error:
        raise BadInputError(error.where, error.what, f"Choose a dose nearer to {read.dose_g:g} g.") from error
    return scaled


def _same(target: Target) -> bool:
    try:
        return parse_target(target.text, "") == target
    except TargetError:
        return False


def _new_numbers(target: Target, factor: float, dose_g: float) -> dict[Path, float]:
    numbers: dict[Path, float] = {("dose_g",): float(dose_g)}
    if target.shot:
        numbers["shot", "yield_g"] = _rounded(target.shot.yield_g * factor, _YIELD_STEP_G)
    from_g = 0.0
    for number, stage in enumerate(target.stages):
        to_g = _rounded(stage.to_g * factor, _STAGE_STEP_G)
        numbers["stage", number, "to_g"] = to_g
        if stage.flow_g_s is not None:
            numbers["stage", number, "flow_g_s"] = _new_flow_g_s(
                stage, replace(stage, from_g=from_g, to_g=to_g)
            )
        from_g = to_g
    return numbers


def _new_flow_g_s(old: Stage, new: Stage) -> float:
    """The flow that pours the new, rounded weight in the old time."""
    flow_g_s = new.poured_g / old.poured_g * (old.flow_g_s or 0.0)
    # A tenth is too coarse for a trickle.
    return _rounded(flow_g_s, _FLOW_STEP_G_S if flow_g_s >= 2.0 else _FLOW_STEP_G_S / 10)


def _rounded(value: float, step: float) -> float:
    return round(round(value / step) * step, 3)


def _replaced(text: str, numbers: dict[Path, float]) -> str:
    """Put numbers where the old ones stood, the last first so that the offsets hold."""
    places = find_places(text)
    for path, number in sorted(numbers.items(), key=lambda item: -places[item[0]].start):
        text = f"{text[: places[path].start]}{number!r}{text[places[path].end :]}"
    return text
