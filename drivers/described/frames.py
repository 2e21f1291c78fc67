"""The frames of a description: how they are found, how they are checked, what is in them."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import cast, get_args

from drivers.decoders.byte_orders import WORD_ORDERS
from drivers.decoders.units import UNITS, unit_named
from drivers.described.checksums import read_checksum
from drivers.described.description import (
    LONGEST_FRAME,
    Bits,
    Encoding,
    Field,
    Frame,
    LengthField,
    Sign,
    Signed,
    UnitCode,
)
from drivers.described.form import DescriptionForm
from drivers.reading import Status, is_channel_name

MEASURED = ("weight", "temperature", "counts", "thermocouple_mv", "rtd_ohm", "thermistor_ohm")
NUMBERS = (*MEASURED, "cold_c", "battery_percent", "device_time")
HOLDS = (*NUMBERS, "stable", "status")

TIME_UNITS = ("s", "ms")

_STATUSES = {status.value: status for status in Status if status not in (Status.UNKNOWN, Status.LOST)}
WIDEST = {"integer": 8, "bcd": 8, "digits": 16, "ascii": 24, "hex": 16, "float": 8}
"""Bytes that a number of each encoding takes at most."""

_LARGEST = 1e12


def read_frame(form: DescriptionForm) -> Frame:
    """Read a ``[[frame]]``; what cannot be read is left out and remarked upon."""
    length_form, checksum_form = form.form("length_field"), form.form("checksum")
    fields = tuple(_field(each) for each in form.forms("field"))
    if not fields and "field" not in form:
        remedy = 'Add [[frame.field]] with holds = "weight", offset = 3 and so on.'
        form.remark("field", "it is missing: nothing is read from this frame", remedy)
    return Frame(
        name=form.text("name"),
        header=form.header("header"),
        fields=fields,
        length=form.whole("length", 1, LONGEST_FRAME),
        length_field=_length_field(length_form) if length_form else None,
        terminator=form.bytes_of("terminator"),
        longest=form.whole("longest", 1, LONGEST_FRAME, LONGEST_FRAME) or LONGEST_FRAME,
        checksum=read_checksum(checksum_form) if checksum_form else None,
        characteristic=form.uuid("characteristic"),
    )


def _length_field(form: DescriptionForm) -> LengthField:
    return LengthField(form.bits(2) or _NOWHERE, form.whole("adds", -LONGEST_FRAME, LONGEST_FRAME, 0) or 0)


_NOWHERE = Bits(0)


def _field(form: DescriptionForm) -> Field:
    holds = form.choice("holds", HOLDS, "weight", required=True)
    _only_what_goes_with(form, holds)
    encoding = cast(Encoding, form.choice("encoding", get_args(Encoding), "integer"))
    bits = form.bits(WIDEST[encoding], ordered=encoding not in ("ascii", "hex"))
    sign_form, decimals_form = form.form("sign"), form.form("decimals")
    field = Field(
        holds=holds,
        bits=bits or _NOWHERE,
        encoding=encoding,
        signed=read_signed(form),
        sign=_sign(sign_form) if sign_form else None,
        scale=_fraction(form, "scale", Fraction(1)),
        zero=_fraction(form, "zero", Fraction(0)),
        is_swapped=form.choice("nibbles", ("high-first", "low-first"), "high-first") == "low-first",
        decimals=decimals_form.bits(1) if decimals_form else None,
        unit=_unit_of(form, holds),
        channel=_channel(form),
        step=_step(form),
        no_value=form.codes("no_value"),
        statuses=form.mapping("values", bits, _STATUSES.get, _STATUSES) if holds == "status" else {},
        stable_when=form.codes("when"),
    )
    _check_number(form, field)
    return field


_ONLY: dict[str, Callable[[str], bool]] = {
    "channel": lambda holds: holds in MEASURED,
    "step": lambda holds: holds in MEASURED,
    "unit": lambda holds: holds in ("weight", "temperature", "device_time"),
    "values": lambda holds: holds == "status",
    "when": lambda holds: holds == "stable",
    **dict.fromkeys(
        ("encoding", "nibbles", "signed", "sign", "scale", "zero", "decimals", "no_value"),
        NUMBERS.__contains__,
    ),
}


def _only_what_goes_with(form: DescriptionForm, holds: str) -> None:
    for key, goes in _ONLY.items():
        if key in form and not goes(holds):
            form.remark(key, f"it means nothing for {holds}", "Take it out.")


def _check_number(form: DescriptionForm, field: Field) -> None:
    if field.signed and (field.sign or field.encoding not in ("integer", "hex")):
        what = "it goes with a plain integer that has no sign of its own"
        form.remark("signed", what, 'Keep one of signed and sign, or write encoding = "integer".')
    if field.encoding == "float" and field.bits.width not in (2, 4, 8) and "offset" in form:
        form.remark("width", f"no float has {field.bits.width} bytes", "Write width = 2, 4 or 8.")
    if field.encoding == "digits" and field.bits.order in WORD_ORDERS:
        what = "digits of a byte each stand in no words"
        form.remark("order", what, 'Write order = "big" or order = "little".')
    if "nibbles" in form and field.encoding != "bcd":
        form.remark("nibbles", 'it means nothing without encoding = "bcd"', "Take it out.")
    if field.encoding in ("digits", "hex", "ascii", "float") and (field.bits.mask or field.no_value):
        key = "mask" if field.bits.mask else "no_value"
        form.remark(key, f'it means nothing with encoding = "{field.encoding}"', "Take it out.")
    mask = field.bits.mask >> field.bits.shift
    if field.holds in NUMBERS and mask & (mask + 1):
        form.remark("mask", f"the bits of {field.bits.mask:#x} are not side by side", "Use two fields.")
    if field.scale == 0:
        form.remark("scale", "everything would be 0", "Write what one step stands for, as scale = 0.1.")


def read_signed(form: DescriptionForm) -> Signed:
    """Read how a number says that it is below zero; empty where it never is."""
    return cast(Signed, form.choice("signed", tuple(filter(None, get_args(Signed))), ""))


def _sign(form: DescriptionForm) -> Sign:
    bits = form.bits(2) or _NOWHERE
    return Sign(bits, form.codes("negative", required=True), form.codes("positive"))


def _fraction(form: DescriptionForm, key: str, default: Fraction) -> Fraction:
    """Read a decimal as it is written: 0.1 is one tenth, not the binary fraction next to it."""
    value = form.number(key, example=f"{float(default):g}")
    if value is None or value != value:
        return default
    if abs(value) > _LARGEST or 0 < abs(value) < 1 / _LARGEST:
        form.remark(
            key, f"{value:g} is out of all proportion", f"Write {key} = {float(default):g}, for instance."
        )
        return default
    return Fraction(repr(value))


def _channel(form: DescriptionForm) -> str | None:
    channel = form.text("channel")
    if channel and not is_channel_name(channel):
        remedy = "A name has letters, digits, - and _, at most 32."
        form.remark("channel", f"{channel[:40]!r} is no name for a channel", remedy)
    return channel or None


def _step(form: DescriptionForm) -> float | None:
    step = form.number("step", example="0.1")
    if step is not None and step <= 0:
        form.remark("step", "a step is more than 0", "Write the step of the display in g or °C.")
    return step


def _unit_of(form: DescriptionForm, holds: str) -> str | UnitCode:
    """Read a unit, or the table that says where the device writes its unit."""
    if holds not in ("weight", "temperature", "device_time"):
        return ""
    if isinstance(form.value("unit"), dict):
        code = form.form("unit")
        bits = code.bits(8) if code else None
        units = code.mapping("values", bits, unit_named, UNITS) if code else {}
        return UnitCode(bits or _NOWHERE, units)
    names = TIME_UNITS if holds == "device_time" else tuple(UNITS)
    said = form.text("unit", required=True, example=names[0])
    return read_unit(form, said) if holds != "device_time" else form.choice("unit", TIME_UNITS, "s")


def read_unit(form: DescriptionForm, said: str) -> str:
    """Understand the name of a unit; empty where there is no such unit."""
    unit = unit_named(said)
    if said.strip() and unit is None:
        form.remark("unit", f"{said[:20]!r} is no unit known here", f"Write one of {', '.join(UNITS)}.")
    return unit or ""
