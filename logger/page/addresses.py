"""The addresses under which a page is reached, and one of them as a square that a phone reads."""

from __future__ import annotations

import ipaddress
import socket
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.text import Text

_EVERYWHERE = ("0.0.0.0", "::")
# Addresses that are nobody's (RFC 5737, RFC 3849): to connect a datagram socket there sends nothing, and
# tells which of our own addresses the system would use.
_NOBODY = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))


def is_everywhere(host: str) -> bool:
    """Whether a host stands for all addresses of this machine."""
    return host in _EVERYWHERE


def is_local(host: str) -> bool:
    """Whether only this machine itself reaches that host."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def url_host(host: str) -> str:
    """Write a host as it stands in an address."""
    return f"[{host}]" if ":" in host else host


def urls(scheme: str, host: str, port: int, token: str) -> tuple[str, ...]:
    """Give the addresses of a page, the one for other machines first."""
    hosts = (*own_addresses(), "127.0.0.1") if is_everywhere(host) else (host,)
    return tuple(f"{scheme}://{url_host(each)}:{port}/{token}/" for each in hosts)


def own_addresses() -> tuple[str, ...]:
    """Give this machine's addresses on its networks; none without a network."""
    found: dict[str, None] = {}
    for family, nobody in _NOBODY[:1]:
        with socket.socket(family, socket.SOCK_DGRAM) as asking:
            try:
                asking.connect((nobody, 9))
            except OSError:
                continue
            found[asking.getsockname()[0]] = None
    try:
        named = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET, socket.SOCK_STREAM)
    except OSError:
        named = []
    for *_, address in named:
        found[str(address[0])] = None
    return tuple(address for address in found if not is_local(address))


def square(url: str) -> Text:
    """Draw an address as a QR code, two modules to a character: dark on light in every terminal."""
    import segno
    from rich.text import Text

    code = segno.make(url, error="m", micro=False)
    rows = [list(row) for row in code.matrix_iter(border=4)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    text = Text(no_wrap=True, style="black on white", end="\n")
    for upper, lower in zip(rows[::2], rows[1::2], strict=True):
        text.append(
            "".join(_CELLS[bool(top), bool(bottom)] for top, bottom in zip(upper, lower, strict=True))
        )
        text.append("\n")
    return text


_CELLS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
