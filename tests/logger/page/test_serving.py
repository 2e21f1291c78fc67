"""The page over a real port: what is served, who is dropped, and that the port is closed afterwards."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
from collections.abc import AsyncIterator, Callable
from typing import Any

import httpx
import pytest

from logger.errors import BadInputError
from logger.page import connection
from logger.page.board import Board
from logger.page.feed import Feed
from logger.page.serving import LivePage, Place
from tests.logger.page.cues import pouring
from tests.logger.page.ports import free_port

HOST = "127.0.0.1"


class Served:
    """A page that is served, with its feed."""

    def __init__(self, board: Board, page: LivePage) -> None:
        self.board, self.page, self.feed = board, page, board.feeds[""]
        self._writers: list[asyncio.StreamWriter] = []

    @property
    def url(self) -> str:
        return self.page.urls[0]

    async def connect(self, request: str = "") -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        reader, writer = await asyncio.open_connection(HOST, self.page.port)
        self._writers.append(writer)
        writer.write(request.encode())
        return reader, writer

    async def hang_up(self) -> None:
        for writer in self._writers:
            writer.close()
            with contextlib.suppress(OSError):
                await writer.wait_closed()

    def asking(self, path: str, more: str = "") -> str:
        return f"GET /{self.page.token}/{path} HTTP/1.1\r\nHost: {HOST}:{self.page.port}\r\n{more}\r\n"


@pytest.fixture
async def served() -> AsyncIterator[Served]:
    board = Board()
    board.add("", Feed("Four pours"))
    async with LivePage(board, Place(port=free_port())) as page:
        one = Served(board, page)
        yield one
        await one.hang_up()


async def events(reader: asyncio.StreamReader, count: int) -> list[dict[str, Any]]:
    """Read so many pieces of news from a stream."""
    found: list[dict[str, Any]] = []
    async with asyncio.timeout(5.0):
        while len(found) < count:
            line = (await reader.readline()).decode()
            assert line, "the stream has ended"
            if line.startswith("data: {") and "set" in line:
                found.append(json.loads(line[6:]))
    return found


async def dropped(reader: asyncio.StreamReader, within_s: float = 5.0) -> bool:
    """Whether the other side hangs up."""
    with contextlib.suppress(ConnectionError):
        async with asyncio.timeout(within_s):
            while await reader.read(65536):
                pass
    return True


async def until(true: Callable[[], bool]) -> None:
    while not true():  # noqa: ASYNC110  # what is waited for has no event to tell it
        await asyncio.sleep(0.01)


async def test_all_that_a_page_needs_comes_from_us(served: Served) -> None:
    async with httpx.AsyncClient() as client:
        for path, kind in (
            ("", "text/html"),
            ("bench", "text/html"),
            ("pour", "text/html"),
            ("pour.js", "text/javascript"),
            ("page.css", "text/css"),
            ("colours.css", "text/css"),
            ("icon.svg", "image/svg+xml"),
        ):
            got = await client.get(served.url + path)
            assert got.status_code == 200, path
            assert got.headers["content-type"].startswith(kind)
            assert "default-src 'none'" in got.headers["content-security-policy"]
            assert "server" not in got.headers
            for elsewhere in ("http://", "https://", "//cdn"):
                assert elsewhere not in got.text.replace("http://www.w3.org/2000/svg", "")
        for path in ("nothing.js", "..%2ffeed.py", "feed.py", "__init__.py", "assets", "stations"):
            assert (await client.get(served.url + path)).status_code == 404, path


async def test_pages_have_no_script_and_no_style_of_their_own(served: Served) -> None:
    async with httpx.AsyncClient() as client:
        for path in ("", "bench", "stations.html"):
            text = (await client.get(served.url + path)).text
            assert "<style" not in text
            assert "style=" not in text
            assert " on" not in text.split("<body", 1)[1].split("<p", 1)[0]
            assert text.count("<script") == text.count('<script type="module" src="')


async def test_a_stranger_is_told_nothing(served: Served) -> None:
    root = f"http://{HOST}:{served.page.port}"
    async with httpx.AsyncClient() as client:
        for path in ("/", "/stream", "/wrong/", "/wrong/stream"):
            assert (await client.get(root + path)).status_code == 404
        evil = {"host": f"evil.example:{served.page.port}"}
        assert (await client.get(served.url + "stream", headers=evil)).status_code == 403
        evil = {"origin": "http://evil.example"}
        assert (await client.get(served.url + "stream", headers=evil)).status_code == 403
        assert (await client.post(served.url, content=b"x")).status_code == 405


async def test_a_stream_gives_all_there_is_then_what_changes(served: Served) -> None:
    served.feed.show(pouring(1.0, 4.0))
    reader, writer = await served.connect(served.asking("stream"))
    (first,) = await events(reader, 1)
    served.feed.show(pouring(1.1, 4.6))
    (second,) = await events(reader, 1)
    writer.close()
    assert first["set"]["poured_g"] == 4.0
    assert first["set"]["title"] == "Four pours"
    assert second["set"]["poured_g"] == 4.6
    assert "title" not in second["set"]
    assert second["sent_s"] >= first["sent_s"]


async def test_who_comes_back_says_how_far_he_was(served: Served) -> None:
    served.feed.show(pouring(1.0, 4.0))
    reader, writer = await served.connect(served.asking("stream"))
    async with asyncio.timeout(5.0):
        while not (line := (await reader.readline()).decode()).startswith("id: "):
            pass
    writer.close()
    for second in range(2, 6):
        served.feed.show(pouring(float(second), 4.0 * second))
    for request in (
        served.asking(f"stream?since={line[4:].strip()}"),
        served.asking("stream", f"Last-Event-ID: {line[4:].strip()}\r\n"),
    ):
        reader, writer = await served.connect(request)
        (news,) = await events(reader, 1)
        writer.close()
        assert news["first"] == 1
        assert [row[0] for row in news["rows"]] == [2.0, 3.0, 4.0, 5.0]


async def test_a_viewer_who_goes_is_forgotten(served: Served) -> None:
    _, writer = await served.connect(served.asking("stream"))
    async with asyncio.timeout(5.0):
        await until(lambda: served.board.watched == 1)
        writer.close()
        await until(lambda: served.board.watched == 0)
    assert served.board.watched == 0


async def test_one_who_never_asks_is_dropped(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "REQUEST_WITHIN_S", 0.1)
    silent, _ = await served.connect()
    begun, _ = await served.connect("GET /")
    assert await dropped(silent)
    assert await dropped(begun)


async def test_one_who_asks_in_drops_is_dropped(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "REQUEST_WITHIN_S", 0.3)
    reader, writer = await served.connect(served.asking("nothing.js"))
    await reader.readuntil(b"\r\n\r\n")

    async def drip() -> None:
        for letter in served.asking("nothing.js") * 100:
            writer.write(letter.encode())
            await asyncio.sleep(0.01)

    dripping = asyncio.create_task(drip())
    assert await dropped(reader)
    dripping.cancel()


async def test_one_who_does_not_read_is_dropped_and_nobody_waits(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "WRITTEN_WITHIN_S", 0.2)
    lazy = socket.socket()
    lazy.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    lazy.connect((HOST, served.page.port))
    lazy.sendall(served.asking("stream").encode())
    reader, writer = await served.connect(served.asking("stream"))
    async with asyncio.timeout(5.0):
        await until(lambda: served.board.watched == 2)
    words, seen = 1000 * "x", []
    async with asyncio.timeout(20.0):
        while served.board.watched == 2:
            served.feed.show(pouring(1.0 + len(seen) / 10, 4.0, title=f"{len(seen)} {words}"))
            seen += await events(reader, 1)
    writer.close()
    lazy.close()
    # The one who reads saw every step, while the other one's share stayed what the system holds for it.
    assert len(seen) > 20


async def test_many_connections_from_one_place_leave_room_for_others(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "MOST_FROM_ONE", 4)
    open_ones = [await served.connect(served.asking("stream")) for _ in range(4)]
    for reader, _ in open_ones:
        await events(reader, 1)
    one_more, _ = await served.connect(served.asking("stream"))
    assert await dropped(one_more)
    for _, writer in open_ones:
        writer.close()


async def test_viewers_beyond_the_limit_are_asked_to_wait(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.page.board.MOST_VIEWERS", 1)
    reader, writer = await served.connect(served.asking("stream"))
    await events(reader, 1)
    async with httpx.AsyncClient() as client:
        got = await client.get(served.url + "stream")
    assert got.status_code == 503
    assert got.headers["retry-after"] == "5"
    writer.close()


@pytest.mark.parametrize(
    "garbage",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(range(256)),
        b"GET " + 20000 * b"a",
        b"GET / HTTP/1.1\r\n" + b"X: " + 20000 * b"y",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
        b"\r\n" * 10000,
        b"GET /%ff%00/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 3,
        b"GET / HTTP/1.1\r\nHost: a\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n\r\n",
    ],
)
async def test_garbage_is_refused_and_the_page_goes_on(
    served: Served, garbage: bytes, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    with monkeypatch.context() as impatient:
        impatient.setattr(connection, "REQUEST_WITHIN_S", 0.2)
        reader, writer = await served.connect()
        with contextlib.suppress(ConnectionError):
            writer.write(garbage)
            writer.write_eof()
            await writer.drain()
        assert await dropped(reader, 8.0)
    async with httpx.AsyncClient() as client:
        assert (await client.get(served.url)).status_code == 200
    assert capfd.readouterr() == ("", "")


async def test_at_the_end_viewers_are_given_the_last_state_and_the_port_is_closed() -> None:
    board = Board()
    feed = board.add("", Feed("Four pours"))
    async with LivePage(board, Place(port=free_port())) as page:
        served = Served(board, page)
        reader, _ = await served.connect(served.asking("stream"))
        await events(reader, 1)
        feed.show(pouring(9.0, 45.0))
    rest = (await reader.read()).decode()
    assert '"poured_g":45.0' in rest
    assert "event: end" in rest
    await served.hang_up()
    with pytest.raises(OSError, match=r"refused|Connect call failed"):
        await served.connect()


async def test_cancelled_in_the_middle_it_leaves_the_port_closed() -> None:
    port, up = free_port(), asyncio.Event()

    async def serve() -> None:
        board = Board()
        board.add("", Feed())
        async with LivePage(board, Place(port=port)):
            up.set()
            await asyncio.Event().wait()

    serving = asyncio.create_task(serve())
    await up.wait()
    _, writer = await asyncio.open_connection(HOST, port)
    serving.cancel()
    with pytest.raises(asyncio.CancelledError):
        await serving
    with pytest.raises(OSError, match=r"refused|Connect call failed"):
        await asyncio.open_connection(HOST, port)
    writer.close()
    others = asyncio.all_tasks() - {asyncio.current_task()}
    assert not others


async def test_an_end_is_not_held_up_by_one_who_does_not_read() -> None:
    board = Board()
    feed = board.add("", Feed())
    loop = asyncio.get_running_loop()
    async with LivePage(board, Place(port=free_port())) as page:
        served = Served(board, page)
        lazy = socket.create_connection((HOST, page.port))
        lazy.sendall(served.asking("stream").encode())
        await until(lambda: board.watched == 1)
        for number in range(300):
            feed.show(pouring(number / 10, 4.0, title=f"{number}{2000 * 'x'}"))
            board.close() if number == 299 else board.wake()
            await asyncio.sleep(0)
        begun_s = loop.time()
    assert loop.time() - begun_s < 3.0  # a limit of one second, with room for a busy machine
    lazy.close()


async def test_a_port_in_use_is_told_and_without_one_the_next_is_taken() -> None:
    with socket.create_server((HOST, 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BadInputError, match=f"--page-port {port}: is in use already"):
            async with LivePage(Board(), Place(port=port)):
                pass
    async with LivePage(Board(), Place()) as one, LivePage(Board(), Place()) as other:
        assert one.port != other.port


@pytest.mark.parametrize("host", ["192.0.2.7", "no such host.invalid"])
async def test_an_address_of_another_machine_is_told(host: str) -> None:
    with pytest.raises(BadInputError, match="is no address of this machine"):
        async with LivePage(Board(), Place(host, free_port())):
            pass
