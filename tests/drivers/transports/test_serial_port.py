from __future__ import annotations

import asyncio
import socket
import threading

import pytest

from drivers import DeviceLostError, DeviceNotFoundError
from drivers.transports import serial_port, threaded_port
from drivers.transports.serial_port import PortSettings, SerialPort

pytest.importorskip("tests.peers.pty_instrument", reason="pseudo-terminals need POSIX")


def port_of(instrument) -> SerialPort:
    return SerialPort("serial:x", instrument.port, PortSettings())


async def read_bytes(port: SerialPort, count: int) -> bytes:
    data = b""
    while len(data) < count:
        data += (await port.read()).data
    return data


async def test_every_byte_arrives_once_and_in_order(instrument):
    sent = bytes(range(256)) * 400
    port = port_of(instrument)
    await port.open()
    writer = threading.Thread(target=instrument.write, args=(sent,))
    writer.start()
    assert await asyncio.wait_for(read_bytes(port, len(sent)), 10) == sent
    writer.join()
    await port.close()
    assert port.stalls == 0


async def test_a_reader_that_does_not_keep_up_loses_nothing_and_is_told(instrument, monkeypatch):
    monkeypatch.setattr(serial_port, "_WAITING_CHUNKS", 3)
    port = port_of(instrument)
    await port.open()
    sent = bytes(range(256)) * 200
    writer = threading.Thread(target=instrument.write, args=(sent,))
    writer.start()
    async with asyncio.timeout(5):
        while not port.stalls:  # noqa: ASYNC110  # counted by the thread
            await asyncio.sleep(0.01)
    assert await asyncio.wait_for(read_bytes(port, len(sent)), 10) == sent
    writer.join()
    await port.close()


async def test_closing_does_not_wait_for_a_reader_that_has_stopped(instrument, monkeypatch):
    monkeypatch.setattr(serial_port, "_WAITING_CHUNKS", 1)
    port = port_of(instrument)
    await port.open()
    instrument.write(b"a")
    await asyncio.sleep(0.05)
    instrument.write(b"b")
    await asyncio.sleep(0.05)
    await asyncio.wait_for(port.close(), 1)
    assert not instrument.listened_to()


async def test_the_lost_link_wakes_a_reader(instrument):
    port = port_of(instrument)
    await port.open()
    reader = asyncio.create_task(port.read())
    await asyncio.sleep(0.05)
    instrument.unplug()
    with pytest.raises(DeviceLostError):
        await asyncio.wait_for(reader, 2)
    await port.close()


async def test_writes_after_closing_are_refused(instrument):
    port = port_of(instrument)
    await port.open()
    await port.close()
    with pytest.raises(DeviceLostError):
        await port.write(b"T")


async def test_a_peer_that_never_accepts_ends_in_time(monkeypatch):
    monkeypatch.setattr(threaded_port, "OPEN_TIMEOUT_S", 0.2)
    with socket.socket() as full:
        full.bind(("127.0.0.1", 0))
        full.listen(0)
        address = full.getsockname()
        waiting = [socket.socket() for _ in range(3)]  # the queue is full: further connections hang
        for one in waiting:
            one.setblocking(False)
            one.connect_ex(address)
        await asyncio.sleep(0.05)
        port = SerialPort("serial:x", f"socket://{address[0]}:{address[1]}", PortSettings())
        with pytest.raises(DeviceNotFoundError, match=r"did not open within 0\.2 s"):
            await port.open()
        for one in waiting:
            one.close()
    await asyncio.wait_for(asyncio.to_thread(port._thread.join), 6)
