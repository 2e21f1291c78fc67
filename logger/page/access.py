"""Who may look: the token in the address, the name that was called, the page that asks. Nobody may write.

Every request is checked, those for streams too. Host and Origin are checked so that no page of another site
can read this one through the brewer's own browser, not even by making its name point here (DNS rebinding).
"""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Collection
from typing import Any

Scope = dict[str, Any]
Headers = list[tuple[bytes, bytes]]

TOKEN_BYTES = 16
LONGEST_ADDRESS = 512

LOCAL_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]"})
"""What only this machine's own browser calls us by."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'"
)
"""No script, style or picture but our own files; nothing inline; in nobody's frame."""

SAFE_HEADERS: Headers = [
    (b"content-security-policy", POLICY.encode()),
    (b"cache-control", b"no-store"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
]

Refusal = tuple[int, str]


def new_token() -> str:
    """Make a token that nobody guesses: 128 bits."""
    return secrets.token_urlsafe(TOKEN_BYTES)


class Guard:
    """Lets through to an ASGI application what may be answered; the token is then out of the path.

    :param app: behind it
    :param token: the first part of every path
    :param names: hosts that the page was asked to be served as, besides addresses
    """

    def __init__(self, app: Any, token: str, names: Collection[str] = ()) -> None:
        self._app, self._token = app, token.encode()
        self._names = LOCAL_NAMES | {name.lower() for name in names}

    async def __call__(self, scope: Scope, receive: Any, send: Any) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await _answer(send, refusal)
            return
        inside = "/" + scope["path"].split("/", 2)[2]

        async def send_safely(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message["headers"], *SAFE_HEADERS]}
            await send(message)

        await self._app({**scope, "path": inside, "raw_path": inside.encode()}, receive, send_safely)

    def _refusal(self, scope: Scope) -> Refusal | None:
        headers: Headers = scope["headers"]
        if len(scope["raw_path"]) + len(scope["query_string"]) > LONGEST_ADDRESS:
            return 414, "The address is too long."
        if not self._is_our_name(_only(headers, b"host"), scope["server"]):
            return 403, "This page is not served by that name."
        if not self._has_token(scope["path"]):
            return 404, "Nothing is here. The whole address is needed, as it was printed."
        if scope["method"] not in ("GET", "HEAD"):
            return 405, "This page can only be looked at."
        if any(name in (b"content-length", b"transfer-encoding") for name, _ in headers):
            return 400, "This page takes nothing in."
        if not _asks_for_itself(scope, headers):
            return 403, "No other page may read this one."
        return None

    def _has_token(self, path: str) -> bool:
        first = path.split("/", 2)
        return len(first) == 3 and secrets.compare_digest(first[1].encode("utf-8", "replace"), self._token)

    def _is_our_name(self, host: bytes | None, server: tuple[str, int | None]) -> bool:
        """Whether the name called is one that no stranger can make point here."""
        name, port = _split_host((host or b"").decode("latin-1").lower())
        if port != server[1]:
            return False
        return name in self._names or _same_address(name, server[0])


def _only(headers: Headers, wanted: bytes) -> bytes | None:
    """Give a header's value; None where it is missing or there are several."""
    values = [value for name, value in headers if name == wanted]
    return values[0] if len(values) == 1 else None


def _split_host(host: str) -> tuple[str, int | None]:
    name, colon, port = host.rpartition(":")
    if not colon or host.endswith("]"):
        return host, 80
    return name, int(port) if port.isascii() and port.isdecimal() and len(port) < 6 else None


def _same_address(name: str, address: str) -> bool:
    try:
        own = ipaddress.ip_address(address)
        return ipaddress.ip_address(name.removeprefix("[").removesuffix("]")) == own
    except ValueError:
        return False


def _asks_for_itself(scope: Scope, headers: Headers) -> bool:
    """Whether the request comes from this page, or from somebody who opens it.

    Browsers say so themselves (fetch metadata). A link elsewhere may open the page: that shows nothing there.
    """
    own = scope["scheme"].encode() + b"://" + (_only(headers, b"host") or b"")
    origins = [value for name, value in headers if name == b"origin"]
    if any(origin.lower() != own.lower() for origin in origins):
        return False
    site = _only(headers, b"sec-fetch-site")
    if site in (None, b"same-origin", b"none"):
        return True
    return (
        _only(headers, b"sec-fetch-mode") == b"navigate" and _only(headers, b"sec-fetch-dest") == b"document"
    )


async def _answer(send: Any, refusal: Refusal) -> None:
    status, words = refusal
    body = f"{words}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
        *SAFE_HEADERS,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
