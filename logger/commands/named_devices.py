"""The devices that ``--scale`` and ``--thermometer`` name, each with its channel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers import ChannelNames, Device
    from drivers.supervised import Patience

NEVER_LOST = ("simulated", "playback")
"""Devices that end when they have no more to give, and do not come back."""


def named_devices(
    scales: Sequence[str], thermometers: Sequence[str], patience: Patience | None = None
) -> list[Device]:
    """Make the devices, not opened yet; the channels get the names that were given, or ordinary ones.

    :param scales: each ``[NAME=]ADDRESS``, or a device of the user's by its name
    :param thermometers: the same
    :param patience: for how long a lost device is called back
    :raises BadInputError: when a name is none or is given twice
    :raises AddressError: when an address cannot be understood
    """
    from drivers import ChannelNames
    from logger.errors import BadInputError

    asked = [("--scale", "scale", text) for text in scales]
    asked += [("--thermometer", "thermometer", text) for text in thermometers]
    devices, taken = [], {given for _, _, text in asked if (given := split_name(text)[0])}
    seen = set[str]()
    for option, usual, text in asked:
        given, address = split_name(text)
        name = given or _free(usual, taken | seen)
        if name in seen:
            raise BadInputError(f"{option} {text}", f"{name!r} is taken already", "Choose another name.")
        seen.add(name)
        names = ChannelNames(weight=name) if option == "--scale" else ChannelNames(temperature=name)
        devices.append(device_at(address, names, patience))
    return devices


def device_at(address: str, names: ChannelNames | None = None, patience: Patience | None = None) -> Device:
    """Make a device, not opened yet, that is called back when it is lost.

    :param address: an address, or the name of a device in the user's configuration
    :raises BadInputError: when it is neither
    :raises AddressError: when no driver can make sense of it
    """
    from drivers import open_device
    from drivers.supervised import Supervised
    from logger.bench.named import config_file, find_named

    known: dict[str, object] = {}
    if ":" not in address:
        named = find_named(config_file(), address)
        address, known = named.address, {"name": named.name}
        if named.response_s is not None:
            known["response_s"] = named.response_s
    if address.partition(":")[0].lower() in NEVER_LOST:
        return open_device(address, names)
    return Supervised(address, names, patience, known=known)


def split_name(text: str) -> tuple[str | None, str]:
    """Take ``NAME=ADDRESS`` apart; an address may hold ``=`` itself, but then a colon comes first.

    :raises BadInputError: when the name cannot be one
    """
    from drivers.reading import is_channel_name
    from logger.errors import BadInputError

    name, equals, address = text.partition("=")
    if not equals or ":" in name:
        return None, text
    if not is_channel_name(name):
        raise BadInputError(
            text, f"{name!r} cannot be a channel's name", "Use letters, digits, - and _, at most 32."
        )
    return name, address


def _free(usual: str, taken: set[str]) -> str:
    number = 1
    while (name := usual if number == 1 else f"{usual}{number}") in taken:
        number += 1
    return name
