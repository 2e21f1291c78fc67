"""Failures that a test machine cannot show for real, by the exceptions that pyserial makes of them."""

from __future__ import annotations

import errno
import os
import socket

import pytest
import serial

from drivers.errors import AddressError, DeviceDeniedError, DeviceLostError, DeviceNotFoundError
from drivers.transports.serial_failures import LINK_FAILURES, lost_error, opening_error


def serial_failure(number: int) -> serial.SerialException:
    return serial.SerialException(number, f"could not open port X: {os.strerror(number)}")


@pytest.mark.parametrize(
    ("number", "kind", "what"),
    [
        (errno.ENOENT, DeviceNotFoundError, "there is no port"),
        (errno.ENXIO, DeviceNotFoundError, "there is no port"),
        (errno.EIO, DeviceNotFoundError, "nothing answers"),
        (errno.EACCES, DeviceDeniedError, "may not open"),
        (errno.EPERM, DeviceDeniedError, "may not open"),
        (errno.EBUSY, DeviceDeniedError, "in use"),
        (errno.EAGAIN, DeviceDeniedError, "in use"),
        (errno.ENOTTY, AddressError, "no serial port"),
    ],
)
def test_error_numbers(number, kind, what):
    error = opening_error("serial:/dev/ttyX", "/dev/ttyX", serial_failure(number))
    assert type(error) is kind
    assert what in error.what
    assert error.address == "serial:/dev/ttyX"


def test_permission_denied_names_the_group_of_the_port(tmp_path):
    port = tmp_path / "port"
    port.touch(0o660)
    port.chmod(0o660)
    error = opening_error("serial:x", str(port), PermissionError(errno.EACCES, "Permission denied"))
    assert isinstance(error, DeviceDeniedError)
    assert error.remedy.startswith(("Run: sudo ", "You are in the group"))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (
            "could not open port 'COM7': FileNotFoundError(2, 'The system cannot find the file.', None, 2)",
            DeviceNotFoundError,
        ),
        ("could not open port 'COM7': PermissionError(13, 'Access is denied.', None, 5)", DeviceDeniedError),
    ],
)
def test_windows_says_it_in_text(text, kind):
    assert type(opening_error("serial:COM7", "COM7", serial.SerialException(text))) is kind


@pytest.mark.parametrize(
    ("cause", "what"),
    [
        (ConnectionRefusedError(111, "refused"), "nothing listens"),
        (socket.gaierror(-2, "unknown"), "host"),
        (TimeoutError("timed out"), "does not answer"),
        (OSError(113, "no route"), "cannot be opened"),
    ],
)
def test_network_failures(cause, what):
    try:
        try:
            raise cause
        except OSError as error:
            raise serial.SerialException(f"Could not open port: {error}")  # noqa: B904  # as pyserial does
    except serial.SerialException as error:
        mapped = opening_error("serial:socket://h:1", "socket://h:1", error)
    assert isinstance(mapped, DeviceNotFoundError)
    assert what in mapped.what


def test_a_value_that_the_port_cannot_take():
    error = opening_error("serial:x", "/dev/ttyX", ValueError("Not a valid baudrate: 7"))
    assert isinstance(error, AddressError)


def test_an_unplugged_port_fails_in_more_ways_than_one():
    termios = pytest.importorskip("termios")
    for error in (
        serial.SerialException("x"),
        OSError(5, "x"),
        termios.error(5, "x"),
        TypeError("fd is None"),
    ):
        assert isinstance(error, LINK_FAILURES)
    assert isinstance(lost_error("serial:x", "/dev/ttyX"), DeviceLostError)
