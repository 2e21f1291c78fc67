"""The Modbus driver against pymodbus' own server, in a process of its own, over TCP and pseudo-terminals."""

from __future__ import annotations

import asyncio
import math
import socket
import sys
import threading
import time

import pytest
import serial

from drivers import (
    AddressError,
    ChannelNames,
    DeviceDeniedError,
    DeviceError,
    DeviceLostError,
    DeviceNotFoundError,
    DeviceSilentError,
    DeviceUnreadableError,
    Status,
    open_device,
)
from drivers.supervised import Patience, Supervised
from tests.drivers.listening import listen_to_the_end, open_descriptors, take

modbus_unit = pytest.importorskip("tests.peers.modbus_unit", reason="pseudo-terminals need POSIX")
ModbusUnit = modbus_unit.ModbusUnit

LINKS = {"tcp": (), "rtu": ("--rtu",), "rtu over tcp": ("--rtu", "--tcp")}
WEIGHT = "weight=holding:0:int32:0.01"
WEIGHTS_G = [0.0, 10.57, 20.29, 250.0, 2500.0]


@pytest.fixture(scope="module")
def unit(tmp_path_factory):
    """A unit on TCP that answers for itself alone, with 250 g on it."""
    with ModbusUnit(weights_g=[250.0], folder=tmp_path_factory.mktemp("unit")) as one:
        yield one


@pytest.fixture(scope="module")
def line(tmp_path_factory):
    """A unit on a serial line, with 250 g on it; others on the line stay silent."""
    with ModbusUnit("--rtu", weights_g=[250.0], folder=tmp_path_factory.mktemp("line")) as one:
        yield one


def reach(unit, options: str, names: ChannelNames | None = None):
    return open_device(f"modbus:{unit.place}?every_ms=20&{options}", names)


async def first(unit, options: str):
    async with reach(unit, options) as device:
        (reading,) = await asyncio.wait_for(take(device, 1), 5)
    return reading


# Values


@pytest.mark.parametrize("options", LINKS.values(), ids=LINKS)
async def test_values_that_change_while_they_are_read(options, tmp_path):
    address = f"{WEIGHT}&weight_status=input:11:stable=0,overload=3&temperature=input:10:int16:0.1"
    with ModbusUnit(*options, weights_g=WEIGHTS_G, folder=tmp_path) as unit:
        async with reach(unit, address, ChannelNames("server", "kettle")) as device:
            start_s = time.monotonic()
            readings = await asyncio.wait_for(take(device, 12), 10)
        facts = device.facts()
    weights = [reading for reading in readings if reading.channel == "server"]
    assert [reading.value for reading in weights[:4]] == WEIGHTS_G[:4]
    assert [reading.status for reading in weights[:4]] == [Status.STABLE, *[Status.MOVING] * 3]
    assert weights[4].status is Status.OVERLOAD
    assert math.isnan(weights[4].value)
    kettle = [(r.value, r.unit) for r in readings if r.channel == "kettle"]
    assert kettle == [(93.5, "°C")] * 6
    times_s = [reading.time_s for reading in readings]
    assert times_s == sorted(times_s)
    assert times_s[0] >= start_s
    assert times_s[-1] - times_s[0] >= 5 * 0.02 * 0.9
    assert (facts["driver"], facts["unit"], facts["requests"], facts["requests_failed"]) == (
        "modbus",
        1,
        12,
        0,
    )
    assert device.steps == {"server": 0.01, "kettle": 0.1}


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("weight=holding:0:int32:0.01", 250.0),
        ("weight=holding:2:int32:0.01:little", 250.0),
        ("weight=holding:2:int32:0.01:cdab", 250.0),
        ("units=kg&weight=holding:4:float32", 250.0),
        ("weight=40001:int32:0.01", 250.0),
        ("weight=holding:1:uint16:0.01&weight_offset=-0.5", 249.5),
        ("temperature=input:10:int16:0.1", 93.5),
        ("temperature=30011:int16:0.1", 93.5),
        ("units=F&temperature=input:12:float32", 93.5),
    ],
)
async def test_each_way_of_holding_a_number(unit, where, value):
    # A float32 of kg or °F holds about seven digits (IEEE 754).
    assert (await first(unit, where)).value == pytest.approx(value, abs=1e-5)


@pytest.mark.parametrize(
    "where",
    [
        "temperature=holding:6:float32",
        "weight=holding:10:int16&weight_none=0x8000",
        "temperature=holding:10:int16:0.1",  # -3276.8 degrees
    ],
)
async def test_what_is_no_value_is_an_error_and_not_a_number(unit, where):
    reading = await first(unit, where)
    assert math.isnan(reading.value)
    assert reading.status is Status.ERROR


async def test_many_channels_of_one_unit(line):
    where = f"{WEIGHT}&weight2=holding:2:int32:0.01:little&weight3=cup@holding:4:float32:1000"
    async with reach(line, where) as device:
        readings = await asyncio.wait_for(take(device, 6), 5)
    assert [reading.channel for reading in readings] == ["scale", "scale2", "cup"] * 2
    assert {reading.value for reading in readings} == {250.0}
    assert readings[2].time_s > readings[0].time_s
    assert device.steps == {"scale": 0.01, "scale2": 0.01}


@pytest.mark.parametrize("tare", ["coil:5", "holding:8:1", "40009:1"])
async def test_tare(tare, tmp_path):
    with ModbusUnit(weights_g=[250.0], folder=tmp_path) as unit:
        async with reach(unit, f"{WEIGHT}&tare={tare}") as device:
            assert device.can_tare
            before = await asyncio.wait_for(take(device, 1), 5)
            await device.tare()
            after = await asyncio.wait_for(take(device, 1), 5)
    assert [before[0].value, after[0].value] == [250.0, 0.0]


async def test_a_unit_without_tare_says_so(unit):
    async with reach(unit, WEIGHT) as device:
        assert not device.can_tare
        with pytest.raises(DeviceError, match="no tare command"):
            await device.tare()


async def test_a_tare_that_is_refused(unit):
    async with reach(unit, f"{WEIGHT}&tare=coil:500") as device:
        with pytest.raises(DeviceError, match=r"the tare failed: unit 1 has no coil 500, .* \(exception 2\)"):
            await device.tare()


async def test_a_tare_while_readings_come(line):
    async with reach(line, f"{WEIGHT}&tare=coil:4") as device:
        reading = asyncio.create_task(take(device, 20))
        for _ in range(5):
            await device.tare()
        assert len(await asyncio.wait_for(reading, 10)) == 20
        assert device.facts()["requests_failed"] == 0


# What goes wrong


@pytest.mark.parametrize(
    ("where", "what", "remedy"),
    [
        ("weight=holding:500:int16", "unit 1 has no holding register 500", "40001 is holding:0"),
        ("weight=input:20:int16", "reports a failure for input register 20", "Check unit="),
        ("unit=9&weight=holding:0:int16", "or there is no such unit (exception 4)", "Check unit="),
    ],
)
async def test_a_refusal_names_register_and_unit(unit, where, what, remedy):
    async with reach(unit, where) as device:
        readings, error = await asyncio.wait_for(listen_to_the_end(device), 5)
    assert isinstance(error, DeviceUnreadableError)
    assert what in error.what
    assert remedy in error.remedy
    assert not [reading for reading in readings if reading.status.has_value]


async def test_a_unit_that_does_not_answer(line):
    async with reach(line, f"unit=9&timeout_s=0.1&{WEIGHT}") as device:
        readings, error = await asyncio.wait_for(listen_to_the_end(device), 5)
    assert readings == []
    assert isinstance(error, DeviceSilentError)
    assert "unit 9 gave no readable answer for holding register 0" in error.what
    assert "unit=, baud= (now 9600), parity=" in error.remedy
    assert device.facts()["requests_failed"] == 3


async def test_a_busy_unit_is_asked_again(tmp_path):
    with ModbusUnit("--busy-every", "3", weights_g=[250.0], folder=tmp_path) as unit:
        async with reach(unit, WEIGHT) as device:
            readings = await asyncio.wait_for(take(device, 30), 10)
    assert [r.status for r in readings].count(Status.ERROR) == 10
    assert {r.value for r in readings if r.status.has_value} == {250.0}
    assert device.facts()["requests_failed"] == 10
    assert "is busy" in device.facts()["last_failure"]


@pytest.mark.parametrize("options", LINKS.values(), ids=LINKS)
async def test_a_unit_that_dies_is_a_lost_link(options, tmp_path):
    with ModbusUnit(*options, weights_g=[250.0], folder=tmp_path) as unit:
        async with reach(unit, f"timeout_s=0.3&{WEIGHT}") as device:
            assert len(await asyncio.wait_for(take(device, 3), 5)) == 3
            unit.kill()
            _, error = await asyncio.wait_for(listen_to_the_end(device), 5)
            with pytest.raises(DeviceLostError):
                await asyncio.wait_for(take(device, 1), 5)  # and stays one
    assert isinstance(error, DeviceLostError)


async def test_a_unit_that_falls_silent_is_lost_though_the_link_is_open():
    """A peer that takes requests and answers the first few only."""
    answers, gone = 4, asyncio.Event()

    async def serve(reader, writer):
        number = 0
        while request := await reader.read(260):
            number += 1
            if number <= answers:
                writer.write(request[:4] + bytes([0, 5, 1, 3, 2, 0, 7]))
        writer.close()
        await writer.wait_closed()
        gone.set()

    async with await asyncio.start_server(serve, "127.0.0.1", 0) as server:
        host, port = server.sockets[0].getsockname()
        address = f"modbus:tcp://{host}:{port}?every_ms=10&timeout_s=0.05&weight=holding:0:int16"
        async with open_device(address) as device:
            readings, error = await asyncio.wait_for(listen_to_the_end(device), 5)
        async with open_device(f"{address}&silent_s=0.1") as device:
            gone.clear()
            _, silent = await asyncio.wait_for(listen_to_the_end(device), 5)
        await asyncio.wait_for(gone.wait(), 5)
    assert [reading.value for reading in readings] == [7] * answers
    assert isinstance(error, DeviceLostError)
    assert "unit 1 has stopped answering, 5 times in a row" in error.what
    assert isinstance(silent, DeviceSilentError)


async def test_no_such_port():
    with pytest.raises(DeviceNotFoundError, match="no port /dev/ttyNOSUCH"):
        async with open_device(f"modbus:/dev/ttyNOSUCH?{WEIGHT}"):
            pass


async def test_a_port_in_use(line):
    with serial.Serial(line.place, exclusive=True), pytest.raises(DeviceDeniedError, match="in use"):
        async with reach(line, WEIGHT):
            pass


async def test_a_file_is_no_port(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(AddressError, match="no serial port"):
        async with open_device(f"modbus:{tmp_path}/file?{WEIGHT}"):
            pass


async def test_nothing_listens_there():
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    with pytest.raises(DeviceNotFoundError, match="nothing listens at tcp://127"):
        async with open_device(f"modbus:tcp://127.0.0.1:{port}?{WEIGHT}"):
            pass


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux leaves a caller waiting at a full queue")
async def test_a_host_that_does_not_answer():
    with socket.create_server(("127.0.0.1", 0), backlog=0) as full:
        port = full.getsockname()[1]
        callers = [socket.socket() for _ in range(4)]
        for caller in callers:
            caller.setblocking(False)
            caller.connect_ex(("127.0.0.1", port))
        with pytest.raises(DeviceNotFoundError, match="does not answer"):
            async with open_device(f"modbus:tcp://127.0.0.1:{port}?timeout_s=0.2&{WEIGHT}"):
                pass
        for caller in callers:
            caller.close()


async def test_no_such_host():
    with pytest.raises(DeviceNotFoundError, match=r"is not known|does not answer"):
        async with open_device(f"modbus:tcp://no-such-host.invalid:502?{WEIGHT}"):
            pass


async def test_pymodbus_prints_nothing_over_the_screen(capfd):
    with pytest.raises(DeviceNotFoundError):
        async with open_device(f"modbus:/dev/ttyNOSUCH?{WEIGHT}"):
            pass
    assert capfd.readouterr() == ("", "")


# Lifetime


@pytest.mark.parametrize("kind", ["unit", "line"])
async def test_cancelling_closes_the_link(kind, request):
    peer = request.getfixturevalue(kind)
    before = open_descriptors()
    began = asyncio.Event()

    async def listen():
        async with reach(peer, WEIGHT) as device:
            async for _ in device:
                began.set()

    task = asyncio.create_task(listen())
    await asyncio.wait_for(began.wait(), 5)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    await asyncio.sleep(0)
    assert open_descriptors() <= before
    assert asyncio.all_tasks() == {asyncio.current_task()}


@pytest.mark.parametrize("kind", ["unit", "line"])
@pytest.mark.parametrize("turns", range(6))
async def test_cancelling_a_half_open_link_closes_it(kind, turns, request):
    peer = request.getfixturevalue(kind)
    before = open_descriptors()
    device = reach(peer, WEIGHT)
    task = asyncio.create_task(device.__aenter__())
    for _ in range(turns):
        await asyncio.sleep(0)
    task.cancel()
    outcome = (await asyncio.gather(task, return_exceptions=True))[0]
    assert outcome is device or isinstance(outcome, asyncio.CancelledError)
    await device.__aexit__(None, None, None)
    await asyncio.sleep(0.02)
    assert open_descriptors() <= before
    assert asyncio.all_tasks() == {asyncio.current_task()}


async def test_a_cancellation_that_arrives_with_the_answer_is_not_swallowed(unit):
    async with reach(unit, WEIGHT) as device:
        task = asyncio.create_task(take(device, 1000))
        context = device._link._client.ctx
        arrived = context.callback_data

        def cancel_too(data, addr=None):
            used = arrived(data, addr)
            task.cancel()
            return used

        context.callback_data = cancel_too
        with pytest.raises(asyncio.CancelledError):
            await asyncio.wait_for(asyncio.shield(task), 2)
        assert task.cancelled()


async def test_a_device_can_be_entered_again_and_leaks_nothing(line):
    device = reach(line, WEIGHT)
    before = open_descriptors()
    for _ in range(10):
        async with device:
            (reading,) = await asyncio.wait_for(take(device, 1), 5)
            assert reading.value == 250.0
    assert open_descriptors() <= before
    assert device.facts()["requests"] == 10
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("evencup")]


async def test_closing_twice_is_harmless(unit):
    device = reach(unit, WEIGHT)
    async with device:
        pass
    await device.__aexit__(None, None, None)
    async with device:  # and it is as good as new
        (reading,) = await asyncio.wait_for(take(device, 1), 5)
    assert reading.value == 250.0


async def test_a_unit_that_comes_back_goes_on(tmp_path):
    with ModbusUnit(weights_g=[250.0], folder=tmp_path) as unit:
        address = f"modbus:{unit.place}?every_ms=20&timeout_s=0.3&{WEIGHT}"
        async with Supervised(address, patience=Patience(first_s=0.2, longest_s=0.3)) as device:
            assert (await asyncio.wait_for(take(device, 3), 5))[-1].value == 250.0
            unit.kill()
            lost = await asyncio.wait_for(take(device, 1), 5)
            while lost[-1].status is not Status.LOST:
                lost = await asyncio.wait_for(take(device, 1), 5)
            port = unit.place.rpartition(":")[2]
            with ModbusUnit("--port", port, weights_g=[300.0], folder=tmp_path):
                async with asyncio.timeout(10):
                    async for reading in device:
                        if reading.status.has_value:
                            break
    assert reading.value == 300.0
    assert len(device.outages) == 1


async def test_the_stand_in_says_what_it_holds():
    peer = await asyncio.create_subprocess_exec(
        modbus_unit.sys.executable, modbus_unit.__file__, "--layout", stdout=asyncio.subprocess.PIPE
    )
    out, _ = await peer.communicate()
    assert out.decode() == modbus_unit.LAYOUT
