"""Which recorders on this machine have a page: each says so in a file that only its user may read."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import stat
import warnings
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from logger.errors import FailureError
from logger.recording.disk import refusal

RUNTIME_VARIABLE = "EVENCUP_RUNTIME"
_SUFFIX = ".station.json"
_LONGEST_BYTES = 4096


@dataclass(frozen=True, slots=True)
class Station:
    """A recorder that can be looked at.

    :param name: of the file, and of the station
    :param title: what is brewed there
    :param host: where its page is reached from this machine
    :param port: of the page
    :param token: the first part of its paths
    :param secure: whether it speaks https
    """

    name: str
    title: str
    host: str
    port: int
    token: str
    secure: bool = False


def runtime_folder() -> Path:
    """The folder of what is running now; it need not exist yet.

    The environment variable ``EVENCUP_RUNTIME`` names another one.
    """
    if chosen := os.environ.get(RUNTIME_VARIABLE):
        return Path(chosen).expanduser()
    from platformdirs import user_runtime_path

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that there is no such folder yet is nothing to tell a brewer
        return user_runtime_path("evencup", appauthor=False)


@contextlib.contextmanager
def announced(title: str, host: str, port: int, token: str, *, secure: bool = False) -> Iterator[Station]:
    """Let ``evencup page`` find a page, for as long as the block runs.

    :raises FailureError: when the folder cannot be written, or others could read it
    """
    folder = runtime_folder()
    station = Station(f"{os.getpid()}-{secrets.token_hex(3)}", title, host, port, token, secure)
    path = folder / f"{station.name}{_SUFFIX}"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        _check_private(folder)
        _write(path, station)
    except OSError as error:
        raise refusal(folder, "say there that this recorder has a page", error) from error
    try:
        yield station
    finally:
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)


def find_stations() -> dict[str, Station]:
    """Read which recorders say that they have a page; nothing is asked of them yet.

    :raises FailureError: when others could have written there
    """
    folder = runtime_folder()
    if not folder.is_dir():
        return {}
    _check_private(folder)
    found = {}
    for path in sorted(folder.glob(f"*{_SUFFIX}")):
        station = _read(path)
        if station is not None:
            found[station.name] = station
    return found


def forget(station: Station) -> None:
    """Remove what a recorder left behind that answers no more."""
    with contextlib.suppress(OSError):
        (runtime_folder() / f"{station.name}{_SUFFIX}").unlink(missing_ok=True)


def _write(path: Path, station: Station) -> None:
    """Write a file whole, readable by its user alone from its first byte on."""
    part = path.with_suffix(".part")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        json.dump(asdict(station), file)
    part.replace(path)


def _read(path: Path) -> Station | None:
    try:
        if path.stat().st_size > _LONGEST_BYTES:
            return None
        said = json.loads(path.read_text(encoding="utf-8"))
        station = Station(**said)
    except (OSError, ValueError, TypeError):
        return None
    kinds = (str, str, str, int, str, bool)
    values = (station.name, station.title, station.host, station.port, station.token, station.secure)
    if not all(isinstance(value, kind) for value, kind in zip(values, kinds, strict=True)):
        return None
    return station if path.name == f"{station.name}{_SUFFIX}" and 0 < station.port < 65536 else None


def _check_private(folder: Path) -> None:
    """Refuse a folder that is not ours alone: its files hold tokens.

    :raises FailureError: when it is another user's, or open to others
    """
    if os.name != "posix":
        return
    about = folder.stat()
    if about.st_uid != os.getuid() or stat.S_IMODE(about.st_mode) & 0o022:
        raise FailureError(
            str(folder),
            "can be written by others, and holds the keys of running pages",
            f"Set {RUNTIME_VARIABLE} to a folder of your own.",
        )
