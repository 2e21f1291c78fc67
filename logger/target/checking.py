"""Plans that nobody can brew, and plans that are worth a second look.

The limits marked "common practice" are what hands, kettles and coffee beds do; no standard sets them.
Numbers that could not be read are NaN here, and no comparison with NaN complains.
"""

from __future__ import annotations

import re
from dataclasses import fields
from itertools import pairwise

from drivers.clock import clock_text
from drivers.toml_mistakes import Mistake, Remark, placed
from drivers.toml_places import Path, find_places
from logger.target.calls import GRAMS, WORDS, Calls, Words
from logger.target.target import Shot, Stage, Target, Tolerance

MIN_FLOW_G_S = 0.5
"""Slower than this a kettle drips (common practice)."""

MAX_FLOW_G_S = 15.0
"""Faster than this no pouring kettle gives (common practice)."""

_DOSE_G = (1.0, 200.0)
_WATER_C = (1.0, 100.0)
_WEIGHT_G = (1.0, 10_000.0)
_LONGEST_S = 24 * 3600.0
_FLOW_G_S = (MIN_FLOW_G_S * (1 - 1e-9), MAX_FLOW_G_S * (1 + 1e-9))
"""The same with room for arithmetic: 4 g in 8 s is half a gram per second, whatever binary fractions say."""

_FLOW_AGREES = 0.1
"""Flow and duration are both rounded by hand; they may differ by a tenth."""

_ROUNDING_S = 0.5
"""Starts are whole seconds by hand; half a second of overlap is rounding."""

_LONGEST_COUNT_S, _LONGEST_WORD = 10, 40

_LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8}){0,4}")
"""The shape of a tag of BCP 47 (RFC 5646); whether there is a voice for it, the browser knows."""

_FILTER_RATIO = (10.0, 20.0)
_ESPRESSO_RATIO = (1.0, 4.0)


def impossible(target: Target) -> list[Remark]:
    """All that makes a target one that cannot be brewed.

    :param target: may hold NaN where a number could not be read
    """
    remarks = [*_of_amounts(target), *_of_tolerance(target.tolerance, ())]
    remarks += _of_method(target)
    for number, stage in enumerate(target.stages):
        remarks += _of_stage(stage, ("stage", number), target.tolerance)
    for number, (before, stage) in enumerate(pairwise(target.stages), start=1):
        remarks += _of_order(before, stage, ("stage", number))
    if target.stages:
        remarks += _of_ends(target)
    if target.shot:
        remarks += _of_shot(target.shot)
    return [*remarks, *_of_calls(target.calls)]


def doubtful(target: Target) -> list[Remark]:
    """What can be brewed and may still be a slip of the pen.

    :param target: one that can be brewed
    """
    remarks = []
    low, high = _ESPRESSO_RATIO if target.method == "espresso" else _FILTER_RATIO
    if not low <= target.brew_ratio <= high:
        what = (
            f"the brew ratio is 1:{target.brew_ratio:.1f}, outside 1:{low:g} to 1:{high:g} (common practice)"
        )
        remarks.append(Remark(("dose_g",), what, "Check the dose and the weights."))
    if target.stages and target.end_s is None:
        what = "without an end the drawdown is not held against the target"
        remarks.append(Remark(("end",), what, 'Add end = "3:00" if you count it.'))
    names = [stage.name.casefold() for stage in target.stages]
    for number, stage in enumerate(target.stages):
        if names.index(names[number]) < number:
            what = f"another stage is called {stage.name} too"
            remarks.append(
                Remark(("stage", number, "name"), what, "Give each its own name to tell them apart.")
            )
        if stage.tolerance.weight_g >= stage.poured_g:
            what = f"the weight may be off by {stage.tolerance.weight_g:g} g, as much as the stage pours"
            remarks.append(Remark(("stage", number, "to_g"), what, "Choose a smaller tolerance for it."))
    return remarks


def check_target(target: Target, where: str = "target") -> tuple[Mistake, ...]:
    """What is worth a second look in a target that can be brewed: warnings, not mistakes.

    :param target: as read
    :param where: its file, for the message; lines are those of ``target.text``
    """
    places = find_places(target.text)
    return tuple(placed(remark, where, places) for remark in doubtful(target))


def earliest_end_s(stage: Stage) -> float:
    """When a stage can be done at the soonest: as planned, or as fast as a kettle pours."""
    planned = stage.planned_end_s
    return stage.start_s + stage.poured_g / MAX_FLOW_G_S if planned is None else planned


def _outside(value: float | None, limits: tuple[float, float]) -> bool:
    """Whether a number breaks its limits; NaN and None break none."""
    return value is not None and (value < limits[0] or value > limits[1])


def _of_amounts(target: Target) -> list[Remark]:
    remarks = []
    if _outside(target.dose_g, _DOSE_G):
        what = f"{target.dose_g:g} g of coffee is not between {_DOSE_G[0]:g} and {_DOSE_G[1]:g} g"
        remarks.append(Remark(("dose_g",), what, "Write the dry coffee for one brew, in grams."))
    remarks += _of_water(target.water_c, ("water_c",))
    if _outside(target.end_s, (0.0, _LONGEST_S)):
        remarks.append(Remark(("end",), "it is more than a day away", "Write minutes:seconds."))
    return remarks


def _of_water(water_c: float | None, path: Path) -> list[Remark]:
    if not _outside(water_c, _WATER_C):
        return []
    if water_c is not None and water_c > _WATER_C[1]:
        what = f"{water_c:g} °C is hotter than boiling water"
        return [Remark(path, what, "Write degrees Celsius, 100 at the most.")]
    return [Remark(path, f"{water_c:g} °C is ice", "Write degrees Celsius, 1 at the least.")]


def _of_tolerance(tolerance: Tolerance, path: Path) -> list[Remark]:
    remarks = []
    for field in fields(Tolerance):
        value = getattr(tolerance, field.name)
        if value <= 0:
            what = f"a tolerance of {value:g} can never be met: it must be more than 0"
            remedy = f"Write how far off still counts as inside, as {field.name} = {field.default:g}."
            remarks.append(Remark((*path, "tolerance", field.name), what, remedy))
    return remarks


def _of_method(target: Target) -> list[Remark]:
    if target.method == "espresso":
        remarks = []
        if target.stages:
            remarks.append(
                Remark(("stage",), "espresso has no pours", "Use [shot] alone, without [[stage]].")
            )
        if target.shot is None:
            remedy = 'Add [shot] with yield_g = 36.0 and time = ["0:25", "0:30"].'
            remarks.append(Remark(("shot",), "it is missing", remedy))
        if target.end_s is not None:
            remedy = "Leave end out: an espresso ends in the window of [shot] time."
            remarks.append(Remark(("end",), "espresso has no end of its own", remedy))
        return remarks
    remarks = []
    if target.shot is not None:
        remedy = 'Take [shot] out, or write method = "espresso".'
        remarks.append(Remark(("shot",), f"{target.method} has no shot", remedy))
    if not target.stages:
        remedy = 'Add [[stage]] with name = "bloom", start = "0:00" and to_g = 45.0.'
        remarks.append(Remark(("stage",), "there is none: nothing is poured", remedy))
    return remarks


def _of_stage(stage: Stage, path: Path, inherited: Tolerance) -> list[Remark]:
    remarks = _of_water(stage.water_c, (*path, "water_c"))
    if stage.tolerance != inherited:
        remarks += _of_tolerance(stage.tolerance, path)
    if _outside(stage.to_g, _WEIGHT_G):
        what = f"{stage.to_g:g} g is not between {_WEIGHT_G[0]:g} and {_WEIGHT_G[1]:g} g"
        remarks.append(Remark((*path, "to_g"), what, "Write what the scale shows when the stage is done."))
    if _outside(stage.start_s, (0.0, _LONGEST_S)):
        remarks.append(Remark((*path, "start"), "it is more than a day away", "Write minutes:seconds."))
    if stage.duration_s is not None and stage.duration_s <= 0:
        remedy = "Write the seconds that the pour takes, or leave it out."
        return [*remarks, Remark((*path, "duration_s"), "a pour takes time", remedy)]
    return [*remarks, *_of_flow(stage, path)] if stage.poured_g > 0 else remarks


def _of_flow(stage: Stage, path: Path) -> list[Remark]:
    flow, field = stage.planned_flow_g_s, "duration_s" if stage.flow_g_s is None else "flow_g_s"
    remarks = []
    if flow is not None and _outside(flow, _FLOW_G_S):
        what = f"no kettle pours {flow:.3g} g/s: {MIN_FLOW_G_S:g} to {MAX_FLOW_G_S:g} g/s is common practice"
        remarks.append(Remark((*path, field), what, "Change the flow, the duration or the weight."))
    if stage.flow_g_s is not None and stage.duration_s is not None:
        made_g = stage.flow_g_s * stage.duration_s
        if abs(made_g - stage.poured_g) > _FLOW_AGREES * stage.poured_g:
            what = (
                f"{stage.duration_s:g} s at {stage.flow_g_s:g} g/s make {made_g:.0f} g, "
                f"and the stage pours {stage.poured_g:g} g"
            )
            remarks.append(
                Remark((*path, "duration_s"), what, "Keep one of the two and leave the other out.")
            )
    return remarks


def _of_order(before: Stage, stage: Stage, path: Path) -> list[Remark]:
    remarks = []
    if stage.to_g <= before.to_g:
        what = f"{stage.to_g:g} g is not more than the {before.to_g:g} g of the stage before"
        remedy = "Weights are what the scale shows, water of all stages so far together: they rise."
        remarks.append(Remark((*path, "to_g"), what, remedy))
    if stage.start_s <= before.start_s:
        what = f"{clock_text(stage.start_s)} is not after {clock_text(before.start_s)}, the stage before"
        remarks.append(
            Remark((*path, "start"), what, "Put the stages in order; times count from the first water.")
        )
    elif stage.start_s < earliest_end_s(before) - _ROUNDING_S:
        pace = "" if before.planned_end_s is not None else f", even at {MAX_FLOW_G_S:g} g/s"
        what = (
            f"it starts at {clock_text(stage.start_s)}, before {before.name or 'the stage before'} "
            f"can be done at {clock_text(earliest_end_s(before))}{pace}"
        )
        remarks.append(
            Remark((*path, "start"), what, "Start later, or pour the stage before faster or less.")
        )
    return remarks


def _of_ends(target: Target) -> list[Remark]:
    first, last, remarks = target.stages[0], target.stages[-1], []
    if first.start_s > 0:
        what = f"the first water starts the clock, so this is 0:00, not {clock_text(first.start_s)}"
        remarks.append(Remark(("stage", 0, "start"), what, "Take this time off every start and off end."))
    if target.end_s is not None and target.end_s < earliest_end_s(last) - _ROUNDING_S:
        what = (
            f"the brew ends at {clock_text(target.end_s)}, before {last.name or 'the last stage'} "
            f"can be done at {clock_text(earliest_end_s(last))}"
        )
        remarks.append(Remark(("end",), what, "Write when the bed has run dry or the cup is served."))
    return remarks


def _of_calls(calls: Calls) -> list[Remark]:
    remarks = []
    if _outside(calls.volume, (0.0, 1.0)):
        what = f"a volume of {calls.volume:g} is not between 0 and 1"
        remarks.append(Remark(("calls", "volume"), what, "Write 0 for silence, 1 for as loud as it goes."))
    if _outside(calls.count_s, (0, _LONGEST_COUNT_S)):
        what = f"{calls.count_s} seconds are not between 0 and {_LONGEST_COUNT_S}"
        remarks.append(Remark(("calls", "count_s"), what, "Write how many seconds to count, 0 for none."))
    if not _LANGUAGE.fullmatch(calls.language):
        what = f"{calls.language[:40]!r} is no tag of a language"
        remarks.append(Remark(("calls", "language"), what, 'Write language = "en", or as "de-AT".'))
    for name in WORDS:
        remarks += _of_word(name, getattr(calls.words, name))
    return remarks


def _of_word(name: str, word: str) -> list[Remark]:
    path = ("calls", "words", name)
    if not word.strip() or len(word) > _LONGEST_WORD or not word.isprintable():
        what = f"it is not between 1 and {_LONGEST_WORD} letters on one line"
        return [Remark(path, what, f'Write a word or two, as {name} = "{getattr(Words(), name)}".')]
    if name == "to" and word.count(GRAMS) != 1:
        return [Remark(path, f"the weight has no place in it: {GRAMS}", f'Write, as to = "to {GRAMS}".')]
    return []


def _of_shot(shot: Shot) -> list[Remark]:
    remarks = []
    if _outside(shot.yield_g, (1.0, 1000.0)):
        what = f"{shot.yield_g:g} g is not between 1 and 1000 g"
        remarks.append(Remark(("shot", "yield_g"), what, "Write the beverage in the cup, in grams."))
    for name, window in (("time", shot.time_s), ("first_drip", shot.first_drip_s)):
        if window and window[0] > window[1]:
            what = f"{clock_text(window[0])} comes after {clock_text(window[1])}"
            remarks.append(Remark(("shot", name), what, "Write the earliest first, then the latest."))
    if not shot.time_s[0] > 0 and shot.time_s[0] == shot.time_s[0]:
        remarks.append(Remark(("shot", "time"), "a shot takes time", 'Write as time = ["0:25", "0:30"].'))
    elif shot.first_drip_s and shot.first_drip_s[1] >= shot.time_s[0]:
        what = f"the first drip may come at {clock_text(shot.first_drip_s[1])}, when the shot may be over"
        remarks.append(
            Remark(("shot", "first_drip"), what, "The latest first drip comes before the earliest end.")
        )
    return remarks
