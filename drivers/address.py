"""Addresses: one line of text that says where a device is and how to talk to it.

``scheme:target?option=value&option=value``. The target may itself be a URL
(``serial:socket://127.0.0.1:4000``); options are percent-decoded, so that a pattern may hold spaces.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl

from drivers.errors import AddressError


@dataclass(frozen=True, slots=True)
class Address:
    """An address taken apart.

    :param text: as the user wrote it, for messages
    :param scheme: which driver: ``serial``, ``simulated``, ``playback`` ...
    :param target: where: a port, a path, a URL
    :param options: the rest, by name
    """

    text: str
    scheme: str
    target: str
    options: Mapping[str, str]

    def only(self, known: Collection[str]) -> None:
        """Refuse options that the driver does not know.

        :raises AddressError: naming the option and the known ones
        """
        for name in self.options:
            if name not in known:
                options = ", ".join(sorted(known))
                raise AddressError(self.text, f"unknown option {name!r}", f"Known options are: {options}.")

    def number(self, name: str, default: float, *, at_least: float, at_most: float) -> float:
        """Take an option that is a number.

        :raises AddressError: when it is none, or out of range
        """
        text = self.options.get(name)
        if text is None:
            return default
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not at_least <= value <= at_most:
            raise AddressError(
                self.text,
                f"{name}={text} is not a number from {at_least:g} to {at_most:g}",
                f"Give {name}={default:g}, for instance.",
            )
        return value

    def choice(self, name: str, default: str, among: Collection[str]) -> str:
        """Take an option that is one of a few words.

        :raises AddressError: when it is none of them
        """
        value = self.options.get(name, default)
        if value not in among:
            raise AddressError(
                self.text, f"{name}={value} is not known", f"Choose one of: {', '.join(sorted(among))}."
            )
        return value


def parse_address(text: str) -> Address:
    """Take an address apart.

    :raises AddressError: when there is no scheme or no target, or an option has no value
    """
    scheme, colon, rest = text.partition(":")
    if not colon or not scheme.isascii() or not scheme.replace("-", "").isalnum():
        raise AddressError(
            text, "this is not an address", "An address looks like serial:/dev/ttyUSB0?baud=9600."
        )
    target, _, query = rest.partition("?")
    if not target:
        raise AddressError(text, f"nothing stands after '{scheme}:'", "Name the port, file or peer.")
    # A plus sign is a plus sign: patterns hold signs more often than they hold blanks.
    query = query.replace("+", "%2B")
    try:
        options = dict(parse_qsl(query, keep_blank_values=False, strict_parsing=True)) if query else {}
    except ValueError:
        raise AddressError(
            text, f"the options {query!r} cannot be read", "Write them as name=value, joined by '&'."
        ) from None
    return Address(text, scheme.lower(), target, options)
