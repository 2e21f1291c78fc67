"""All that a screen shows and says at one moment of a brew, as one value.

The terminal, the page and the coach's view draw the same cue; none of them works anything out. Times called
``..._s`` are on the brew's own clock, which starts with the first water, unless said otherwise.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal

from logger.target.calls import CallKind

Phase = Literal["waiting", "pouring", "pause", "drawdown", "done"]
"""Before the first water; water (or espresso) runs; between two pours; all water is in; the brew is over."""

Word = Literal["ready", "pour", "slower", "faster", "stop", "wait", "done"]
"""The one thing to do now."""

Sure = Literal["sure", "likely", "unsure"]

DIGITS = 3
"""Decimals kept in JSON: milliseconds and milligrams are more than any bench has."""


@dataclass(frozen=True, slots=True)
class Call:
    """One thing for the ear, to be given once.

    :param id: counts up from 1 within a brew; a listener gives each id once
    :param time_s: when it is due, on the readings' axis (that of ``Cue.time_s``); a call seen later than a
        second after it is old and stays unsaid
    :param kind: what it is: a tone of its own for each
    :param text: what to speak, in the brewer's words; empty where a tone alone is meant
    """

    id: int
    time_s: float
    kind: CallKind
    text: str = ""


@dataclass(frozen=True, slots=True)
class Sound:
    """How calls are to sound; from the target's ``[calls]``.

    :param volume: 0 (silent) to 1
    :param language: of the spoken words, as a BCP 47 tag
    :param voice: the name of a voice of the browser's own, or empty for its usual one
    :param tones: whether to give tones
    :param speech: whether to speak
    """

    volume: float = 0.8
    language: str = "en"
    voice: str = ""
    tones: bool = True
    speech: bool = True


@dataclass(frozen=True, slots=True)
class StageCue:
    """A stage as the plan stands now.

    :param number: 1 for the first
    :param changed: whether this is not what the target file says, because the plan was adapted
    """

    number: int
    name: str
    start_s: float
    end_s: float
    from_g: float
    to_g: float
    flow_g_s: float | None = None
    changed: bool = False


@dataclass(frozen=True, slots=True)
class Water:
    """A thermometer that the next pour depends on.

    :param channel: which
    :param water_c: what it shows
    :param wanted_c: what the coming stage asks for, or None
    :param ready: whether that is within the tolerance; None where nothing is asked for or it is not fresh
    :param text: one clause, as "2.4 °C too cool"
    """

    channel: str
    water_c: float
    wanted_c: float | None = None
    ready: bool | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class DeviceState:
    """How a channel's readings come in.

    :param state: ``stale``: nothing for longer than its own pace explains; ``lost``: the link is down
    :param silent_s: since the last reading that had a value
    """

    channel: str
    state: Literal["fresh", "stale", "lost"]
    silent_s: float = 0.0


@dataclass(frozen=True, slots=True)
class PlanChange:
    """The remaining plan was worked out anew; shown as such.

    :param id: counts up from 1 within a brew
    :param clock_s: when
    :param text: what changed and why, one sentence
    """

    id: int
    clock_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment of the target's corridor ahead.

    :param clock_s: when
    :param low_g: lightest and
    :param high_g: heaviest that still is inside
    :param plan_g: as planned
    """

    clock_s: float
    low_g: float
    plan_g: float
    high_g: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is said afterwards.

    :param text: how the brew went, one sentence
    :param change: the one thing to change next; empty where nothing is outside
    :param sure: how sure that is
    :param why: one sentence: why it is no surer
    """

    text: str
    change: str = ""
    sure: Sure = "likely"
    why: str = ""


@dataclass(frozen=True, slots=True)
class Cue:
    """One moment of a brew.

    :param time_s: now, on the readings' axis
    :param phase: where the brew stands
    :param word: the one thing to do
    :param word_text: the same in the brewer's own words, for the screen
    :param clock_s: since the first water; 0 before
    :param poured_g: in so far (espresso: in the cup), lag of the scale taken out, up to this moment
    :param flow_g_s: now; 0 while none runs
    :param to_go_g: until the weight of the stage at hand is reached (negative: too much), or None
    :param stop_in_s: until "stop" will be called, while it can be foreseen
    :param rate: -1 (too slow by twice the tolerance or more) to 1 (too fast); 0 is as planned, ±0.5 the edge
        of the tolerance; None where no flow is planned or none runs
    :param stage: the stage being poured, or the next one
    :param next_in_s: in a pause the seconds until the next pour (negative: it is late), in the drawdown until
        the planned end; else None
    :param shot: whether this is an espresso: then grams, seconds and flow are shown
    :param title: of the target
    :param brew: counts the brews of a session; calls, changes and plans count anew with each
    :param total_g: water in all that is planned, or the yield; None without a target
    :param end_s: when the brew should be over, as the plan stands now
    :param plan_version: goes up whenever the plan changes: what was drawn of it is then out of date
    :param change: the last change of the plan, or None
    :param stages: all stages as the plan stands now
    :param ahead: the corridor of the coming 20 s
    :param water: thermometers, the one that matters first
    :param devices: every channel heard of
    :param warnings: what to know before the brew, one sentence each; empty once water runs
    :param calls: calls of the last seconds, oldest first
    :param sound: how they are to sound
    :param verdict: once the brew is over, or None
    """

    time_s: float
    phase: Phase
    word: Word
    word_text: str
    clock_s: float = 0.0
    poured_g: float = 0.0
    flow_g_s: float = 0.0
    to_go_g: float | None = None
    stop_in_s: float | None = None
    rate: float | None = None
    stage: StageCue | None = None
    next_in_s: float | None = None
    shot: bool = False
    title: str = ""
    brew: int = 1
    total_g: float | None = None
    end_s: float | None = None
    plan_version: int = 0
    change: PlanChange | None = None
    stages: tuple[StageCue, ...] = ()
    ahead: tuple[Moment, ...] = ()
    water: tuple[Water, ...] = ()
    devices: tuple[DeviceState, ...] = ()
    warnings: tuple[str, ...] = ()
    calls: tuple[Call, ...] = ()
    sound: Sound = Sound()
    verdict: Verdict | None = None

    def to_json(self) -> str:
        """Write the cue as one line of JSON, its keys named as here; numbers that are none become null."""
        return json.dumps(plain(self), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def plain(value: Any) -> Any:
    """Turn a cue, or a part of one, into dicts, lists and finite numbers."""
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return round(value, DIGITS) + 0.0 if math.isfinite(value) else None
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    return [plain(each) for each in value]
