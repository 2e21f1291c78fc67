"""Pours as a scale shows them: trapezoids of flow, a first-order lag, steps of a tenth of a gram."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from logger.guide import Cue, Guide

RATE_HZ = 10.0
RAMP_S = 0.4
LAG_S = 0.3


def shown(pours: Sequence[tuple[float, float, float]], until_s: float) -> Iterator[tuple[float, float]]:
    """What the scale shows: time and weight, ten times a second.

    :param pours: of each its start, its end (where the stream has stopped), and its grams
    """
    step_s, on_pan_g, display_g = 0.005, 0.0, 0.0
    for tick in range(round(until_s / step_s)):
        time_s = tick * step_s
        for start_s, end_s, grams in pours:
            even_g_s = grams / (end_s - start_s - RAMP_S)
            edge = min(time_s - start_s, end_s - time_s) / RAMP_S
            on_pan_g += even_g_s * min(max(edge, 0.0), 1.0) * step_s
        display_g += (on_pan_g - display_g) * step_s / LAG_S
        if tick % round(1 / RATE_HZ / step_s) == 0:
            yield time_s, round(display_g, 1)


def followed(guide: Guide, pours: Sequence[tuple[float, float, float]], until_s: float) -> list[Cue]:
    """Show a guide such a brew; give its cue at each reading."""
    return [guide.push(time_s, weight_g) for time_s, weight_g in shown(pours, until_s)]


def calls_of(cues: Sequence[Cue]) -> list[tuple[float, str, str]]:
    """All that was called: when on the brew's clock, what, and in which words."""
    calls: dict[int, tuple[float, str, str]] = {}
    for cue in cues:
        for call in cue.calls:
            calls.setdefault(call.id, (round(cue.clock_s, 1), call.kind, call.text))
    return list(calls.values())
