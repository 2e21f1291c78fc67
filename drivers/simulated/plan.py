"""What a simulated brew is meant to be: the few things that it needs from a target file.

The full reader of target files, with all its checks, stands in ``logger.target``; drivers know nothing of
it. This one takes what it needs, fills in what is missing, and refuses what cannot be brewed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from drivers.clock import clock_s

Method = Literal["pour-over", "immersion", "espresso"]
Table = Mapping[str, object]

METHODS: tuple[Method, ...] = ("pour-over", "immersion", "espresso")

USUAL_FLOW_G_S = 6.0  # common practice for a narrow spout
LONGEST_BREW_S = 3600.0
LARGEST_BREW_G = 10_000.0

_USUAL_DOSE_G = {"pour-over": 15.0, "immersion": 15.0, "espresso": 18.0}  # common practice
_USUAL_WATER_C = 93.0  # common practice
_USUAL_SHOT_S = (25.0, 30.0)
_USUAL_FIRST_DRIP_S = (5.0, 8.0)
_SHARE_OF_TIME_POURING = 0.8


class PlanError(ValueError):
    """The target cannot be brewed; the message says where and why."""


@dataclass(frozen=True, slots=True)
class Step:
    """One pour of the plan.

    :param start_s: from the first water of the brew
    :param from_g: water on the scale before, cumulative
    :param to_g: water on the scale after, cumulative
    :param flow_g_s: how fast
    :param water_c: temperature of the water, where this step wants its own
    """

    name: str
    start_s: float
    from_g: float
    to_g: float
    flow_g_s: float
    water_c: float | None = None

    @property
    def poured_g(self) -> float:
        """What this step adds."""
        return self.to_g - self.from_g


@dataclass(frozen=True, slots=True)
class ShotPlan:
    """An espresso; times count from the start of the pump.

    :param yield_g: beverage in the cup
    :param time_s: earliest and latest end
    :param first_drip_s: earliest and latest first drip
    """

    yield_g: float
    time_s: tuple[float, float] = _USUAL_SHOT_S
    first_drip_s: tuple[float, float] = _USUAL_FIRST_DRIP_S


@dataclass(frozen=True, slots=True)
class Plan:
    """What the hand will try to do.

    :param dose_g: dry coffee
    :param water_c: temperature of the water in the kettle when the brew starts
    :param steps: the pours in order; empty for espresso
    :param shot: for espresso, else None
    :param end_s: when the brew is served, from its first water; None where the plan does not say
    """

    title: str
    method: Method
    dose_g: float
    water_c: float = _USUAL_WATER_C
    steps: tuple[Step, ...] = ()
    shot: ShotPlan | None = None
    end_s: float | None = None

    @property
    def total_g(self) -> float:
        """Water in all, or the yield."""
        return self.shot.yield_g if self.shot else self.steps[-1].to_g


def read_plan(path_or_text: Path | str) -> Plan:
    """Read a plan from a target file, or from the text of one.

    :param path_or_text: a path, or TOML (a string with a line end or an equals sign in it)
    :raises PlanError: when it is no TOML, or cannot be brewed, with the place
    :raises OSError: when the file cannot be read
    """
    if isinstance(path_or_text, str) and ("\n" in path_or_text or "=" in path_or_text):
        return _parse("target", path_or_text)
    path = Path(path_or_text)
    try:
        text = path.read_text("utf-8")
    except UnicodeDecodeError as error:
        raise PlanError(f"{path}: this is no UTF-8 text (byte {error.start})") from None
    return _parse(str(path), text)


def _parse(where: str, text: str) -> Plan:
    try:
        return _plan(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"{where}: this is no TOML: {error}") from None
    except PlanError as error:
        raise PlanError(f"{where}: {error}") from None


def _plan(table: Table) -> Plan:
    method = _method(table)
    shot = _shot(table) if method == "espresso" else None
    steps = () if shot else _steps(table)
    end_s = _time(table, "end")
    latest_s = max([end_s or 0.0, *(step.start_s + step.poured_g / step.flow_g_s for step in steps)])
    if latest_s > LONGEST_BREW_S:
        raise PlanError("the brew takes longer than an hour; no more than that is simulated")
    return Plan(
        title=str(table.get("title", "untitled")),
        method=method,
        dose_g=_number(table, "dose_g", _USUAL_DOSE_G[method]),
        water_c=_number(table, "water_c", _USUAL_WATER_C),
        steps=steps,
        shot=shot,
        end_s=end_s,
    )


def _method(table: Table) -> Method:
    method = table.get("method", "espresso" if "shot" in table else "pour-over")
    if method not in METHODS:
        raise PlanError(f"method = {method!r} is none of {', '.join(METHODS)}")
    return method


def _shot(table: Table) -> ShotPlan:
    shot = table.get("shot")
    if not isinstance(shot, dict):
        raise PlanError("an espresso needs a [shot] with yield_g")
    if "yield_g" not in shot:
        raise PlanError("[shot]: yield_g is missing")
    time_s = _window(shot, "time", _USUAL_SHOT_S)
    first_drip_s = _window(shot, "first_drip", _USUAL_FIRST_DRIP_S)
    if time_s[0] <= first_drip_s[1]:
        # A short shot that does not say when it drips: a quarter of the time is common practice.
        if "first_drip" in shot:
            raise PlanError("[shot]: the first drip must come before the end")
        first_drip_s = (0.2 * time_s[0], 0.3 * time_s[0])
    return ShotPlan(_number(shot, "yield_g", 0.0), time_s, first_drip_s)


def _steps(table: Table) -> tuple[Step, ...]:
    stages = table.get("stage", [])
    if not isinstance(stages, list) or not all(isinstance(stage, dict) for stage in stages):
        raise PlanError("stages are written as [[stage]]")
    pours, before_g = [], 0.0
    for number, stage in enumerate(stages, 1):
        try:
            step = _step(stage, number, before_g)
        except PlanError as error:
            raise PlanError(f"stage {number} ({stage.get('name', 'no name')}): {error}") from None
        # A stage that adds nothing is a wait or the drawdown: the hand does nothing then.
        if step.poured_g > 0:
            pours.append((step, "flow_g_s" in stage or "duration_s" in stage))
            before_g = step.to_g
    if not pours:
        raise PlanError("there is no [[stage]] in which water is poured")
    return _in_time(pours)


def _step(stage: Table, number: int, before_g: float) -> Step:
    start_s = _time(stage, "start")
    if start_s is None:
        if number > 1:
            raise PlanError("start is missing")
        start_s = 0.0
    to_g = _number(stage, "to_g", before_g, at_least=0.0)
    if to_g < before_g:
        raise PlanError(f"to_g = {to_g:g} is less than the {before_g:g} g already poured: it is cumulative")
    flow_g_s = _number(stage, "flow_g_s", USUAL_FLOW_G_S)
    if "flow_g_s" not in stage and "duration_s" in stage and to_g > before_g:
        flow_g_s = (to_g - before_g) / _number(stage, "duration_s", 1.0)
    water_c = _number(stage, "water_c", 0.0) if "water_c" in stage else None
    return Step(str(stage.get("name", f"pour {number}")), start_s, before_g, to_g, flow_g_s, water_c)


def _in_time(pours: Sequence[tuple[Step, bool]]) -> tuple[Step, ...]:
    """Pour faster than usual where the plan leaves no time, unless the plan itself says how fast."""
    steps = []
    for (step, says_how_fast), following in zip(pours, [*pours[1:], None], strict=True):
        flow_g_s = step.flow_g_s
        if following:
            available_s = following[0].start_s - step.start_s
            if available_s <= 0:
                raise PlanError(f"{following[0].name} starts no later than {step.name}")
            if not says_how_fast:
                flow_g_s = max(flow_g_s, step.poured_g / (_SHARE_OF_TIME_POURING * available_s))
        steps.append(Step(step.name, step.start_s, step.from_g, step.to_g, flow_g_s, step.water_c))
    return tuple(steps)


def _time(table: Table, name: str) -> float | None:
    if name not in table:
        return None
    try:
        return clock_s(table[name])
    except ValueError as error:
        raise PlanError(f"{name}: {error}") from None


def _window(table: Table, name: str, usual_s: tuple[float, float]) -> tuple[float, float]:
    value = table.get(name)
    if value is None:
        return usual_s
    try:
        times_s = [clock_s(time) for time in value] if isinstance(value, list) else [clock_s(value)] * 2
    except ValueError as error:
        raise PlanError(f"{name}: {error}") from None
    if len(times_s) != 2 or times_s[0] > times_s[1]:
        raise PlanError(f'{name}: write the earliest and the latest time, as in ["0:25", "0:30"]')
    return times_s[0], times_s[1]


def _number(table: Table, name: str, usual: float, *, at_least: float = 1e-3) -> float:
    value = table.get(name, usual)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PlanError(f"{name} = {value!r} is not a number")
    if not at_least <= value <= LARGEST_BREW_G:
        raise PlanError(f"{name} = {value!r} is out of range")
    return float(value)
