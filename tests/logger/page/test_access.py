"""What is answered to whom, asked of the guard itself; the same over a real port is in ``test_serving``."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.page.access import Guard, new_token

TOKEN = "K7dQvPpEjF3mS1aZ0xYbWg"
LAN = ("192.168.1.23", 8720)


async def _inside(scope: dict[str, Any], receive: Any, send: Any) -> None:
    await send(
        {"type": "http.response.start", "status": 200, "headers": [(b"x-path", scope["path"].encode())]}
    )
    await send({"type": "http.response.body", "body": b"secret"})


def asked(
    path: str = f"/{TOKEN}/stream",
    host: str | None = "192.168.1.23:8720",
    method: str = "GET",
    server: tuple[str, int] = LAN,
    names: tuple[str, ...] = (),
    query: str = "",
    scheme: str = "http",
    **headers: str,
) -> tuple[int, dict[str, str], bytes]:
    """Ask, and give status, headers and body."""
    lines = [(name.replace("_", "-").encode(), value.encode("latin-1")) for name, value in headers.items()]
    if host is not None:
        lines.append((b"host", host.encode("latin-1")))
    scope = {
        "type": "http",
        "method": method,
        "scheme": scheme,
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": lines,
        "server": server,
    }
    sent: list[dict[str, Any]] = []

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    async def ask() -> None:
        await Guard(_inside, TOKEN, names)(scope, None, send)

    asyncio.run(ask())
    got = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
    return sent[0]["status"], got, sent[1]["body"]


def test_with_the_token_the_rest_of_the_path_is_answered() -> None:
    status, headers, body = asked()
    assert (status, headers["x-path"], body) == (200, "/stream", b"secret")


@pytest.mark.parametrize(
    "path", ["/", "", "/stream", f"/{TOKEN}", f"/{TOKEN[:-1]}/", f"/{TOKEN}x/", "//stream", "/ÿ/"]
)
def test_without_the_token_there_is_nothing(path: str) -> None:
    status, _, body = asked(path)
    assert status == 404
    assert b"secret" not in body


def test_tokens_are_long_and_never_the_same() -> None:
    tokens = {new_token() for _ in range(200)}
    assert len(tokens) == 200
    assert all(len(token) >= 22 for token in tokens)


@pytest.mark.parametrize(
    "host",
    [None, "", "evil.example:8720", "evil.example", "192.168.1.23:80", "192.168.1.23", "192.168.1.24:8720",
     "localhost:8721", "192.168.1.23:8720.evil.example", "192.168.1.23.nip.example:8720", "[::1", ":8720",
     "localhost:8720:8720", "192.168.1.23:08720x", "192.168.1.23:²"],
)  # fmt: skip
def test_a_name_that_a_stranger_could_make_point_here_is_refused(host: str | None) -> None:
    if host == "192.168.1.23:²":
        host = "192.168.1.23:\xb2"
    assert asked(host=host)[0] == 403


@pytest.mark.parametrize("host", ["localhost:8720", "127.0.0.1:8720", "[::1]:8720", "LOCALHOST:8720"])
def test_this_machines_own_names_are_answered(host: str) -> None:
    assert asked(host=host, server=("127.0.0.1", 8720))[0] == 200


def test_an_address_may_be_written_in_any_of_its_ways() -> None:
    server = ("fd00::1", 8720)
    assert asked(host="[fd00::1]:8720", server=server)[0] == 200
    assert asked(host="[fd00:0:0:0:0:0:0:1]:8720", server=server)[0] == 200
    assert asked(host="[fd00::2]:8720", server=server)[0] == 403


def test_a_name_that_was_asked_for_is_answered() -> None:
    assert asked(host="bench.example:8720")[0] == 403
    assert asked(host="bench.example:8720", names=("bench.example",))[0] == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://192.168.1.23:8720", "http://192.168.1.23"]
)
def test_another_pages_request_is_refused(origin: str) -> None:
    assert asked(origin=origin)[0] == 403


def test_this_pages_own_request_is_answered() -> None:
    assert asked(origin="http://192.168.1.23:8720")[0] == 200
    assert asked(origin="https://192.168.1.23:8720", scheme="https")[0] == 200


@pytest.mark.parametrize(
    ("site", "mode", "dest", "status"),
    [
        ("same-origin", "cors", "empty", 200),
        ("none", "navigate", "document", 200),
        ("cross-site", "navigate", "document", 200),  # a link in a message; shows nothing to where it stood
        ("cross-site", "no-cors", "image", 403),
        ("cross-site", "no-cors", "script", 403),
        ("cross-site", "navigate", "iframe", 403),
        ("same-site", "cors", "empty", 403),
    ],
)
def test_what_the_browser_says_of_the_asker_counts(site: str, mode: str, dest: str, status: int) -> None:
    assert asked(sec_fetch_site=site, sec_fetch_mode=mode, sec_fetch_dest=dest)[0] == status


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_it_is_read_only(method: str) -> None:
    assert asked(method=method)[0] == 405


def test_it_takes_nothing_in() -> None:
    assert asked(content_length="4")[0] == 400
    assert asked(transfer_encoding="chunked")[0] == 400


def test_a_long_address_is_refused() -> None:
    assert asked(query="since=" + 600 * "a")[0] == 414


@pytest.mark.parametrize("path", [f"/{TOKEN}/", "/wrong/"])
def test_every_answer_forbids_what_a_page_could_be_made_to_do(path: str) -> None:
    _, headers, _ = asked(path)
    policy = dict([*part.split(" ", 1), ""][:2] for part in headers["content-security-policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cross-origin-resource-policy"] == "same-origin"


@given(st.text(max_size=50), st.text(st.characters(max_codepoint=255), max_size=50))
def test_whatever_is_asked_nobody_without_the_token_gets_in(path: str, host: str) -> None:
    status, _, body = asked(f"/{path}", host=host)
    assert status in (403, 404, 414)
    assert b"secret" not in body
