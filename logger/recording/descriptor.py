"""The descriptor of a recording: ``datapackage.json``, by the open Data Package standard, version 2.

What the standard has a place for stands there (title, file, fields, size, hash); what only a brew has
(coffee, dose, target, devices) stands in properties of evencup's own, which the standard allows.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from drivers.reading import CELSIUS, GRAM, JOURNAL_HEADER, Status
from logger.recording.disk import replacing
from logger.recording.journal import READINGS
from logger.version import VERSION

DESCRIPTOR = "datapackage.json"
PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
SOFTWARE = f"evencup {VERSION}"

SAMPLING = "sampling.csv"
SAMPLING_FIELD = "sampled_s"
SAMPLING_WORDS = (
    "When the reading on the same line of readings.csv was taken, worked out from when it arrived; "
    "since the recording's first reading."
)

_FIELDS: dict[str, dict[str, Any]] = {
    "time_s": {
        "type": "number",
        "unit": "s",
        "description": "When the reading arrived, since the recording's first reading.",
        "constraints": {"required": True},
    },
    "channel": {
        "type": "string",
        "description": "What is measured: scale, server, kettle ...",
        "constraints": {"required": True},
    },
    "value": {
        "type": "number",
        "description": "Weight or temperature, in the unit of the next field; empty where there is none.",
    },
    "unit": {
        "type": "string",
        "description": "g for weight, °C for temperature.",
        "constraints": {"required": True, "enum": [GRAM, CELSIUS]},
    },
    "status": {
        "type": "string",
        "description": "What the device says of the value; empty where it says nothing.",
        "constraints": {"enum": [status.value for status in Status if status.value]},
    },
    "device_time_s": {
        "type": "number",
        "unit": "s",
        "description": "The device's own clock; empty where it has none.",
    },
}


@dataclass(frozen=True, slots=True)
class Meta:
    """What is known about a brew besides its readings.

    :param started: the wall clock at the recording's time zero, UTC; None where nobody knows
    :param target_text: the target file as it was written, or ""
    :param boils_c: at which temperature water boiled where it was brewed; None where nobody said
    :param devices: of each device its address and what its driver has to say
    :param software: what wrote the recording: ``evencup 0.1.0``
    :param complete: whether the recording was closed
    :param ended: why it ended, or ""
    :param marks: moments that somebody named, in seconds on the recording's time axis
    :param counters: what was counted: ``readings.scale``, ``lost.scale``, ...
    :param imported: where it came from and what was guessed, for a recording made from a CSV
    """

    title: str = ""
    started: datetime | None = None
    coffee: str = ""
    dose_g: float | None = None
    grind: str = ""
    notes: str = ""
    target_text: str = ""
    target_name: str = ""
    boils_c: float | None = None
    devices: tuple[dict[str, Any], ...] = ()
    software: str = SOFTWARE
    complete: bool = False
    ended: str = ""
    marks: dict[str, float] = field(default_factory=dict)
    counters: dict[str, int] = field(default_factory=dict)
    imported: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Descriptor:
    """A descriptor as read: the brew's facts, and what the readings' file should be.

    :param size: of ``readings.csv`` in bytes; None where the recording was never closed
    :param digest: ``sha256:...`` of ``readings.csv``; None where the recording was never closed
    :param sampling: size and hash of ``sampling.csv``, where it is listed; None for what is not known
    """

    meta: Meta
    size: int | None = None
    digest: str | None = None
    sampling: tuple[int | None, str | None] | None = None


def write_descriptor(folder: Path, name: str, descriptor: Descriptor) -> None:
    """Put a descriptor into a recording's folder, in place of the one there.

    :param name: the recording's name, of lower-case letters, digits and ``-``
    :raises FailureError: when the disk refuses; the old descriptor then stands
    """
    with replacing(folder / DESCRIPTOR) as part:
        part.write_bytes(descriptor_json(name, descriptor))


def descriptor_json(name: str, descriptor: Descriptor) -> bytes:
    """Write a descriptor as JSON in UTF-8."""
    text = json.dumps(_package(name, descriptor), ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    # A lone surrogate (a command line that was no UTF-8) becomes its JSON escape.
    return text.encode("utf-8", "backslashreplace")


def digest(data: bytes) -> str:
    """The hash of a file's bytes, as the standard writes it."""
    return f"sha256:{hashlib.sha256(data).hexdigest()}"


def _package(name: str, descriptor: Descriptor) -> dict[str, Any]:
    meta = descriptor.meta
    software, _, version = meta.software.partition(" ")
    package: dict[str, Any] = {"$schema": PROFILE, "name": name, "title": meta.title or name}
    if meta.started is not None:
        package["created"] = _utc_text(meta.started)
    package["resources"] = [_readings_resource(descriptor), *_sampling_resource(descriptor)]
    if "file" in meta.imported:
        package["sources"] = [{"title": meta.imported["file"]}]
    package |= {
        "brew": {
            "coffee": meta.coffee,
            "dose_g": meta.dose_g,
            "grind": meta.grind,
            "notes": meta.notes,
            "target_name": meta.target_name,
            "target_text": meta.target_text,
            "boils_c": meta.boils_c,
        },
        "devices": list(meta.devices),
        "software": {"name": software, "version": version},
        "clock": {"started": _utc_text(meta.started) if meta.started else None},
        "complete": meta.complete,
        "ended": meta.ended,
        "marks": meta.marks,
        "counters": meta.counters,
    }
    if meta.imported:
        package["imported"] = meta.imported
    plain: dict[str, Any] = _plain(package)
    return plain


def _readings_resource(descriptor: Descriptor) -> dict[str, Any]:
    resource = {**_table("readings", READINGS), **_fingerprint(descriptor.size, descriptor.digest)}
    fields = [{"name": name, **_FIELDS[name]} for name in JOURNAL_HEADER.split(",")]
    resource["schema"] = {"fields": fields, "missingValues": [""]}
    return resource


def _sampling_resource(descriptor: Descriptor) -> list[dict[str, Any]]:
    if descriptor.sampling is None:
        return []
    field = {"name": SAMPLING_FIELD, "type": "number", "unit": "s", "description": SAMPLING_WORDS}
    schema = {"fields": [field], "missingValues": [""]}
    return [{**_table("sampling", SAMPLING), **_fingerprint(*descriptor.sampling), "schema": schema}]


def _fingerprint(size: int | None, digest: str | None) -> dict[str, Any]:
    known = {"bytes": size, "hash": digest}
    return {key: value for key, value in known.items() if value is not None}


def _table(name: str, path: str) -> dict[str, Any]:
    return {
        "name": name,
        "path": path,
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
    }


def _plain(value: Any) -> Any:
    """Make of a driver's facts what JSON can hold."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    return str(value)


def _utc_text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
