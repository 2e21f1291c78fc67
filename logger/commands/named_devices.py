"""The devices that ``--scale`` and ``--thermometer`` name, each with its channel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers import Device


def named_devices(scales: Sequence[str], thermometers: Sequence[str]) -> list[Device]:
    """Make the devices, not opened yet; the channels get the names that were given, or ordinary ones.

    :param scales: each ``[NAME=]ADDRESS``
    :param thermometers: the same
    :raises BadInputError: when a name is none or is given twice
    :raises AddressError: when an address cannot be understood
    """
    from drivers import ChannelNames, open_device
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
        devices.append(open_device(address, names))
    return devices


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
