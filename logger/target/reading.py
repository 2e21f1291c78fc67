"""Read a target file that a brewer wrote by hand; find every mistake in it, not only the first."""

from __future__ import annotations

import dataclasses
import difflib
import re
import tomllib
from pathlib import Path as FilePath
from typing import Any, get_args

from logger.errors import BadInputError
from logger.target.checking import impossible
from logger.target.form import NOT_READ, Form
from logger.target.mistakes import Mistake, Remark, TargetError, placed
from logger.target.places import find_places
from logger.target.target import Method, Shot, Stage, Target, Tolerance

_AT = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_SAID_PLAINLY = {
    "Cannot overwrite a value": "this field stands in the file twice",
    "Cannot declare": "this table stands in the file twice",
    "Expected newline or end of document after a statement": "there is more on the line than one value",
    "Invalid value": "the value cannot be read",
    "Invalid statement": "this is no field and no table",
    "Expected '=' after a key in a key/value pair": "there is no = after the name",
    "Unterminated string": "the closing quotes are missing",
    "Unclosed array": "the closing ] is missing",
}
_SLIPS = (
    (re.compile(r"[“”„‘’«»]"), 'Use straight quotes: "...".'),
    (re.compile(r"=\s*\d+:\d"), 'Put times in quotes, as start = "0:45".'),
    (re.compile(r"=\s*\d+,\d"), "Write decimals with a point, as 15.5."),
    (re.compile(r"=\s*[\d.]+\s*[A-Za-z°%]"), "Write the number alone: the unit is in the field's name."),
    (re.compile(r"=\s*[A-Za-z]"), 'Put words in quotes, as method = "pour-over".'),
    (re.compile(r"=\s*(#.*)?$"), "Write a value after the =, or take the line out."),
)
_ANY_LINE = "Write each line as name = value, with words and times in quotes."


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
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"the byte {data[error.start]:#04x} is not UTF-8 text"
        raise TargetError(
            str(path), [Mistake(str(path), line, "", what, "Save the file as UTF-8.")]
        ) from error
    return parse_target(text, str(path))


def parse_target(text: str, where: str) -> Target:
    """Read a target from its text.

    :param text: TOML, as written
    :param where: the file, for messages
    :raises TargetError: with every mistake in it, each with its line
    """
    try:
        document = tomllib.loads(text)
        places = find_places(text)
    except tomllib.TOMLDecodeError as error:
        raise TargetError(where, [_syntax_mistake(text, where, str(error))]) from error
    except RecursionError:
        mistake = Mistake(where, 1, "", "brackets inside brackets, too deep to follow", _ANY_LINE)
        raise TargetError(where, [mistake]) from None
    except ValueError as error:  # an integer of thousands of digits
        mistake = Mistake(
            where, 1, "", "a number in this file is too long", "Look for one with thousands of digits."
        )
        raise TargetError(where, [mistake]) from error
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
        method=_method(form),
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
    )


def _method(form: Form) -> Method:
    methods: tuple[Method, ...] = get_args(Method)
    said = form.text("method", required=True, example="pour-over")
    for method in methods:
        if said == method:
            return method
    if said.strip():
        near = difflib.get_close_matches(said.lower(), methods, n=1)
        names = " or ".join(f'"{method}"' for method in near or methods)
        form.remark("method", f"{said[:40]!r} is no method that is known here", f"Write {names}.")
    return "pour-over"


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


def _syntax_mistake(text: str, where: str, message: str) -> Mistake:
    """What the TOML reader stumbled over, in the brewer's words."""
    lines = text.split("\n")
    at = _AT.search(message)
    line = int(at[1]) if at and at[1] else max(len(text.rstrip().split("\n")), 1)
    said = message[: at.start()] if at else message
    what = next((plain for start, plain in _SAID_PLAINLY.items() if said.startswith(start)), "")
    written = lines[line - 1] if line <= len(lines) else ""
    key = re.match(r"\s*([A-Za-z0-9_-]+)\s*=", written)
    remedy = next((remedy for slip, remedy in _SLIPS if slip.search(written)), _ANY_LINE)
    if what.endswith("twice"):
        remedy = "Keep one of the two."
    return Mistake(
        where, line, key[1] if key else "", what or f"not TOML: {said[:1].lower()}{said[1:]}", remedy
    )
