"""Analyses that are kept between calls, so that many brews are laid over each other at once.

A recording never changes once it is closed. What was made of one is kept in the user's cache folder under a
name that its readings, its description, the target and evencup's own code have a part in: change any of them
and it is made anew. The folder may be deleted at any time; nothing is kept of a recording that is still open.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from functools import cache, cached_property
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from logger.compare.brew import assess
from logger.compare.comparison import Brew
from logger.recording import Meta, Recording
from logger.recording.descriptor import DESCRIPTOR, SAMPLING
from logger.recording.disk import replacing
from logger.recording.journal import READINGS
from logger.recording.notes import NOTES, Noted, read_notes
from logger.target import parse_target
from logger.version import VERSION

if TYPE_CHECKING:
    import pandas as pd

    from logger.curve import Floats
    from logger.target import Target

CACHE_VARIABLE = "EVENCUP_CACHE"
_MADE_BY = ("curve", "compare", "target", "recording")
_MAGIC = b"evencup analysis 1\n"
_OLD_S = 60 * 86_400.0


class KeptRecording(Recording):
    """A recording whose readings are read only when they are asked for."""

    def __init__(self, path: Path, meta: Meta, problems: tuple[str, ...]) -> None:
        for name, value in (("path", path), ("meta", meta), ("problems", problems)):
            object.__setattr__(self, name, value)

    @cached_property
    def _opened(self) -> Recording:
        return Recording.open(self.path)

    @property
    def readings(self) -> pd.DataFrame:
        """As :class:`Recording` has them."""
        return self._opened.readings

    @property
    def sampled_s(self) -> Floats | None:
        """As :class:`Recording` has them."""
        return self._opened.sampled_s

    @property
    def noted(self) -> Noted:
        """As :class:`Recording` has it."""
        return read_notes(self.path)


def cache_folder() -> Path:
    """The folder for what is kept; it need not exist yet.

    The environment variable ``EVENCUP_CACHE`` names another one.
    """
    if chosen := os.environ.get(CACHE_VARIABLE):
        return Path(chosen).expanduser()
    from platformdirs import user_cache_path

    return user_cache_path("evencup", appauthor=False) / "analyses"


def assess_kept(path: Path, target: Target | None, into: Path | None = None) -> Brew:
    """What :func:`logger.compare.assess` makes of a recording, from what was kept where that is still true.

    :param path: the recording's folder
    :param into: where analyses are kept; None for :func:`cache_folder`
    :raises BadInputError: as ``Recording.open`` and ``assess``
    """
    place = _place(path, target, into or cache_folder())
    if place is not None and (kept := _read(place, path)) is not None:
        return kept
    return _assessed(Recording.open(path), target, place)


def assess_and_keep(recording: Recording, into: Path | None = None) -> Brew:
    """What :func:`logger.compare.assess` makes of a recording and its own target, kept for a later overlay.

    :param into: where analyses are kept; None for :func:`cache_folder`
    :raises BadInputError: as ``assess``
    """
    path, text = recording.path, recording.meta.target_text
    target = parse_target(text, f"{path}, its target") if text else None
    return _assessed(recording, target, _place(path, target, into or cache_folder()))


def _assessed(recording: Recording, target: Target | None, place: Path | None) -> Brew:
    """Assess anew, and keep what came of it where the recording is closed."""
    brew = assess(recording, target=target)
    if place is not None and brew.recording.meta.complete:
        _keep(place, brew)
    return brew


def forget_old(now_s: float, folder: Path | None = None) -> None:
    """Remove what was not asked for in 60 days.

    :param now_s: the time now, as ``time.time`` gives it
    :param folder: where analyses are kept; None for :func:`cache_folder`
    """
    for place in (folder or cache_folder()).glob("*.analysis"):
        try:
            if now_s - place.stat().st_mtime > _OLD_S:
                place.unlink()
        except OSError:
            continue


def _place(path: Path, target: Target | None, folder: Path) -> Path | None:
    """Name the file after everything that what it holds depends on; None where that cannot be read."""
    if not (path / READINGS).is_file():
        return None
    name = hashlib.sha256(_code_stamp())
    name.update(repr(target).encode())
    try:
        for part in (READINGS, DESCRIPTOR, SAMPLING, NOTES):
            file = path / part
            data = file.read_bytes() if file.exists() else b""
            name.update(b"%d:" % len(data) + data)
    except OSError:
        return None
    return folder / f"{name.hexdigest()[:40]}.analysis"


@cache
def _code_stamp() -> bytes:
    """Which code makes an analysis: its version, and each module's size and time."""
    root = Path(__file__).parents[1]
    stamp = [VERSION, np.__version__]
    for room in _MADE_BY:
        for module in sorted((root / room).rglob("*.py")):
            seen = module.stat()
            stamp.append(f"{module.name} {seen.st_size} {seen.st_mtime_ns}")
    return "\n".join(stamp).encode()


def _keep(place: Path, brew: Brew) -> None:
    """Write what was made of a recording; where the disk refuses, it is made anew the next time."""
    from logger.errors import EvencupError

    arrays: list[Floats] = []
    parts = {field.name: getattr(brew, field.name) for field in fields(brew) if field.name != "recording"}
    parts["meta"], parts["problems"] = brew.recording.meta, brew.recording.problems
    head = json.dumps(_written(parts, arrays)).encode()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with replacing(place) as part:
            part.write_bytes(_MAGIC + b"%12d" % len(head) + head + b"".join(one.tobytes() for one in arrays))
    except (OSError, EvencupError):
        return


def _read(place: Path, path: Path) -> Brew | None:
    """Read what was kept; None where there is nothing, or not what was written."""
    try:
        data = place.read_bytes()
        if not data.startswith(_MAGIC):
            return None
        start = len(_MAGIC) + 12
        end = start + int(data[len(_MAGIC) : start])
        parts = _made(json.loads(data[start:end]), memoryview(data)[end:])
        recording = KeptRecording(path, parts.pop("meta"), parts.pop("problems"))
        os.utime(place)
        return Brew(recording, **parts)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, ImportError):
        return None


def _written(value: Any, arrays: list[Floats]) -> Any:
    """Write a value as JSON can carry it; arrays are put aside."""
    if value is None or isinstance(value, str | bool | int | float):
        return value
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, np.ndarray):
        since = sum(one.nbytes for one in arrays)
        arrays.append(np.ascontiguousarray(value))
        return {"array": value.dtype.str, "since": since, "shape": list(value.shape)}
    if isinstance(value, datetime):
        return {"moment": value.isoformat()}
    if isinstance(value, Mapping):
        return {"mapping": [[key, _written(one, arrays)] for key, one in value.items()]}
    if isinstance(value, tuple):
        return {"tuple": [_written(one, arrays) for one in value]}
    if isinstance(value, Sequence):
        return [_written(one, arrays) for one in value]
    if is_dataclass(value):
        made_of = {one.name: _written(getattr(value, one.name), arrays) for one in fields(value) if one.init}
        return {"of": f"{type(value).__module__}:{type(value).__qualname__}", "with": made_of}
    raise TypeError(f"{type(value).__name__} cannot be kept")


def _made(value: Any, arrays: memoryview) -> Any:
    """Make a value of what was written."""
    if isinstance(value, list):
        return [_made(one, arrays) for one in value]
    if not isinstance(value, dict):
        return value
    if "array" in value:
        count = int(np.prod(value["shape"]))
        array = np.frombuffer(arrays, dtype=value["array"], count=count, offset=value["since"])
        return array.reshape(value["shape"])
    if "moment" in value:
        return datetime.fromisoformat(value["moment"])
    if "mapping" in value:
        return {key: _made(one, arrays) for key, one in value["mapping"]}
    if "tuple" in value:
        return tuple(_made(one, arrays) for one in value["tuple"])
    return _class(value["of"])(**{name: _made(one, arrays) for name, one in value["with"].items()})


@cache
def _class(name: str) -> type:
    """Find one of our own data classes; nothing else is ever made of what a file says."""
    module, _, own = name.partition(":")
    if not module.startswith("logger."):
        raise ValueError(f"{name} is not ours")
    found = getattr(import_module(module), own)
    if not (isinstance(found, type) and is_dataclass(found)):
        raise ValueError(f"{name} is no data class")
    return cast(type, found)
