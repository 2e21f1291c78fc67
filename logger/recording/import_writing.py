"""A recording made in one go: it is there as a whole, or not at all."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from drivers.reading import Reading, Status
from logger.recording.descriptor import Descriptor, Meta, digest, write_descriptor
from logger.recording.disk import refusal
from logger.recording.journal import READINGS, Journal
from logger.recording.store import new_folder, slug


def write_recording(into: Path, meta: Meta, readings: Iterator[Reading], now: datetime) -> Path:
    """Write all of it into a folder with a dot in front, which nobody lists, and then name that.

    :param now: gives the name its date where ``meta`` has none, and its time zone
    :returns: the new folder
    :raises FailureError: when the disk refuses; nothing is then left
    """
    started = meta.started.astimezone(now.tzinfo) if meta.started else now
    try:
        into.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(dir=into, prefix=".import-"))
    except OSError as error:
        raise refusal(into, "make a folder for the recording", error) from error
    try:
        counters: dict[str, int] = {}
        with Journal(part / READINGS) as journal:
            for reading in readings:
                journal.append(reading)
                kind = "lost" if reading.status is Status.LOST else "readings"
                key = f"{kind}.{reading.channel}"
                counters[key] = counters.get(key, 0) + 1
        folder = new_folder(into, started, meta.title)
        data = (part / READINGS).read_bytes()
        descriptor = Descriptor(replace(meta, counters=counters), len(data), digest(data))
        write_descriptor(part, slug(folder.name), descriptor)
        part.chmod(folder.stat().st_mode)
        # The name was reserved by an empty folder; only some systems rename over one.
        folder.rmdir()
        return part.rename(folder)
    except OSError as error:
        raise refusal(into, "write the recording", error) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
