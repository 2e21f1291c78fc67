"""A capture as a file: one line of JSON for the device, then one for each arrival and each load.

.. code-block:: text

    {"evencup_capture": 1, "link": "ble", "quantity": "weight", "streams": [{"uuid": "9f4a...", ...}]}
    {"t": 0.512, "stream": 0, "data": "aa5500d204017c"}
    {"load": 100.0, "start": 12.5, "end": 19.0}
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

from drivers.errors import AddressError
from drivers.learn.captures.anonymous import anonymised
from drivers.learn.captures.capture import Arrival, Capture, Load, Stream, Written

VERSION = 1
_LONGEST_LINE = 1 << 20


class CaptureError(AddressError):
    """A file that is no capture, or a damaged one.

    :param where: the file, and the line
    """

    def __init__(
        self, where: str, what: str, remedy: str = "Record the capture again, or mend that line."
    ) -> None:
        super().__init__(where, what, remedy)


def write_capture(path: Path | str, capture: Capture, address: str = "") -> None:
    """Write a capture, anonymised.

    :param address: of the device, to be removed from the bytes too
    :raises OSError: when the disk refuses
    """
    capture = anonymised(capture, address)
    lines = [json.dumps(_head(capture))]
    timed: list[tuple[float, dict[str, object]]] = [
        (one.time_s, {"t": round(one.time_s, 6), "stream": one.stream, "data": one.data.hex()})
        for one in capture.arrivals
    ]
    timed += [
        (load.end_s, {"load": load.value, "start": round(load.start_s, 6), "end": round(load.end_s, 6)})
        for load in capture.bounded().loads
    ]
    timed.sort(key=lambda pair: pair[0])
    lines += [json.dumps(line) for _, line in timed]
    Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def _head(capture: Capture) -> dict[str, object]:
    head: dict[str, object] = {"evencup_capture": VERSION, "link": capture.link, "quantity": capture.quantity}
    head["streams"] = [
        {"uuid": one.uuid, "service": one.service, "properties": list(one.properties)}
        for one in capture.streams
    ]
    if capture.link == "serial":
        head |= {"baud": capture.baud, "parity": capture.parity, "bytesize": capture.bytesize}
    if capture.written:
        head["written"] = [
            {"data": one.data.hex(), "uuid": one.uuid, "every_s": one.every_s} for one in capture.written
        ]
    if capture.notes:
        head["notes"] = list(capture.notes)
    return head


def read_capture(path: Path | str) -> Capture:
    """Read a capture.

    :raises CaptureError: naming file, line and field of what is wrong
    """
    where = str(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CaptureError(where, f"the capture cannot be read: {reason}", "Check the name.") from error
    except (UnicodeDecodeError, ValueError) as error:
        raise CaptureError(
            where, "this is no text, and so no capture", "Name a file of evencup's."
        ) from error
    lines = text.split("\n")
    if lines and not lines[-1]:
        lines.pop()
    if not lines:
        raise CaptureError(where, "the file is empty", "Name a capture.")
    head = _Line(where, 1, lines[0])
    streams = _streams(head)
    arrivals, loads = [], []
    for number, written in enumerate(lines[1:], start=2):
        if not written.strip():
            continue
        if number == len(lines) and not text.endswith("\n") and not written.rstrip().endswith("}"):
            break  # cut off while it was written; all before it is whole
        line = _Line(where, number, written)
        if "load" in line.table:
            loads.append(_load(line))
        else:
            arrivals.append(_arrival(line, len(streams)))
    arrivals.sort(key=lambda one: one.time_s)
    loads.sort(key=lambda load: load.start_s)
    _check_apart(where, loads)
    return Capture(
        link=head.choice("link", ("ble", "serial")),  # type: ignore[arg-type]  # one of the two
        streams=streams,
        arrivals=tuple(arrivals),
        loads=tuple(loads),
        quantity=head.choice("quantity", ("weight", "temperature")),  # type: ignore[arg-type]  # one of the two
        written=_written(head),
        baud=int(head.number("baud", 9600.0)),
        parity=head.choice("parity", ("none", "even", "odd", "mark", "space"), "none"),
        bytesize=int(head.number("bytesize", 8.0)),
        notes=tuple(str(note) for note in head.listed("notes")),
    )


class _Line:
    """One line of a capture, read field by field."""

    def __init__(self, where: str, number: int, text: str) -> None:
        self._where = f"{where}, line {number}"
        try:
            table = json.loads(text) if len(text) < _LONGEST_LINE else None
        except (ValueError, RecursionError) as error:
            raise CaptureError(self._where, "this is no JSON") from error
        if not isinstance(table, dict):
            raise CaptureError(self._where, "this is no object in curly brackets")
        self.table: Mapping[str, Any] = table
        if number == 1:
            self._check_version()

    def _check_version(self) -> None:
        version = self.table.get("evencup_capture")
        if version is None:
            raise self.wrong(
                "evencup_capture", "it is missing: this is no capture", "Name a capture of evencup's."
            )
        if version != VERSION or isinstance(version, bool):
            raise self.wrong("evencup_capture", f"version {version!r} is not known", "Use a newer evencup.")

    def wrong(
        self, field: str, what: str, remedy: str = "Record the capture again, or mend it."
    ) -> CaptureError:
        """Make the error of a field."""
        return CaptureError(f"{self._where}, {field}", what, remedy)

    def number(self, field: str, default: float | None = None) -> float:
        value = self.table.get(field, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.wrong(field, f"{_shown(value)} is no number")
        return float(value)

    def whole(self, field: str, below: int) -> int:
        value = self.table.get(field)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < below:
            raise self.wrong(field, f"{_shown(value)} is not from 0 to {below - 1}")
        return value

    def text(self, field: str) -> str:
        value = self.table.get(field, "")
        if not isinstance(value, str):
            raise self.wrong(field, f"{_shown(value)} is no text")
        return value

    def data(self, field: str) -> bytes:
        try:
            return bytes.fromhex(self.text(field))
        except ValueError:
            raise self.wrong(field, f"{_shown(self.table.get(field))} are no bytes in hexadecimal") from None

    def choice(self, field: str, among: tuple[str, ...], default: str = "") -> str:
        value = self.table.get(field, default)
        if value not in among:
            raise self.wrong(field, f"{_shown(value)} is not known", f"It is one of {', '.join(among)}.")
        return str(value)

    def listed(self, field: str) -> list[Any]:
        value = self.table.get(field, [])
        if not isinstance(value, list):
            raise self.wrong(field, f"{_shown(value)} is no list")
        return value


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _streams(head: _Line) -> tuple[Stream, ...]:
    listed = head.listed("streams")
    if not listed or not all(isinstance(each, dict) for each in listed):
        raise head.wrong("streams", "there is none")
    found = []
    for each in listed:
        texts = [each.get("uuid", ""), each.get("service", "")]
        if not all(isinstance(text, str) for text in texts):
            raise head.wrong("streams", "a UUID is no text")
        properties = each.get("properties", [])
        known = tuple(str(one) for one in properties) if isinstance(properties, list) else ()
        found.append(Stream(texts[0].lower(), texts[1].lower(), known))
    return tuple(found)


def _written(head: _Line) -> tuple[Written, ...]:
    found = []
    for each in head.listed("written"):
        if not isinstance(each, dict):
            raise head.wrong("written", f"{_shown(each)} is no object")
        try:
            data = bytes.fromhex(str(each.get("data", "")))
        except ValueError:
            raise head.wrong("written", "data is no hexadecimal") from None
        every_s = each.get("every_s")
        if every_s is not None and (not isinstance(every_s, int | float) or not 0 < every_s < 86_400):
            raise head.wrong("written", f"every_s {_shown(every_s)} is no number of seconds")
        found.append(Written(data, str(each.get("uuid", "")).lower(), every_s))
    return tuple(found)


def _arrival(line: _Line, streams: int) -> Arrival:
    return Arrival(line.number("t"), line.whole("stream", streams), line.data("data"))


def _load(line: _Line) -> Load:
    end_s = line.number("end") if "end" in line.table else math.inf
    load = Load(line.number("load"), line.number("start"), end_s)
    if load.end_s <= load.start_s:
        raise line.wrong("end", "the load ends before it begins")
    return load


def _check_apart(where: str, loads: list[Load]) -> None:
    for one, other in pairwise(loads):
        if other.start_s < one.end_s - 1e-6 and one.end_s < math.inf:
            raise CaptureError(where, f"the loads {one.value:g} and {other.value:g} overlap in time")
