"""A target from a good recording: what was poured becomes the plan."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from logger.curve import Analysis, Pour
from logger.errors import BadInputError
from logger.target.checking import MAX_FLOW_G_S, MIN_FLOW_G_S
from logger.target.reading import parse_target
from logger.target.target import Shot, Stage, Target
from logger.target.writing import write_target

BLOOM_WAIT_S = 15.0
"""A first pour with at least this wait after it is called bloom (common practice)."""

SHOT_WINDOW_S = 2.0
"""How far the window of a learned espresso reaches on each side (common practice)."""

_SAME_MOMENT_S = 0.5
"""A lift-off ends a pour that was still dripping; the two are then found this close together."""

_LEAST_G = 2.0
"""A pour of less is a drip from the spout."""


def learn_target(analysis: Analysis, *, title: str, dose_g: float, water_c: float | None = None) -> Target:
    """Make a target of a brew, rounded as a brewer would say it.

    :param analysis: the brew; its pours become the stages
    :param title: the brewer's name for the target
    :param dose_g: dry coffee that it was brewed with
    :param water_c: the water's temperature, where known
    :raises BadInputError: when there is no brew in it, or it is no plan that can be repeated
    """
    if analysis.start_s is None or analysis.method is None or not analysis.pours:
        raise BadInputError(
            "the recording", "there is no brew in it to learn from", "Choose another recording."
        )
    target = Target(title=title, method=analysis.method, dose_g=float(dose_g), water_c=water_c)
    if analysis.method == "espresso":
        target = replace(target, shot=_shot(analysis.pours, analysis.start_s))
    else:
        stages = _stages(_poured(analysis.pours), analysis.start_s)
        target = replace(target, stages=stages, end_s=_end_s(analysis, analysis.start_s))
    return parse_target(write_target(target), "the target learned from this recording")


def served_s(analysis: Analysis) -> float | None:
    """When the vessel was lifted off after the last pour: the only end of a drawdown that a scale sees."""
    if not analysis.pours:
        return None
    after_s = analysis.pours[-1].end_s - _SAME_MOMENT_S
    lifts = [
        event.start_s for event in analysis.events if event.kind == "vessel-off" and event.start_s >= after_s
    ]
    return lifts[0] if lifts else None


def _shot(pours: tuple[Pour, ...], start_s: float) -> Shot:
    took_s = round(pours[-1].end_s - start_s)
    earliest_s = max(took_s - SHOT_WINDOW_S, 1.0)
    return Shot(round(pours[-1].to_g * 2) / 2, (earliest_s, took_s + SHOT_WINDOW_S))


def _end_s(analysis: Analysis, start_s: float) -> float | None:
    end_s = served_s(analysis)
    return None if end_s is None else float(round(end_s - start_s))


def _poured(pours: tuple[Pour, ...]) -> list[Pour]:
    """The pours that were meant; a drip belongs to the pour before it."""
    meant: list[Pour] = []
    for pour in pours:
        if pour.poured_g >= _LEAST_G or not meant:
            meant.append(pour)
        else:
            meant[-1] = replace(meant[-1], to_g=pour.to_g)
    return meant


def _stages(pours: list[Pour], start_s: float) -> tuple[Stage, ...]:
    names = _names(pours)
    stages: list[Stage] = []
    for name, pour in zip(names, pours, strict=True):
        stage = Stage(
            name=name,
            start_s=float(round(pour.start_s - start_s)) if stages else 0.0,
            to_g=float(round(pour.to_g)),
            from_g=stages[-1].to_g if stages else 0.0,
            flow_g_s=round(pour.mean_flow_g_s, 1),
        )
        stages.append(stage)
    following = [stage.start_s for stage in stages[1:]]
    return tuple(_repeatable(stage, end_s) for stage, end_s in zip(stages, [*following, None], strict=True))


def _repeatable(stage: Stage, next_start_s: float | None) -> Stage:
    """Without a flow that rounding has made impossible."""
    flow, end_s = stage.flow_g_s, stage.planned_end_s
    too_late = next_start_s is not None and end_s is not None and end_s > next_start_s
    if flow is None or not MIN_FLOW_G_S <= flow <= MAX_FLOW_G_S or too_late:
        return replace(stage, flow_g_s=None)
    return stage


def _names(pours: list[Pour]) -> list[str]:
    waits = [after.start_s - before.end_s for before, after in pairwise(pours)]
    bloom = ["bloom"] if waits and waits[0] >= BLOOM_WAIT_S else []
    return [*bloom, *(f"pour {number}" for number in range(1, len(pours) - len(bloom) + 1))]
