"""The description of a device that sends lines, written as TOML."""

from __future__ import annotations

from drivers.decoders.pattern_words import FIELDS
from drivers.decoders.raw_sensors import COUNTS
from drivers.learn.captures.capture import Capture
from drivers.learn.description.line_patterns import pattern_of
from drivers.learn.description.writing import checksum_lines, opening
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.number import Number
from drivers.learn.numbers.scales import shown
from drivers.learn.packets.line_makes import LineMake

_FIELD_OF = {"g": "weight_g", "kg": "weight_kg", "oz": "weight_oz", "lb": "weight_lb", "°C": "temperature_c",
             "°F": "temperature_f", "K": "temperature_k"}  # fmt: skip


def lines_toml(name: str, capture: Capture, one: Fit, make: LineMake, *, is_joined: bool) -> str:
    """Write the description of a device that sends lines."""
    field, sensor = _counts_of(one) if make.is_hex else _meaning(one)
    pattern = pattern_of(make, field).replace("\\", "\\\\").replace('"', '\\"')
    more = _hex_lines(one.number) if make.is_hex else _minus_lines(make)
    parts = [
        *opening(name, capture, one, "serial-lines", is_joined=is_joined),
        "\n".join([f'[lines]\npattern = "{pattern}"', *more]),
    ]
    if make.check is not None:
        parts.append("\n".join(checksum_lines("lines", make.check)))
    return "\n\n".join([*parts, *sensor]) + "\n"


def _meaning(one: Fit) -> tuple[str, list[str]]:
    """Give the field's word, and the sensor where it is no plain weight."""
    scale = one.scale
    if scale is not None and one.zero_kind == "none":
        if scale.scale == 1 and _FIELD_OF.get(scale.unit) in FIELDS:
            return _FIELD_OF[scale.unit], []
        if scale.unit == "g" and scale.scale * 1000 == 1:
            return "weight_mg", []
    return _counts_of(one)


def _counts_of(one: Fit) -> tuple[str, list[str]]:
    per_unit = shown(one.per_unit, one.slope_error if one.scale is None else 0.0)
    return COUNTS, [f"[[sensor]]\nzero = {float(one.zero):.9g}\ncounts_per_g = {float(per_unit):.12g}"]


def _minus_lines(make: LineMake) -> list[str]:
    """Write what a sign in a column of its own is below nought."""
    minus = make.sign[1].decode("latin-1") if make.sign is not None else "-"
    escaped = minus.replace("\\", "\\\\").replace('"', '\\"')
    return [] if minus == "-" else [f'minus = "{escaped}"']


def _hex_lines(number: Number) -> list[str]:
    """Write how digits 0 to F are read."""
    signed = [f'signed = "{number.signed}"'] if number.signed else []
    return ['encoding = "hex"', f"width = {number.width}", *signed]
