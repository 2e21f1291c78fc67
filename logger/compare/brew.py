"""One brew against its target."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.clock import clock_text
from logger.compare.beds import bed_of, drawdown_of, end_marks, of_all_water, two_scales
from logger.compare.comparison import Brew, Comparison, Deviation, Finding, StageResult
from logger.compare.matching import Group, match
from logger.compare.measuring import (
    ENDS_EARLY,
    NOT_SERVED,
    SHOT_END_S,
    Measured,
    end_deviation,
    held_against,
    in_window,
    known_to,
    known_toward,
    resolved_g,
    shot_window_s,
    stage_deviations,
    start_deviation,
    water_deviation,
    weight_deviation,
)
from logger.compare.shots import PUMP_MARK, held_shot, shots_in
from logger.compare.thermometers import thermometers_of, water_probe
from logger.compare.verdict import judge
from logger.curve import Analysis, Drawdown, Floats, Pour
from logger.errors import BadInputError
from logger.recording.notes import with_noted
from logger.target import Shot, Target, out_of_reach, parse_target, reachable

if TYPE_CHECKING:
    from logger.curve import Method
    from logger.recording import Recording

Temperatures = Mapping[str, tuple[Floats, Floats]]
Marks = Mapping[str, float]

SERVED_MARKS = ("dry", "served")
"""The marks of a recording that say when the bed had run dry or the cup was served."""

_NONE: Marks = MappingProxyType({})


def compare(
    analysis: Analysis,
    target: Target,
    temperatures: Temperatures,
    *,
    marks: Marks = _NONE,
    boils_c: float | None = None,
) -> Comparison:
    """Hold a brew against its target.

    :param temperatures: by channel name, times and values (°C), on the analysis' time axis
    :param marks: moments that the brewer marked, on the same axis: ``pump``, ``dry``, ``served``
    :param boils_c: at which temperature water boiled there, or None: hotter is not asked for
    """
    beyond, target = out_of_reach(target, boils_c), reachable(target, boils_c)
    if analysis.start_s is None or not analysis.pours:
        return _nothing(target)
    which = ""
    if target.shot:
        analysis, marks, which = held_shot(analysis, marks)
    brew = Measured(analysis, analysis.pours[0].start_s, water_probe(temperatures, target))
    if target.shot:
        stages: tuple[StageResult, ...] = ()
        extra: tuple[Pour, ...] = ()
        whole = _shot_figures(brew, target, target.shot, marks)
    else:
        stages, extra = _stage_results(brew, target)
        whole = _brew_figures(brew, target, marks)
    verdict, change = judge(brew, target, stages, extra, whole)
    return Comparison(
        target=target,
        stages=stages,
        extra=extra,
        whole=whole,
        verdict=verdict,
        change=change,
        notes=(
            *([which] if which else []),
            *_notes(brew, target, temperatures, stages, whole, marks),
            *(
                f"Water boiled at {boils_c:.1f} °C there: the {water_c:g} °C of {whose} could not be had; "
                "what was poured is held against that."
                for whose, water_c in beyond
            ),
        ),
    )


def assess(recording: Recording, *, target: Target | None = None, method: Method | None = None) -> Brew:
    """Make of a recording what every screen and page shows.

    :param target: what to hold it against; None for the target that was recorded with it, if any
    :param method: how it was brewed, where that should not be found out
    :raises BadInputError: when it has no weights, or its own target cannot be read
    """
    from logger.curve import analyse

    where = str(recording.path)
    scales = two_scales(recording)
    channel = scales.first if scales else recording.weight_channel
    if channel is None:
        known = ", ".join(recording.channels()) or "none"
        raise BadInputError(where, f"there are no weights in it (channels: {known})", "Record with a scale.")
    if target is None and recording.meta.target_text:
        target = parse_target(recording.meta.target_text, f"{where}, its target")
    temperatures = {name: recording.arrays(name) for name in recording.channels("°C")}
    temperatures = {name: series for name, series in temperatures.items() if series[0].size}
    time_s, weight_g = recording.sampled(channel)
    try:
        method = method or (target.method if target else None)
        analysis = analyse(time_s, weight_g, method=method, response_s=known_response_s(recording, channel))
    except ValueError as error:
        remedy = "Look at the file with evencup export, or record again."
        raise BadInputError(where, f"channel {channel} cannot be analysed: {error}", remedy) from error
    recording = with_noted(recording, analysis.start_s)
    bed = bed_of(recording, scales, analysis, known_response_s)
    analysis = of_all_water(analysis, bed)
    drawdown = drawdown_of(recording, analysis, bed)
    marks = end_marks(recording, analysis, drawdown)
    boils_c = recording.meta.boils_c
    comparison = compare(analysis, target, temperatures, marks=marks, boils_c=boils_c) if target else None
    return Brew(
        recording,
        analysis,
        comparison,
        temperatures,
        bed=bed,
        drawdown=drawdown,
        shots=shots_in(analysis, marks),
        thermometers=thermometers_of(analysis, temperatures, target, _ended_s(marks, drawdown)),
    )


def _ended_s(marks: Marks, drawdown: Drawdown | None) -> float | None:
    """When the water left the coffee: as marked, else as the drawdown was told; None where nobody knows."""
    marked = [marks[name] for name in SERVED_MARKS if name in marks]
    return marked[0] if marked else drawdown.dry_s if drawdown else None


def known_response_s(recording: Recording, channel: str) -> float | None:
    """The scale's response time, where it was examined before: see ``evencup devices test``."""
    for device in recording.meta.devices:
        known = device.get("response_s")
        if channel in device.get("channels", ()) and isinstance(known, int | float) and 0.0 <= known <= 10.0:
            return float(known)
    return None


def _nothing(target: Target) -> Comparison:
    stages = tuple(StageResult(stage, "missing", (), ()) for stage in target.stages)
    total = held_against(
        "total_g", target.total_g, math.nan, target.tolerance.weight_g, why="nothing was poured"
    )
    return Comparison(target, stages, (), (total,), "There is no brew in this recording.", "")


def _stage_results(brew: Measured, target: Target) -> tuple[tuple[StageResult, ...], tuple[Pour, ...]]:
    pours = brew.analysis.pours
    matching = match(target.stages, pours, brew.start_s)
    results = [result for group in matching.groups for result in _group_results(brew, target, group)]
    return tuple(results), tuple(pours[number] for number in matching.extra)


def _group_results(brew: Measured, target: Target, group: Group) -> list[StageResult]:
    pours = tuple(brew.analysis.pours[number] for number in group.pours)
    results = []
    for number in group.stages:
        stage = target.stages[number]
        if group.finding == "missing":
            figures: list[Deviation] = []
        elif group.finding == "merged":
            # Where one stage went over into the next nobody can say: only the outer ends are known.
            figures = [start_deviation(brew, stage, pours)] if number == group.stages[0] else []
            figures += [weight_deviation(brew, stage, pours)] if number == group.stages[-1] else []
        else:
            figures = stage_deviations(brew, stage, pours, target)
        unseen = group.finding == "missing" and brew.ends_before(stage)
        finding: Finding = "unseen" if unseen else group.finding
        results.append(StageResult(stage, finding, pours, tuple(figures)))
    return results


def _brew_figures(brew: Measured, target: Target, marks: Marks) -> tuple[Deviation, ...]:
    figures = [_total(brew, target, target.stages[-1].tolerance.weight_g)]
    if target.end_s is not None:
        tolerance_s = target.tolerance.end_s
        marked = [marks[name] for name in SERVED_MARKS if name in marks]
        if marked:
            figures.append(held_against("end_s", target.end_s, marked[0] - brew.start_s, tolerance_s))
        else:
            figures.append(end_deviation(brew, target.end_s, tolerance_s))
    return tuple(figures)


def _shot_figures(brew: Measured, target: Target, shot: Shot, marks: Marks) -> tuple[Deviation, ...]:
    figures = [_total(brew, target, target.tolerance.weight_g)]
    first, last = brew.analysis.pours[0], brew.analysis.pours[-1]
    end_s, end_known_s = last.end_s, known_to(last.end_between_s, last.end_s)
    window_s = shot_window_s(shot, PUMP_MARK in marks)
    since_s = marks.get(PUMP_MARK, brew.start_s)
    figures.append(
        in_window(
            "end_s",
            window_s,
            end_s - since_s,
            brew.gap_at(end_s, _width_s(window_s) / 2),
            read_to=SHOT_END_S if end_known_s is None else end_known_s,
        )
    )
    if shot.first_drip_s and PUMP_MARK in marks:
        drip_s = brew.start_s - marks[PUMP_MARK]
        is_early = drip_s < shot.first_drip_s[0]
        figures.append(
            in_window(
                "first_drip_s",
                shot.first_drip_s,
                drip_s,
                brew.gap_at(brew.start_s, _width_s(shot.first_drip_s) / 2),
                read_to=known_toward(first.start_between_s, first.start_s, later=is_early) or 0.0,
            )
        )
    if target.water_c is not None and brew.water is not None:
        figures.append(water_deviation(brew, target.water_c, brew.start_s, target.tolerance.water_c))
    return tuple(figures)


def _width_s(window_s: tuple[float, float]) -> float:
    return window_s[1] - window_s[0]


def _total(brew: Measured, target: Target, tolerance_g: float) -> Deviation:
    analysis = brew.analysis
    early = brew.ends_pouring or bool(target.stages and brew.ends_before(target.stages[-1]))
    why = ENDS_EARLY if early and analysis.total_g < target.total_g else ""
    step_g = resolved_g(analysis, math.inf)
    return held_against("total_g", target.total_g, analysis.total_g, tolerance_g, step=step_g, why=why)


def _notes(
    brew: Measured,
    target: Target,
    temperatures: Temperatures,
    stages: tuple[StageResult, ...],
    whole: tuple[Deviation, ...],
    marks: Marks,
) -> list[str]:
    notes = [*_notes_on_time(brew, target, marks), *_notes_on_water(brew, target, temperatures)]
    if any(figure.why == NOT_SERVED for figure in whole):
        notes.append(
            "A scale under the dripper cannot see the bed run dry: lift the dripper, or the server, off the "
            "scale at that moment, and the end is told."
        )
    tolerances_g = [stage.tolerance.weight_g for stage in target.stages] or [target.tolerance.weight_g]
    step_g = brew.analysis.step_g
    if step_g > min(tolerances_g):
        notes.append(
            f"The scale shows steps of {step_g:.3g} g, wider than the tolerance of "
            f"{min(tolerances_g):.3g} g: whether such a weight is inside cannot be told."
        )
    parts = [(result.stage.name, len(result.pours)) for result in stages if result.finding == "split"]
    return [*notes, *(f"{name} came in {number} parts." for name, number in parts)]


def _notes_on_time(brew: Measured, target: Target, marks: Marks) -> list[str]:
    notes = []
    if target.shot and target.shot.first_drip_s and PUMP_MARK not in marks:
        since, until = (clock_text(time_s) for time_s in shot_window_s(target.shot, pump_known=False))
        notes.append(
            "Times count from the first drip, since a scale cannot see the pump start: "
            f"the shot should end {since} to {until} after it."
        )
    gaps = [event for event in brew.analysis.events if event.kind == "gap"]
    if gaps:
        missing_s = sum(event.end_s - event.start_s for event in gaps)
        notes.append(f"The readings have gaps, {missing_s:.1f} s in all.")
    return notes


def _notes_on_water(brew: Measured, target: Target, temperatures: Temperatures) -> list[str]:
    wanted = [target.water_c, *(stage.water_c for stage in target.stages)]
    if brew.water is not None or not any(water_c is not None for water_c in wanted):
        return []
    if temperatures:
        names = ", ".join(temperatures)
        return [f"No channel is called kettle ({names}): the water was not held against the target."]
    return ["No thermometer was in the water: its temperature was not held against the target."]
