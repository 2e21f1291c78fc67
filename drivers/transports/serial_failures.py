"""What a failing serial port means, and what the user can do about it."""

from __future__ import annotations

import errno
import re
import socket

import serial

from drivers.errors import (
    AddressError,
    DeviceDeniedError,
    DeviceError,
    DeviceLostError,
    DeviceNotFoundError,
)
from drivers.ports import permission_fix, ports_hint

LINK_FAILURES: tuple[type[Exception], ...] = (serial.SerialException, OSError, ValueError, TypeError)
"""What an unplugged device makes pyserial raise; some calls act on a descriptor that is already closed."""

try:
    import termios
except ImportError:  # Windows
    pass
else:
    LINK_FAILURES = (*LINK_FAILURES, termios.error)  # which is no OSError

_ABSENT = (errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.ENOTDIR, errno.EIO)
_DENIED = (errno.EACCES, errno.EPERM)
_BUSY = (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK)
_NO_PORT = (errno.ENOTTY, errno.EINVAL, errno.EISDIR)

# Windows' errors arrive as text alone.
_WINDOWS_NUMBER = re.compile(r"(?:FileNotFoundError|PermissionError|OSError)\((\d+),")


def opening_error(address: str, url: str, error: BaseException) -> DeviceError:
    """Translate what was raised while opening.

    :param address: as the user wrote it
    :param url: the port or URL in it
    """
    if "://" in url and not isinstance(error, ValueError):
        return _network_error(address, url, error)
    number = _number(error)
    if number in _ABSENT:
        return DeviceNotFoundError(address, f"there is no port {url}, or nothing answers on it", ports_hint())
    if number in _BUSY or (number in _DENIED and url.upper().startswith("COM")):
        return DeviceDeniedError(
            address, "it is in use by another program", "Close that program and try again."
        )
    if number in _DENIED:
        return DeviceDeniedError(address, f"this user may not open {url}", permission_fix(url))
    if number in _NO_PORT:
        return AddressError(address, f"{url} is no serial port, or cannot be set like this", ports_hint())
    if isinstance(error, ValueError):
        return AddressError(address, f"it cannot be opened: {error}", "Correct the address.")
    return DeviceNotFoundError(address, f"it cannot be opened: {error}", ports_hint())


def lost_error(address: str, url: str) -> DeviceLostError:
    """Say that the link broke while it was in use."""
    if "://" in url:
        what, remedy = (
            "the other side closed the connection",
            "Check that it is still running and connect again.",
        )
    else:
        what, remedy = "the link broke", "Check cable, plug and battery, then connect again."
    return DeviceLostError(address, what, remedy)


def _network_error(address: str, url: str, error: BaseException) -> DeviceError:
    cause: BaseException = error.__context__ or error
    if isinstance(cause, ConnectionRefusedError):
        what = f"nothing listens at {url}"
    elif isinstance(cause, socket.gaierror):
        what = f"the host in {url} is not known"
    elif isinstance(cause, TimeoutError):
        what = f"{url} does not answer"
    else:
        what = f"{url} cannot be opened: {error}"
    return DeviceNotFoundError(address, what, "Check host and port, and that the device's server runs.")


def _number(error: BaseException | None) -> int | None:
    """Find the system's error number: pyserial keeps it, or only the exception that it came from."""
    while error is not None:
        number = getattr(error, "errno", None) or (error.args[0] if error.args else None)
        if isinstance(number, int):
            return number
        if match := _WINDOWS_NUMBER.search(str(error)):
            return int(match[1])
        error = error.__context__
    return None
