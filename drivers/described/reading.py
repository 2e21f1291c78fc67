"""Read a description file; find every mistake in it, not only the first."""

from __future__ import annotations

import re
from pathlib import Path as FilePath
from typing import get_args

from drivers.decoders.raw_sensors import COUNTS
from drivers.described.checking import impossible
from drivers.described.checksums import read_line_checksum
from drivers.described.description import Bits, Bluetooth, Description, Field, Kind, Lines, SerialLine
from drivers.described.form import DescriptionForm
from drivers.described.frames import WIDEST, read_frame, read_signed, read_unit
from drivers.described.mistakes import DescriptionError
from drivers.described.sensors import read_sensors
from drivers.errors import AddressError
from drivers.polling import Repeated
from drivers.toml_mistakes import Mistake, Remark, Slips, UnreadableTomlError, load_toml, placed, toml_text

_SLIPS: Slips = (
    (re.compile(r"=\s*0x\w+[\s,]+0x"), "Write bytes in brackets with commas, as [0xAA, 0x55]."),
    (re.compile(r'"[^"]*\\x'), r"In text write \u0002 instead of \x02, or a list of bytes, as [0x02, 0x52]."),
    (re.compile(r"=\s*[A-Za-z]"), 'Put words in quotes, as kind = "ble".'),
)
_LOWEST_EVERY_MS, _HIGHEST_EVERY_MS = 10.0, 86_400_000.0


def read_description(path: FilePath | str) -> Description:
    """Read a description file.

    :raises DescriptionError: with every mistake in it, each with its line
    :raises AddressError: when there is no such file or it may not be read
    """
    return described_by(_text_of(path), str(path))


def described_by(text: str, where: str) -> Description:
    """Read the text of a description.

    :param where: what it is called in messages
    :raises DescriptionError: with every mistake in it, each with its line
    """
    try:
        document, places = load_toml(text, where, _SLIPS)
    except UnreadableTomlError as error:
        raise DescriptionError(where, [error.mistake]) from error
    remarks: list[Remark] = []
    description = _description(DescriptionForm(document, (), "", remarks), where)
    remarks += _unsaid(impossible(description), remarks)
    if remarks:
        raise DescriptionError(where, (placed(remark, where, places) for remark in remarks))
    return description


def check_description(path: FilePath | str) -> tuple[Mistake, ...]:
    """Give every mistake in a description file, in the order of its lines; none where it can be used.

    :raises AddressError: when there is no such file or it may not be read
    """
    try:
        read_description(path)
    except DescriptionError as error:
        return error.mistakes
    return ()


def _unsaid(found: list[Remark], said: list[Remark]) -> list[Remark]:
    """Leave out what is about a table, or inside one, that was complained of while reading."""
    tables = {remark.path[:-1] or remark.path for remark in said}
    return [
        remark
        for remark in found
        if not any(remark.path[:size] in tables for size in range(1, len(remark.path) + 1))
    ]


def _text_of(path: FilePath | str) -> str:
    try:
        data = FilePath(path).read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise AddressError(
            str(path), f"the description cannot be read: {reason}", "Check the name."
        ) from error
    except ValueError as error:  # a name with a zero byte in it
        raise AddressError(repr(str(path)), "this is no file name", "Check the name.") from error
    try:
        return toml_text(data, str(path))
    except UnreadableTomlError as error:
        raise DescriptionError(str(path), [error.mistake]) from error


def _description(form: DescriptionForm, where: str) -> Description:
    kinds: tuple[Kind, ...] = get_args(Kind)
    kind = form.choice("kind", kinds, "serial-lines", required=True)
    _only_what_belongs(form, kind)
    ble, serial, lines = form.form("ble"), form.form("serial"), form.form("lines")
    return Description(
        path=where,
        name=form.text("name", required=True, example="bench scale"),
        kind=kind,
        bluetooth=_bluetooth(ble) if ble else None,
        serial=_serial(serial) if serial else None,
        frames=tuple(read_frame(each) for each in form.forms("frame")),
        lines=_lines(lines) if lines else None,
        sensors=read_sensors(form.forms("sensor")),
        start=form.commands("start"),
        keep_alive=_repeated(form.form("keep_alive"), "every_s", 1.0),
        poll=_repeated(form.form("poll"), "every_ms", 1000.0),
        tare=form.bytes_of("tare"),
    )


def _only_what_belongs(form: DescriptionForm, kind: Kind) -> None:
    belongs = {
        "ble": ("ble", "lines" if "lines" in form and "frame" not in form else "frame"),
        "serial-frames": ("serial", "frame"),
        "serial-lines": ("serial", "lines"),
    }
    if "kind" not in form:
        return
    for key in ("ble", "serial", "frame", "lines"):
        if key in form and key not in belongs[kind]:
            form.remark(key, f'a device of kind "{kind}" has none', "Take it out, or change kind.")
    for key in belongs[kind]:
        if form.value(key) in (None, []) and key != "serial":
            header = f"[[{key}]]" if key == "frame" else f"[{key}]"
            form.remark(key, "it is missing", f"Add {header} with its fields below it.")


def _bluetooth(form: DescriptionForm) -> Bluetooth:
    return Bluetooth(
        service=form.uuid("service"),
        notify=form.uuids("notify"),
        write=form.uuid("write"),
        response=form.flag("response", True),
        is_joined=form.flag("joined", False),
    )


def _serial(form: DescriptionForm) -> SerialLine:
    stopbits = form.number("stopbits", example="1")
    if stopbits not in (None, 1, 1.5, 2) and stopbits == stopbits:
        form.remark("stopbits", f"{stopbits:g} is not 1, 1.5 or 2", "Write stopbits = 1.")
    return SerialLine(
        baud=form.whole("baud", 50, 4_000_000, 9600) or 9600,
        bytesize=form.whole("bytesize", 5, 8, 8) or 8,
        parity=form.choice("parity", ("none", "even", "odd", "mark", "space"), "none"),
        stopbits=stopbits or 1,
    )


def _lines(form: DescriptionForm) -> Lines:
    if ("pattern" in form) == ("scpi" in form):
        both = "both are there" if "pattern" in form else "it is missing"
        form.remark("pattern", both, 'Write pattern = "weight,temperature", or scpi = "temperature".')
    quantity = form.choice("scpi", ("temperature", "weight"), "") if "scpi" in form else ""
    unit = read_unit(form, form.text("unit")) if "unit" in form else ""
    checksum = form.form("checksum")
    if checksum and "scpi" in form:
        form.remark("checksum", "such instruments send none", "Take it out, or write a pattern.")
    return Lines(
        pattern=form.text("pattern"),
        quantity=quantity,
        unit=unit or ("g" if quantity == "weight" else "°C"),
        checksum=read_line_checksum(checksum) if checksum else None,
        counts=_counts(form),
        minus=_minus(form),
    )


def _minus(form: DescriptionForm) -> str:
    """Read what the sign of a line is below nought: a word or a character, without blanks."""
    minus = form.text("minus") if "minus" in form else "-"
    if "minus" in form and (not minus or minus.split() != [minus]):
        form.remark(
            "minus", "it is one word or one character, without blanks", 'Write minus = "N", for instance.'
        )
    return minus


def _counts(form: DescriptionForm) -> Field | None:
    """Read how the counts of lines are written: as decimals, or as so many digits 0 to F."""
    is_hex = form.choice("encoding", ("ascii", "hex"), "ascii") == "hex"
    for key in ("encoding", "width", "signed"):
        if key in form and ("scpi" in form or not (is_hex or key == "encoding")):
            needs = "a pattern" if "scpi" in form else 'encoding = "hex"'
            form.remark(key, f"it means nothing without {needs}", "Take it out.")
    if not is_hex:
        return None
    width = form.whole("width", 1, WIDEST["hex"], required=True) or 1
    return Field(COUNTS, Bits(0, width), "hex", read_signed(form))


def _repeated(form: DescriptionForm | None, key: str, one_second: float) -> Repeated | None:
    if form is None:
        return None
    data = form.bytes_of("send", required=True)
    every = form.needed(key, f"{one_second / 2:g}")
    low, high = _LOWEST_EVERY_MS * one_second / 1000.0, _HIGHEST_EVERY_MS * one_second / 1000.0
    if every < low or every > high:
        remedy = f"Write {key} = {one_second / 2:g}, for instance: from {low:g} to {high:g}."
        form.remark(key, f"{every:g} is not possible", remedy)
    return Repeated(data, every / one_second)
