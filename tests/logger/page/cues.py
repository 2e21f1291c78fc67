"""Cues as the guide gives them, made by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from logger.guide import Call, Cue, Moment, StageCue

STAGE = StageCue(2, "pour 1", 40.0, 52.5, 45.0, 120.0, 6.0)


def pouring(clock_s: float, poured_g: float, **more: Any) -> Cue:
    """Water runs, on a corridor of ±2 g around a steady flow."""
    ahead = tuple(
        Moment(second, 4.0 * second - 2.0, 4.0 * second, 4.0 * second + 2.0)
        for second in range(int(clock_s), int(clock_s) + 21)
    )
    cue = Cue(
        time_s=10.0 + clock_s,
        phase="pouring",
        word="pour",
        word_text="pour",
        clock_s=clock_s,
        poured_g=poured_g,
        flow_g_s=6.0,
        to_go_g=120.0 - poured_g,
        stage=STAGE,
        stages=(STAGE,),
        ahead=ahead,
        title="Four pours",
        total_g=240.0,
    )
    return replace(cue, **more)


def waiting(time_s: float = 1.0, **more: Any) -> Cue:
    """Before the first water."""
    return replace(Cue(time_s, "waiting", "ready", "ready", stage=STAGE, to_go_g=45.0), **more)


def stop_call(number: int, time_s: float) -> Call:
    return Call(number, time_s, "stop", "stop")
