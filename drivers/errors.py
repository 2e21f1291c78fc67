"""What can go wrong with a device, in words for the person at the bench.

Every error carries the address as the user wrote it, what happened, and what to do next.
"""

from __future__ import annotations


class DeviceError(Exception):
    """The base of all: something happened to one device.

    :param address: the device, as the user named it
    :param what: what happened, a clause without full stop
    :param remedy: what to do next, a sentence
    """

    is_bad_input = False

    def __init__(self, address: str, what: str, remedy: str) -> None:
        self.address, self.what, self.remedy = address, what, remedy
        super().__init__(f"{address}: {what}. {remedy}")


class AddressError(DeviceError):
    """The address cannot be understood: unknown scheme, unknown or impossible option."""

    is_bad_input = True


class DeviceNotFoundError(DeviceError):
    """There is no such port, file or peer: unplugged, asleep, or mistyped."""

    is_bad_input = True


class DeviceDeniedError(DeviceError):
    """The port is there but may not be opened by this user, or is in use by another program."""

    is_bad_input = True


class DeviceUnreadableError(DeviceError):
    """Bytes arrive and none can be read: wrong baud rate, wrong line shape, unknown unit."""

    is_bad_input = True


class DeviceSilentError(DeviceError, TimeoutError):
    """The link is open and nothing has arrived for longer than the device's limit."""


class DeviceLostError(DeviceError):
    """The link broke while it was in use: cable pulled, out of range, battery flat."""
