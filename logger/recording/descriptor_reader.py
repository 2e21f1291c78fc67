"""Reads a recording's descriptor, and says which key of which file is wrong."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NoReturn

from logger.errors import BadInputError
from logger.recording.descriptor import SAMPLING, Descriptor, Meta
from logger.recording.disk import unreadable
from logger.recording.journal import READINGS


def read_descriptor(path: Path) -> Descriptor:
    """Read a descriptor; keys that evencup does not know are passed over.

    :param path: the ``datapackage.json``
    :raises BadInputError: naming the file and the line or key that cannot be used
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise unreadable(path, error) from error
    return parse_descriptor(path, data)


def parse_descriptor(path: Path, data: bytes) -> Descriptor:
    """Read the JSON of a descriptor.

    :param path: where it stands, for the message
    :raises BadInputError: naming the line or key that cannot be used
    """
    try:
        package = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        _refuse(path, f"is not UTF-8 text (byte {error.start})")
    except json.JSONDecodeError as error:
        _refuse(f"{path}, line {error.lineno}", f"is not JSON: {error.msg}")
    except (ValueError, RecursionError):
        _refuse(path, "is not a descriptor: a number in it is too long, or it is nested too deeply")
    return _Reader(path).descriptor(package)


def _refuse(where: Path | str, what: str) -> NoReturn:
    raise BadInputError(
        str(where), what, "The readings can be kept: evencup export --salvage leaves out what cannot be read."
    )


class _Reader:
    """Takes a package apart, and says which key of which file is wrong."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def descriptor(self, package: Any) -> Descriptor:
        package = self._object(package, "the file")
        readings, sampling = self._resource(package, READINGS), self._resource(package, SAMPLING)
        return Descriptor(
            self._meta(package),
            *self._fingerprint(readings or {}),
            None if sampling is None else self._fingerprint(sampling),
        )

    def _fingerprint(self, resource: dict[str, Any]) -> tuple[int | None, str | None]:
        size = resource.get("bytes")
        if size is not None and (isinstance(size, bool) or not isinstance(size, int)):
            self._wrong("resources.bytes", size, "a whole number")
        return size, self._text(resource, "hash", "resources.") or None

    def _meta(self, package: dict[str, Any]) -> Meta:
        brew = self._object(package.get("brew"), "brew")
        return Meta(
            title=self._text(package, "title"),
            started=self._moment(package),
            coffee=self._text(brew, "coffee", "brew."),
            dose_g=self._number(brew.get("dose_g"), "brew.dose_g"),
            grind=self._text(brew, "grind", "brew."),
            notes=self._text(brew, "notes", "brew."),
            target_text=self._text(brew, "target_text", "brew."),
            target_name=self._text(brew, "target_name", "brew."),
            boils_c=self._number(brew.get("boils_c"), "brew.boils_c"),
            devices=self._devices(package),
            software=self._software(package),
            complete=self._complete(package),
            ended=self._text(package, "ended"),
            marks=self._marks(package),
            counters=self._counters(package),
            imported=self._object(package.get("imported"), "imported"),
        )

    def _resource(self, package: dict[str, Any], path: str) -> dict[str, Any] | None:
        for resource in self._list(package, "resources"):
            if isinstance(resource, dict) and resource.get("path") == path:
                return resource
        return None

    def _moment(self, package: dict[str, Any]) -> datetime | None:
        text = self._text(self._object(package.get("clock"), "clock"), "started", "clock.")
        if not text:
            return None
        try:
            moment = datetime.fromisoformat(text)
            return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
        except (ValueError, OverflowError):
            self._wrong("clock.started", text, "a date and time such as 2026-11-25T07:30:00Z")

    def _software(self, package: dict[str, Any]) -> str:
        software = self._object(package.get("software"), "software")
        return " ".join(
            part for key in ("name", "version") if (part := self._text(software, key, "software."))
        )

    def _devices(self, package: dict[str, Any]) -> tuple[dict[str, Any], ...]:
        devices = self._list(package, "devices")
        return tuple(self._object(device, f"devices[{n}]") for n, device in enumerate(devices))

    def _complete(self, package: dict[str, Any]) -> bool:
        complete = package.get("complete", False)
        if not isinstance(complete, bool):
            self._wrong("complete", complete, "true or false")
        return complete

    def _marks(self, package: dict[str, Any]) -> dict[str, float]:
        marks = self._object(package.get("marks"), "marks")
        numbers = {name: self._number(value, f"marks.{name}") for name, value in marks.items()}
        return {name: number for name, number in numbers.items() if number is not None}

    def _counters(self, package: dict[str, Any]) -> dict[str, int]:
        counters = self._object(package.get("counters"), "counters")
        for name, value in counters.items():
            if isinstance(value, bool) or not isinstance(value, int):
                self._wrong(f"counters.{name}", value, "a whole number")
        return counters

    def _object(self, value: Any, key: str) -> dict[str, Any]:
        if value is None:
            return {}
        if not isinstance(value, dict):
            self._wrong(key, value, "an object, {...}")
        return value

    def _list(self, package: dict[str, Any], key: str) -> list[Any]:
        value = package.get(key)
        if value is None:
            return []
        if not isinstance(value, list):
            self._wrong(key, value, "a list, [...]")
        return value

    def _text(self, package: dict[str, Any], key: str, within: str = "") -> str:
        value = package.get(key)
        if value is None:
            return ""
        if not isinstance(value, str):
            self._wrong(f"{within}{key}", value, "text")
        return value

    def _number(self, value: Any, key: str) -> float | None:
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
            self._wrong(key, value, "a number")
        return float(value)

    def _wrong(self, key: str, value: Any, wanted: str) -> NoReturn:
        shown = repr(value) if len(repr(value)) <= 60 else f"{repr(value)[:60]}..."
        _refuse(self._path, f"{key} is {shown}, which is not {wanted}")


def _is_finite(value: int | float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:
        return False
