"""How a brew went, in one sentence, and the one thing to change next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from drivers.clock import clock_text
from logger.compare.comparison import Deviation, StageResult
from logger.compare.measuring import Measured
from logger.curve import Pour
from logger.target import Target

_GRAVE = 1000.0
"""A stage that is missing or ran into another comes before any figure."""

_AFTERWARDS = 1e-3
"""What follows from the pours (the whole, the drawdown) comes after the pours themselves."""

_OVER, _UNDER = 0, 1
_SAYS = {
    "start_s": ("started {off} late", "started {off} early"),
    "end_s": ("ended {off} late", "ended {off} early"),
    "to_g": ("ended {off} heavy", "ended {off} light"),
    "poured_g": ("poured {off} too much", "poured {off} too little"),
    "flow_g_s": ("ran {off} too fast", "ran {off} too slow"),
    "water_c": ("had water {off} too hot", "had water {off} too cool"),
    "total_g": ("came to {off} too much", "came to {off} too little"),
    "first_drip_s": ("dripped first {off} late", "dripped first {off} early"),
}
_UNITS = {"_g_s": "g/s", "_s": "s", "_g": "g", "_c": "°C"}


@dataclass(frozen=True, slots=True)
class _Fault:
    """Something outside the target.

    :param weight: how much it matters, tolerances off
    :param says: a clause for the verdict
    :param change: what to do about it, a sentence
    """

    weight: float
    says: str
    change: str


def judge(
    brew: Measured,
    target: Target,
    stages: tuple[StageResult, ...],
    extra: tuple[Pour, ...],
    whole: tuple[Deviation, ...],
) -> tuple[str, str]:
    """Say how the brew went, and the one thing to change next.

    :return: two sentences; the second is empty where nothing is outside
    """
    worst = _worst(brew, target, stages, extra, whole)
    head = _shot_head(brew, whole, worst is None) if target.shot else _stages_head(stages)
    if worst:
        return f"{head}; {worst.says}.", worst.change
    figures = [*(figure for result in stages for figure in result.deviations), *whole]
    untold = next((figure for figure in figures if figure.inside is None), None)
    return (f"{head}; {_untold(untold)}." if untold else f"{head}."), ""


def _worst(
    brew: Measured,
    target: Target,
    stages: tuple[StageResult, ...],
    extra: tuple[Pour, ...],
    whole: tuple[Deviation, ...],
) -> _Fault | None:
    faults = [*_stage_faults(stages), *_extra_faults(brew, extra)]
    faults += _shot_faults(brew, whole) if target.shot else _whole_faults(whole, bool(faults))
    # The first of equals: an early mistake often causes the later ones.
    return max(faults, key=lambda fault: fault.weight, default=None)


def _stage_faults(stages: tuple[StageResult, ...]) -> Iterator[_Fault]:
    for number, result in enumerate(stages):
        stage = result.stage
        if result.finding == "missing":
            when = f"at {clock_text(stage.start_s)}, to {stage.to_g:g} g"
            yield _Fault(_GRAVE, f"{stage.name} is missing", f"Do not skip {stage.name}: {when}.")
        elif result.finding == "merged":
            yield from _merged_fault(stages, number)
        else:
            yield from (_stage_fault(result, each) for each in result.deviations if _is_outside(each))


def _merged_fault(stages: tuple[StageResult, ...], number: int) -> Iterator[_Fault]:
    """One fault for each pair of neighbours that ran together, told at the earlier."""
    here = stages[number]
    if number + 1 < len(stages) and stages[number + 1].pours == here.pours:
        after = stages[number + 1].stage
        says = f"{here.stage.name} and {after.name} ran together"
        yield _Fault(
            _GRAVE, says, f"Stop at {here.stage.to_g:g} g and wait until {clock_text(after.start_s)}."
        )


def _extra_faults(brew: Measured, extra: tuple[Pour, ...]) -> Iterator[_Fault]:
    for pour in extra:
        what = f"of {pour.poured_g:.1f} g at {clock_text(pour.start_s - brew.start_s)}"
        yield _Fault(
            _GRAVE, f"there was a pour {what} that is not in the target", f"Leave out the pour {what}."
        )


def _stage_fault(result: StageResult, figure: Deviation) -> _Fault:
    stage, over = result.stage, figure.difference > 0
    weight = _tolerances_off(figure)
    says = f"{stage.name} {_clause(figure)}"
    flow_g_s = result.pours[-1].mean_flow_g_s
    match figure.quantity:
        case "to_g":
            own_g = sum(pour.poured_g for pour in result.pours) - stage.poured_g
            # What it took over from the stage before is that stage's fault.
            share = min(max(own_g / figure.difference, 0.05), 1.0)
            change = _weight_change(stage.name, abs(figure.difference), flow_g_s, over)
            return _Fault(weight * share, says, change)
        case "start_s":
            at = clock_text(stage.start_s)
            change = f"Start {stage.name} at {at}, not at {clock_text(figure.actual)}."
            return _Fault(weight, says, change)
        case "end_s":
            at, was = clock_text(figure.wanted), clock_text(figure.actual)
            # A late start or a slow pour is what made it late: those come first.
            return _Fault(weight * 0.9, says, f"Be done with {stage.name} at {at}, not at {was}.")
        case "flow_g_s":
            pace = "slower" if over else "faster"
            change = f"Pour {pace} in {stage.name}: {figure.wanted:.1f} g/s, it was {figure.actual:.1f} g/s."
            return _Fault(weight, says, change)
        case _:
            return _Fault(weight, says, f"{_water_change(figure)} before {stage.name}.")


def _weight_change(name: str, off_g: float, flow_g_s: float, over: bool) -> str:
    how = f"about {off_g / flow_g_s:.1f} s ({off_g:.1f} g)" if flow_g_s > 0 else f"{off_g:.1f} g"
    return f"Stop {name} {how} sooner." if over else f"Let {name} run {how} longer."


def _water_change(figure: Deviation) -> str:
    hotter = figure.difference > 0
    return f"{'Let the water cool' if hotter else 'Heat the water'} to {figure.wanted:g} °C"


def _whole_faults(whole: tuple[Deviation, ...], poured_off: bool) -> Iterator[_Fault]:
    for figure in whole:
        if not _is_outside(figure):
            continue
        says = f"the brew {_clause(figure)}"
        if figure.quantity == "total_g":
            change = f"Pour to {figure.wanted:g} g in all."
        elif poured_off:
            change = "Get the pours inside first: the drawdown follows them."
        else:
            # Common practice: a finer grind slows the drawdown, a coarser one speeds it up.
            grind = "coarser" if figure.difference > 0 else "finer"
            change = f"With pours like these, grind a little {grind}."
        yield _Fault(_AFTERWARDS * _tolerances_off(figure), says, change)


def _shot_faults(brew: Measured, whole: tuple[Deviation, ...]) -> Iterator[_Fault]:
    analysis = brew.analysis
    took_s = analysis.pours[-1].end_s - brew.start_s
    flow_g_s = analysis.total_g / took_s if took_s > 0 else 0.0
    for figure in whole:
        if not _is_outside(figure):
            continue
        over, says = figure.difference > 0, f"the shot {_clause(figure)}"
        if figure.quantity == "total_g":
            change = _weight_change("the shot", abs(figure.difference), flow_g_s, over)
            yield _Fault(_tolerances_off(figure), says, change)
        elif figure.quantity == "water_c":
            yield _Fault(_AFTERWARDS, says, f"{_water_change(figure)}.")
        else:
            # Common practice; very fine grinds can clog and do the opposite.
            grind = "coarser" if over else "finer"
            # The yield first: with the right yield the time may be right too.
            yield _Fault(_AFTERWARDS * 10, says, f"Grind a little {grind}, and keep dose and yield.")


def _stages_head(stages: tuple[StageResult, ...]) -> str:
    inside = sum(result.inside is True for result in stages)
    cannot = sum(result.inside is None for result in stages)
    head = f"{inside} of {len(stages)} stages inside"
    return f"{head}, {cannot} cannot be told" if cannot else head


def _shot_head(brew: Measured, whole: tuple[Deviation, ...], nothing_outside: bool) -> str:
    drip = next((figure for figure in whole if figure.quantity == "first_drip_s"), None)
    end = next((figure for figure in whole if figure.quantity == "end_s"), None)
    if drip is not None and end is not None and drip.inside is not None and end.inside is not None:
        took = f"{end.actual:.0f} s from the pump's start"
    else:
        took = f"{brew.analysis.pours[-1].end_s - brew.start_s:.0f} s from the first drip"
    told = all(figure.inside is not None for figure in whole)
    state = "The shot is inside" if told and nothing_outside else "The shot"
    return f"{state}: {brew.analysis.total_g:.1f} g in {took}"


def _untold(figure: Deviation) -> str:
    name = {"total_g": "the total", "end_s": "the end", "to_g": "a weight", "flow_g_s": "a flow"}
    return f"{name.get(figure.quantity, 'a figure')} cannot be told: {figure.why}"


def _is_outside(figure: Deviation) -> bool:
    return figure.inside is False


def _tolerances_off(figure: Deviation) -> float:
    """How many tolerances a figure is off; a window has none of its own, so a second counts as one."""
    return abs(figure.difference) / (figure.tolerance or 1.0)


def _clause(figure: Deviation) -> str:
    unit = next(unit for end, unit in _UNITS.items() if figure.quantity.endswith(end))
    off = abs(figure.difference)
    decimals = 0 if unit == "s" and off >= 1.5 else 1
    return _SAYS[figure.quantity][_OVER if figure.difference > 0 else _UNDER].format(
        off=f"{off:.{decimals}f} {unit}"
    )
