"""A target as the text of a target file."""

from __future__ import annotations

import json
from dataclasses import fields

from drivers.clock import clock_s, clock_text
from logger.target.calls import WORDS, Calls
from logger.target.target import Shot, Stage, Target, Tolerance


def write_target(target: Target) -> str:
    """Write a target as a brewer would; reading it gives the same target again.

    :param target: its ``text`` is not used
    """
    lines = [
        f"title   = {_words(target.title)}",
        f"method  = {_words(target.method)}",
        f"dose_g  = {_number(target.dose_g)}",
        *_given("water_c", target.water_c),
        *([f"end     = {_time(target.end_s)}"] if target.end_s is not None else []),
        *([f"keep    = {_words(target.keep)}"] if target.keep != "times" else []),
        *(f"{name:7} = {_words(words)}" for name, words in _remembered(target) if words),
        "",
        "[tolerance]",
        *(f"{name:8} = {value}" for name, value in _changed(target.tolerance, None)),
    ]
    for stage in target.stages:
        lines += ["", *_stage_lines(stage, target.tolerance)]
    if target.shot:
        lines += ["", *_shot_lines(target.shot)]
    if target.calls != Calls():
        lines += ["", *_calls_lines(target.calls)]
    return "\n".join(lines) + "\n"


def _remembered(target: Target) -> tuple[tuple[str, str], ...]:
    return ("coffee", target.coffee), ("grind", target.grind), ("notes", target.notes)


def _stage_lines(stage: Stage, inherited: Tolerance) -> list[str]:
    lines = [
        "[[stage]]",
        f"name  = {_words(stage.name)}",
        f"start = {_time(stage.start_s)}",
        f"to_g  = {_number(stage.to_g)}",
        *_given("flow_g_s", stage.flow_g_s),
        *_given("duration_s", stage.duration_s),
        *_given("water_c", stage.water_c),
    ]
    changed = ", ".join(f"{name} = {value}" for name, value in _changed(stage.tolerance, inherited))
    return [*lines, f"tolerance = {{ {changed} }}"] if changed else lines


def _shot_lines(shot: Shot) -> list[str]:
    lines = ["[shot]", f"yield_g = {_number(shot.yield_g)}", f"time = {_window(shot.time_s)}"]
    return [*lines, f"first_drip = {_window(shot.first_drip_s)}"] if shot.first_drip_s else lines


def _calls_lines(calls: Calls) -> list[str]:
    """What is not as usual of the calls, and of their words."""
    usual = Calls()
    lines = ["[calls]"]
    for field in fields(Calls):
        value = getattr(calls, field.name)
        if field.name != "words" and value != getattr(usual, field.name):
            # JSON's numbers, true and false, and lists of words are TOML's too.
            lines.append(f"{field.name} = {_words(value) if isinstance(value, str) else json.dumps(value)}")
    said = [(name, getattr(calls.words, name)) for name in WORDS]
    changed = [f"{name} = {_words(word)}" for name, word in said if word != getattr(usual.words, name)]
    return [*lines, "", "[calls.words]", *changed] if changed else lines


def _changed(tolerance: Tolerance, inherited: Tolerance | None) -> list[tuple[str, str]]:
    """The tolerances that are not inherited."""
    return [
        (field.name, _number(getattr(tolerance, field.name)))
        for field in fields(Tolerance)
        if inherited is None or getattr(tolerance, field.name) != getattr(inherited, field.name)
    ]


def _given(name: str, value: float | None) -> list[str]:
    return [] if value is None else [f"{name:7} = {_number(value)}"]


def _words(words: str) -> str:
    """A TOML string; JSON's escapes are TOML's, but for the one control character that JSON leaves bare."""
    return json.dumps(words, ensure_ascii=False).replace("\x7f", "\\u007f")


def _number(value: float) -> str:
    return repr(float(value))


def _time(seconds: float) -> str:
    """Minutes and seconds where that is exact, else plain seconds."""
    clock = clock_text(seconds)
    return _words(clock) if seconds < 60_000 and clock_s(clock) == seconds else _number(seconds)


def _window(window_s: tuple[float, float]) -> str:
    return f"[{_time(window_s[0])}, {_time(window_s[1])}]"
