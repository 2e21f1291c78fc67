"""The instruments that a brewer owns: a name each, its address, and what an examination showed.

They stand in ``devices.toml`` in the user's configuration folder, to be read and edited by hand too:

.. code-block:: toml

    [bench]
    address    = "serial:/dev/ttyUSB0?baud=9600"
    response_s = 0.31
    step_g     = 0.1
    tested     = 2026-11-25
"""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from drivers.reading import is_channel_name
from logger.errors import BadInputError
from logger.recording.disk import replacing

CONFIG_VARIABLE = "EVENCUP_CONFIG"
FILE = "devices.toml"

_NUMBERS = ("response_s", "step_g", "noise_g")


@dataclass(frozen=True, slots=True)
class NamedDevice:
    """One instrument.

    :param address: where it is
    :param response_s: by how much the scale shows a steady flow late, from an examination; or None
    :param step_g: the step of its display, or None
    :param noise_g: standard deviation of one reading at rest, or None
    :param tested: when it was examined, or None
    """

    name: str
    address: str
    response_s: float | None = None
    step_g: float | None = None
    noise_g: float | None = None
    tested: date | None = None


def config_file() -> Path:
    """Where named devices stand; it need not exist. ``EVENCUP_CONFIG`` names another folder."""
    if chosen := os.environ.get(CONFIG_VARIABLE):
        return Path(chosen).expanduser() / FILE
    from platformdirs import user_config_path

    return user_config_path("evencup", appauthor=False) / FILE


def named_devices(path: Path) -> dict[str, NamedDevice]:
    """Read all named devices; none where the file does not exist.

    :raises BadInputError: with file and device, when the file cannot be read or says what cannot be
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(str(path), f"cannot be read: {error}", "Look at it with a text editor.") from None
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInputError(str(path), f"is no TOML: {error}", "Mend that line.") from None
    return {name: _device(path, name, table) for name, table in tables.items()}


def find_named(path: Path, name: str) -> NamedDevice:
    """Find one device by its name.

    :raises BadInputError: naming the known ones, when it is none of them
    """
    known = named_devices(path)
    if name in known:
        return known[name]
    names = ", ".join(sorted(known)) or "none yet"
    raise BadInputError(
        name, "is neither an address nor a device of yours", f"Yours, in {path}, are: {names}."
    )


def save_named(path: Path, device: NamedDevice) -> None:
    """Write a device into the file, comments and other devices left as they are.

    :raises BadInputError: when the name cannot be one, or the file is damaged
    :raises FailureError: when the disk refuses
    """
    import tomlkit

    if not is_channel_name(device.name):
        raise BadInputError(device.name, "cannot be a name", "Use letters, digits, - and _, at most 32.")
    named_devices(path)
    document = tomlkit.parse(path.read_text(encoding="utf-8")) if path.exists() else tomlkit.document()
    table = document.setdefault(device.name, tomlkit.table())
    for key in ("address", *_NUMBERS, "tested"):
        value = getattr(device, key)
        if value is not None:
            table[key] = value
    path.parent.mkdir(parents=True, exist_ok=True)
    with replacing(path) as part:
        part.write_text(tomlkit.dumps(document), encoding="utf-8", newline="\n")


def _device(path: Path, name: str, table: object) -> NamedDevice:
    where = f"{path}, [{name}]"
    if not isinstance(table, Mapping):
        raise BadInputError(where, "is no device", 'Write [name] and under it address = "...".')
    address = table.get("address")
    if not isinstance(address, str) or ":" not in address:
        raise BadInputError(where, "has no address", 'Write, for instance, address = "serial:/dev/ttyUSB0".')
    known = {"address", *_NUMBERS, "tested"}
    for key in table:
        if key not in known:
            raise BadInputError(where, f"{key!r} is not known", f"Known are: {', '.join(sorted(known))}.")
    numbers = {key: _number(where, key, table.get(key)) for key in _NUMBERS}
    tested = table.get("tested")
    if tested is not None and not isinstance(tested, date):
        raise BadInputError(where, f"tested = {tested!r} is no date", "Write it as 2026-11-25.")
    return NamedDevice(name, address, tested=tested, **numbers)


def _number(where: str, key: str, value: Any) -> float | None:
    if value is None:
        return None
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and value >= 0:
        return float(value)
    raise BadInputError(where, f"{key} = {value!r} is not a number of 0 or more", "Mend or remove it.")
