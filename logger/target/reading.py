"""Read a target file that a brewer wrote by hand; find every mistake in it, not only the first."""

from __future__ import annotations

import dataclasses
import difflib
import math
import re
from pathlib import Path as FilePath
from typing import Any, get_args

from drivers.toml_mistakes import Remark, Slips, UnreadableTomlError, load_toml, placed, toml_text
from logger.errors import BadInputError
from logger.target.calls import CALL_KINDS, WORDS, Calls, Words
from logger.target.checking import impossible
from logger.target.form import NOT_READ, Form
from logger.target.mistakes import TargetError
from logger.target.target import Keep, Method, Shot, Stage, Target, Tolerance

_SLIPS: Slips = (
    (re.compile(r"=\s*\d+:\d"), 'Put times in quotes, as start = "0:45".'),
    (re.compile(r"=\s*[A-Za-z]"), 'Put words in quotes, as method = "pour-over".'),
)

_MEANS = {"method": "method", "keep": "thing to keep"}


def read_target(path: FilePath | str) -> Target:
    """Read a target file.

    :raises TargetError: with every mistake in it, each with its line
    :raises BadInputError: when there is no such file or it may not be read
    """
    path = FilePath(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise BadInputError(str(path), f"the target cannot be read: {reason}", "Check the name.") from error
    except ValueError as error:  # a name with a zero byte in it
        raise BadInputError(repr(str(path)), "this is no file name", "Check the name.") from error
    try:
        text = toml_text(data, str(path))
    except UnreadableTomlError as error:
        raise TargetError(str(path), [error.mistake]) from error
    return parse_target(text, str(path))


def parse_target(text: str, where: str) -> Target:
    """Read a target from its text.

    :param text: TOML, as written
    :param where: the file, for messages
    :raises TargetError: with every mistake in it, each with its line
    """
    try:
        document, places = load_toml(text, where, _SLIPS)
    except UnreadableTomlError as error:
        raise TargetError(where, [error.mistake]) from error
    remarks: list[Remark] = []
    target = _draft(Form(document, (), "", remarks), text)
    remarks += _unsaid(impossible(target), remarks)
    if remarks:
        raise TargetError(where, (placed(remark, where, places) for remark in remarks))
    return target


def _unsaid(found: list[Remark], said: list[Remark]) -> list[Remark]:
    """Leave out what was complained of while reading, and what hangs on a method that nobody knows."""
    paths = {remark.path for remark in said}
    if ("method",) in paths:
        paths |= {("stage",), ("shot",)}
    return [remark for remark in found if remark.path not in paths]


def _draft(form: Form, text: str) -> Target:
    """The target with NaN where a number could not be read."""
    tolerance = _tolerance(form.form("tolerance"), Tolerance())
    shot = form.form("shot")
    return Target(
        title=form.text("title", required=True, example="Three pours for the morning bench"),
        method=_one_of(form, "method", get_args(Method), required=True),
        dose_g=form.needed("dose_g", "15.0"),
        water_c=form.number("water_c", example="94.0"),
        stages=_stages(form.forms("stage"), tolerance),
        shot=_shot(shot) if shot else None,
        end_s=form.time_s("end", example="3:00"),
        tolerance=tolerance,
        coffee=form.text("coffee"),
        grind=form.text("grind"),
        notes=form.text("notes"),
        text=text,
        keep=_one_of(form, "keep", get_args(Keep), required=False),
        calls=_calls(form.form("calls")),
    )


def _one_of(form: Form, key: str, known: tuple[Any, ...], *, required: bool) -> Any:
    """Read one of some words; the first of them where it is absent or none of them."""
    said = form.text(key, required=required, example=known[0])
    if said not in known and said.strip():
        near = difflib.get_close_matches(said.lower(), known, n=1)
        names = " or ".join(f'"{each}"' for each in near or known)
        form.remark(key, f"{said[:40]!r} is no {_MEANS[key]} that is known here", f"Write {names}.")
    return said if said in known else known[0]


def _calls(form: Form | None) -> Calls:
    if form is None:
        return Calls()
    usual = Calls()
    volume = form.number("volume", example="0.8")
    say = form.words("say", CALL_KINDS)
    return Calls(
        volume=usual.volume if volume is None else volume,
        language=form.text("language") if "language" in form else usual.language,
        voice=form.text("voice"),
        tones=form.truth("tones", usual.tones),
        speech=form.truth("speech", usual.speech),
        count_s=_whole(form, "count_s", usual.count_s),
        say=usual.say if say is None else tuple(kind for kind in CALL_KINDS if kind in say),
        words=_words(form.form("words")),
    )


def _whole(form: Form, key: str, usual: int) -> int:
    """Read a whole number; the usual where it is absent or cannot be read."""
    value = form.number(key, example=str(usual))
    if value is None or math.isnan(value):
        return usual
    if value != int(value):
        form.remark(key, f"{value:g} is no whole number", f"Write, as {key} = {usual}.")
        return usual
    return int(value)


def _words(form: Form | None) -> Words:
    if form is None:
        return Words()
    return dataclasses.replace(Words(), **{name: form.text(name) for name in WORDS if name in form})


def _tolerance(form: Form | None, inherited: Tolerance) -> Tolerance:
    if form is None:
        return inherited
    given: dict[str, Any] = {}
    for field in dataclasses.fields(Tolerance):
        value = form.number(field.name, example=f"{field.default}")
        if value is not None:
            given[field.name] = value
    return dataclasses.replace(inherited, **given)


def _stages(forms: list[Form], tolerance: Tolerance) -> tuple[Stage, ...]:
    stages: list[Stage] = []
    for form in forms:
        start_s = form.time_s("start", required=True)
        stage = Stage(
            name=form.text("name", required=True, example="bloom"),
            start_s=NOT_READ if start_s is None else start_s,
            to_g=form.needed("to_g", "45.0"),
            from_g=stages[-1].to_g if stages else 0.0,
            flow_g_s=form.number("flow_g_s"),
            duration_s=form.number("duration_s", example="10.0"),
            water_c=form.number("water_c", example="94.0"),
            tolerance=_tolerance(form.form("tolerance"), tolerance),
        )
        stages.append(stage)
    return tuple(stages)


def _shot(form: Form) -> Shot:
    window = form.window_s("time", '["0:25", "0:30"]', required=True)
    return Shot(
        yield_g=form.needed("yield_g", "36.0"),
        time_s=window or (NOT_READ, NOT_READ),
        first_drip_s=form.window_s("first_drip", '["0:05", "0:08"]'),
    )
