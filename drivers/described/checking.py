"""Descriptions that can be read and fit no device: fields outside the frame, frames that nobody finds."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, zip_longest

from drivers.decoders.lines import LONGEST_LINE
from drivers.decoders.pattern_lines import PatternLines
from drivers.decoders.pattern_words import SIGN, PatternError
from drivers.decoders.raw_sensors import COLD_C, COUNTS, RAW_WORDS, THERMOCOUPLE_MV, SensorSet
from drivers.decoders.units import UNITS, units_of
from drivers.described.description import (
    Bits,
    Checksum,
    Description,
    Field,
    Frame,
    Kind,
    UnitCode,
    quantity_of,
)
from drivers.reading import CELSIUS, GRAM
from drivers.toml_mistakes import Remark
from drivers.toml_places import Path

_ONCE = ("stable", "status", "device_time", "battery_percent", COLD_C)


def impossible(description: Description) -> list[Remark]:
    """Give all that makes a description one that no device can be read by."""
    remarks: list[Remark] = []
    for number, frame in enumerate(description.frames):
        remarks += _of_frame(frame, ("frame", number), description)
    remarks += _of_headers(description)
    remarks += _of_lines(description)
    remarks += _of_writing(description)
    measured = (quantity_of(field.holds) for frame in description.frames for field in frame.fields)
    if description.frames and not any(measured):
        what = "no frame holds a weight or a temperature"
        remarks.append(Remark(("frame", 0, "field"), what, 'Give a field holds = "weight".'))
    return remarks


def _of_frame(frame: Frame, path: Path, description: Description) -> list[Remark]:
    remarks = [*_of_ends(frame, path, description.kind), *_of_checksum(frame, path)]
    remarks += _of_characteristic(frame, path, description)
    if frame.length_field is not None:
        remarks += _of_bits(frame.length_field.bits, frame, (*path, "length_field"))
        if frame.length_field.bits.offset < 0:
            what = "it cannot be counted from an end that it is needed to find"
            remarks.append(Remark((*path, "length_field", "offset"), what, "Count it from the beginning."))
    for number, field in enumerate(frame.fields):
        remarks += _of_field(field, frame, (*path, "field", number), description.sensors)
    return remarks + _of_repetition(frame, path)


def _of_ends(frame: Frame, path: Path, kind: Kind) -> list[Remark]:
    """Say what keeps a frame from being found in a stream of bytes."""
    remarks = []
    if frame.length is not None and frame.length_field is not None:
        what = "a frame of one length needs no word about its length"
        remarks.append(Remark((*path, "length_field"), what, "Keep one of length and length_field."))
    if frame.length is not None and frame.length < len(frame.header) + len(frame.terminator):
        what = f"header and terminator alone are longer than {frame.length} bytes"
        remarks.append(Remark((*path, "length"), what, "Write the length of the whole frame."))
    if frame.length is None and frame.longest < frame.least_length:
        what = f"its fields alone take {frame.least_length} bytes"
        remarks.append(Remark((*path, "longest"), what, "Write the length of the longest frame."))
    if kind != "serial-frames":
        return remarks
    if frame.is_unmarked and not (frame.terminator and frame.length) and not frame.is_told_by_check:
        what = "nothing tells where a frame begins"
        remedy = (
            "Write the header, as [0xAA, 0x55]; or, where there is none, length and terminator or checksum."
        )
        remarks.append(Remark((*path, "header"), what, remedy))
    if frame.length is None and frame.length_field is None and not frame.terminator:
        what, remedy = "nothing tells where a frame ends", "Write length, length_field or terminator."
        remarks.append(Remark((*path, "length"), what, remedy))
    return remarks


def _of_characteristic(frame: Frame, path: Path, description: Description) -> list[Remark]:
    known = description.bluetooth.notify if description.bluetooth else ()
    if not frame.characteristic or frame.characteristic in known:
        return []
    remedy = "Write it under [ble] notify as well, or take it out."
    return [Remark((*path, "characteristic"), "nobody subscribes to it", remedy)]


def _of_checksum(frame: Frame, path: Path) -> list[Remark]:
    checksum, path = frame.checksum, (*path, "checksum")
    if checksum is None:
        return []
    remarks = _of_place(checksum.at, checksum.width, frame, path, "at")
    length = frame.length or frame.least_length
    last = length if checksum.stop is None else checksum.stop
    start, stop = (at + length if at < 0 else at for at in (checksum.start, last))
    same_side = frame.length is not None or (checksum.start < 0) == (last < 0)
    if same_side and start >= stop:
        what = "it covers nothing"
        remarks.append(
            Remark((*path, "from"), what, "from is the first byte covered, to the first not covered.")
        )
    elif not remarks and _overlap(checksum, start, stop, length):
        what, remedy = "it covers itself", "to is the first byte that it does not cover any more."
        remarks.append(Remark((*path, "to"), what, remedy))
    return remarks


def _overlap(checksum: Checksum, start: int, stop: int, length: int) -> bool:
    at = checksum.at + length if checksum.at < 0 else checksum.at
    return start < at + checksum.width and at < stop


def _of_bits(bits: Bits, frame: Frame, path: Path) -> list[Remark]:
    return _of_place(bits.offset, bits.width, frame, path, "offset")


def _of_place(offset: int, width: int, frame: Frame, path: Path, key: str) -> list[Remark]:
    """Say that something does not fit into its frame."""
    longest = frame.length or frame.longest
    if 0 <= offset <= longest - width or (offset < 0 and width <= -offset <= longest):
        return []
    what = f"{width} byte{'s' * (width > 1)} at {offset} are not within a frame of {longest}"
    remedy = "Offsets count from 0 at the first byte, or from -1 at the last."
    return [Remark((*path, key), what, remedy)]


def _of_field(field: Field, frame: Frame, path: Path, sensors: SensorSet) -> list[Remark]:
    remarks = _of_bits(field.bits, frame, path)
    if field.sign is not None:
        remarks += _of_bits(field.sign.bits, frame, (*path, "sign"))
    if field.decimals is not None:
        remarks += _of_bits(field.decimals, frame, (*path, "decimals"))
    if isinstance(field.unit, UnitCode):
        remarks += _of_bits(field.unit.bits, frame, (*path, "unit"))
    if not remarks and frame.checksum is not None and _on_checksum(field.bits, frame.checksum, frame):
        remarks.append(Remark((*path, "offset"), "that is where the checksum stands", "Correct one of them."))
    return [*remarks, *_of_unit(field, path), *_of_sensor(field, frame, path, sensors)]


def _on_checksum(bits: Bits, checksum: Checksum, frame: Frame) -> bool:
    if frame.length is None and (bits.offset < 0) != (checksum.at < 0):
        return False
    if _of_place(checksum.at, checksum.width, frame, (), ""):
        return False
    length = frame.length or frame.longest
    one = bits.offset % length
    other = checksum.at % length
    return one < other + checksum.width and other < one + bits.width


def _of_unit(field: Field, path: Path) -> list[Remark]:
    if field.holds not in ("weight", "temperature"):
        return []
    quantity = GRAM if field.holds == "weight" else CELSIUS
    names = field.unit.units.values() if isinstance(field.unit, UnitCode) else (field.unit,)
    wrong = [name for name in names if name in UNITS and UNITS[name].unit != quantity]
    if not wrong:
        return []
    what = f"{wrong[0]} is no unit of a {field.holds}"
    return [Remark((*path, "unit"), what, f"Write one of {', '.join(units_of(quantity))}.")]


def _of_sensor(field: Field, frame: Frame, path: Path, sensors: SensorSet) -> list[Remark]:
    if field.holds not in RAW_WORDS:
        return []
    has_cold = any(other.holds == COLD_C for other in frame.fields)
    sensor = sensors.of(field.channel)
    missing = sensor.missing(field.holds, has_cold)
    if missing is not None:
        name, _, value = missing[1].partition("=")
        value = f'"{value}"' if value[0].isalpha() else f"[{value}]" if "," in value else value
        remedy = f"Add [[sensor]] with {name} = {value}, for instance."
        return [Remark((*path, "holds"), missing[0], remedy)]
    try:
        sensor.converter(field.holds)
    except ValueError as error:
        return [Remark((*path, "holds"), str(error), "Correct the [[sensor]].")]
    return []


def _of_repetition(frame: Frame, path: Path) -> list[Remark]:
    """Say what a frame may hold only once."""
    remarks, seen = [], Counter[str]()
    for number, field in enumerate(frame.fields):
        quantity = quantity_of(field.holds)
        name = field.channel or (f"a {quantity} without a name" if quantity else field.holds)
        seen[name] += 1
        if seen[name] < 2 or not (quantity or field.holds in _ONCE):
            continue
        if quantity and not field.channel:
            what, remedy = f"another field is {name} too", 'Give each its own: channel = "server".'
            remarks.append(Remark((*path, "field", number, "channel"), what, remedy))
        else:
            what = f"another field is {name} too"
            key = "channel" if quantity else "holds"
            remarks.append(Remark((*path, "field", number, key), what, "Keep one of them."))
    if seen["stable"] and seen["status"]:
        what, remedy = "the frame has both stable and status", "Keep one of them."
        remarks.append(Remark((*path, "field"), what, remedy))
    if seen[COLD_C] and not any(field.holds == THERMOCOUPLE_MV for field in frame.fields):
        what = "there is no thermocouple in this frame that it belongs to"
        at = next(number for number, field in enumerate(frame.fields) if field.holds == COLD_C)
        remarks.append(Remark((*path, "field", at, "holds"), what, 'Write holds = "temperature".'))
    return remarks


def _of_headers(description: Description) -> list[Remark]:
    """Say which two kinds of frames cannot be told apart."""
    remarks = []
    for (_, one), (number, other) in combinations(enumerate(description.frames), 2):
        if one.characteristic != other.characteristic and one.characteristic and other.characteristic:
            continue
        pairs = zip_longest(one.header, other.header)
        if all(None in pair or pair[0] == pair[1] for pair in pairs):
            what = "another frame may begin like this"
            remedy = "Lengthen the headers up to a byte that differs."
            remarks.append(Remark(("frame", number, "header"), what, remedy))
    return remarks


def _of_lines(description: Description) -> list[Remark]:
    if description.lines is None:
        return []
    pattern, unit = description.lines.pattern, description.lines.unit
    line = Frame("", (), (), longest=LONGEST_LINE, checksum=description.lines.checksum)
    remarks = _of_checksum(line, ("lines",))
    if not pattern and description.kind == "ble":
        what = "over Bluetooth, lines are read by a pattern"
        return [Remark(("lines", "pattern"), what, 'Write pattern = "weight", for instance.')]
    if not pattern:
        quantity = GRAM if description.lines.quantity == "weight" else CELSIUS
        if unit in UNITS and UNITS[unit].unit != quantity:
            what = f"{unit} is no unit of a {description.lines.quantity}"
            return [Remark(("lines", "unit"), what, f"Write one of {', '.join(units_of(quantity))}.")]
        return []
    try:
        lines = PatternLines(pattern, sensors=description.sensors)
    except PatternError as error:
        what = f"the pattern is wrong at character {error.position}: {error.what}"
        remedy = "A pattern looks like time_ms;kettle:temperature_c."
        return [*remarks, Remark(("lines", "pattern"), what, remedy)]
    if description.lines.counts is not None and not any(
        field.kind.sensor == COUNTS for field in lines.pattern.fields
    ):
        what = "it is said of counts, and there are none in the pattern"
        remarks.append(Remark(("lines", "encoding"), what, "Write counts for the number in the pattern."))
    if description.lines.minus != "-" and not any(field.kind.unit == SIGN for field in lines.pattern.fields):
        what = "it is said of a sign, and there is none in the pattern"
        remarks.append(Remark(("lines", "minus"), what, "Write sign where it stands in the pattern."))
    if description.lines.counts is not None and any(
        field.kind.unit == SIGN for field in lines.pattern.fields
    ):
        what = "counts in digits 0 to F have their sign among them"
        remarks.append(Remark(("lines", "pattern"), what, "Write _ for the other column."))
    return remarks


def _of_writing(description: Description) -> list[Remark]:
    bluetooth = description.bluetooth
    if bluetooth is None or bluetooth.write:
        return []
    written = {
        "start": description.start,
        "tare": description.tare,
        "keep_alive": description.keep_alive,
        "poll": description.poll,
    }
    remedy = "Write the characteristic that commands are written to: write = ..."
    what = "it is missing, and the description has commands"
    return [Remark(("ble", "write"), what, remedy)] if any(written.values()) else []
