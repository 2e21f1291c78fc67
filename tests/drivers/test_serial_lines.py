"""The serial driver on real ports: pseudo-terminals and TCP, with stand-in instruments at the far end."""

from __future__ import annotations

import asyncio
import itertools
import math
import random
import statistics
import sys
import threading
import time
from pathlib import Path

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
from tests.drivers.listening import listen_to_the_end, open_descriptors, take, until
from tests.peers.balance import Balance, balance_line
from tests.peers.microcontroller import microcontroller_lines
from tests.peers.network_port import NetworkPort

pytest.importorskip("tests.peers.pty_instrument", reason="pseudo-terminals need POSIX")
PEERS = Path(__file__).parents[1] / "peers"


async def take_all(device):
    return [reading async for reading in device]


# Balance lines


async def test_every_weight_of_a_balance_arrives_once_and_in_order(instrument):
    weights = [round(number * 0.1, 1) for number in range(500)]
    async with open_device(f"serial:{instrument.port}", ChannelNames(weight="server")) as scale:
        instrument.start(Balance().lines(weights), rate_hz=1000)
        readings = await asyncio.wait_for(take(scale, 500), 10)
    assert [reading.value for reading in readings] == weights
    assert {reading.channel for reading in readings} == {"server"}
    assert readings[-1].status is Status.MOVING
    facts = scale.facts()
    assert (facts["driver"], facts["baud"], facts["lines_read"], facts["lines_rejected"]) == (
        "serial",
        9600,
        500,
        0,
    )


async def test_readings_are_stamped_when_they_arrive(instrument):
    sent_s = []

    def lines():
        for line in Balance().lines([0.0] * 21):
            yield line
            sent_s.append(time.monotonic())

    async with open_device(f"serial:{instrument.port}") as scale:
        start_s = time.monotonic()
        instrument.start(lines(), rate_hz=50)
        readings = await asyncio.wait_for(take(scale, 21), 10)
    assert start_s <= readings[0].time_s
    late_s = [reading.time_s - at_s for reading, at_s in zip(readings, sent_s, strict=False)]
    assert len(late_s) >= 20
    assert statistics.median(late_s) == pytest.approx(0.0, abs=0.05)


async def test_damaged_lines_are_counted_and_the_rest_goes_on(instrument):
    async with open_device(f"serial:{instrument.port}") as scale:
        instrument.write(
            balance_line(1.0) + b"\xff\xfe rubbish\r\n" + b"ST,GS,+ 2." + b"\n" + balance_line(3.0)
        )
        readings = await asyncio.wait_for(take(scale, 2), 5)
    assert [reading.value for reading in readings] == [1.0, 3.0]
    assert scale.facts()["lines_rejected"] == 2
    assert scale.facts()["last_rejected"].startswith("ST,GS,+ 2. (")


async def test_an_overloaded_scale_has_no_value(instrument):
    async with open_device(f"serial:{instrument.port}") as scale:
        instrument.write(b"OL,GS,+9999999 g\r\n")
        (reading,) = await asyncio.wait_for(take(scale, 1), 5)
    assert math.isnan(reading.value)
    assert not reading.status.has_value


async def test_tare_reaches_the_balance(instrument):
    async with open_device(f"serial:{instrument.port}?tare=T\\r\\n") as scale:
        assert scale.can_tare
        await scale.tare()
        assert instrument.received() == b"T\r\n"


async def test_a_balance_without_tare_text_says_so(instrument):
    async with open_device(f"serial:{instrument.port}") as scale:
        assert not scale.can_tare
        with pytest.raises(DeviceError, match="no tare command"):
            await scale.tare()


# Pattern lines


async def test_a_microcontroller_with_its_own_clock(instrument):
    lines = microcontroller_lines([10.0, 10.5, 11.25], 93.5, rate_hz=100)
    address = f"serial:{instrument.port}?baud=115200&pattern=time_ms,weight,kettle:temperature"
    readings = []
    async with open_device(address) as device, asyncio.timeout(10):
        arriving = aiter(device)
        for line in lines:  # the next one when this one was read: what comes together has one time
            instrument.write(line)
            readings += [await anext(arriving), await anext(arriving)]
    assert [(r.channel, r.value, r.device_time_s) for r in readings] == [
        ("scale", 10.0, 0.0),
        ("kettle", 93.5, 0.0),
        ("scale", 10.5, 0.01),
        ("kettle", 93.5, 0.01),
        ("scale", 11.25, 0.02),
        ("kettle", 93.5, 0.02),
    ]
    assert readings[0].time_s == readings[1].time_s < readings[2].time_s


async def test_a_port_opened_in_mid_line_gives_no_false_reading(instrument):
    async with open_device(f"serial:{instrument.port}?pattern=weight") as device:
        instrument.write(b"50.1\r\n250.2\r\n250.3\r\n")
        readings = await asyncio.wait_for(take(device, 2), 5)
    assert [reading.value for reading in readings] == [250.2, 250.3]
    assert device.facts()["first_line_cut"] is True


async def test_a_single_line_is_given_after_a_moment(instrument):
    async with open_device(f"serial:{instrument.port}?pattern=weight") as device:
        instrument.write(b"250.1\r\n")
        written_s = time.monotonic()
        (reading,) = await asyncio.wait_for(take(device, 1), 5)
    assert reading.value == 250.1
    assert reading.time_s == pytest.approx(written_s, abs=0.1)


async def test_a_held_line_comes_out_before_the_error(instrument):
    async with open_device(f"serial:{instrument.port}?pattern=weight") as device:
        instrument.write(b"250.1\r\n")
        asyncio.get_running_loop().call_later(0.2, instrument.unplug)
        readings, error = await listen_to_the_end(device)
    assert [reading.value for reading in readings] == [250.1]
    assert isinstance(error, DeviceLostError)


# What goes wrong


async def test_pulling_the_cable_is_a_lost_link_after_all_readings(instrument):
    seen = []
    async with open_device(f"serial:{instrument.port}") as scale:
        instrument.write(balance_line(1.0) + balance_line(2.0))
        with pytest.raises(DeviceLostError, match="the link broke"):
            async for reading in scale:
                seen.append(reading.value)
                if len(seen) == 2:
                    instrument.unplug()
        with pytest.raises(DeviceLostError):  # and stays one
            await asyncio.wait_for(take_all(scale), 5)
    assert seen == [1.0, 2.0]


async def test_a_tare_after_the_cable_was_pulled(instrument):
    async with open_device(f"serial:{instrument.port}?tare=T") as scale:
        instrument.unplug()
        with pytest.raises(DeviceLostError):
            await scale.tare()
            await scale.tare()  # the first may still go into the void


async def test_silence_is_an_error(instrument):
    async with open_device(f"serial:{instrument.port}?silent_s=0.2") as scale:
        with pytest.raises(DeviceSilentError, match=r"nothing has arrived for 0\.2 s"):
            await asyncio.wait_for(take_all(scale), 5)


async def test_silence_after_readings_is_an_error_too(instrument):
    async with open_device(f"serial:{instrument.port}?silent_s=0.3") as scale:
        instrument.write(balance_line(1.0))
        with pytest.raises(DeviceSilentError):
            await asyncio.wait_for(take_all(scale), 5)
        assert scale.facts()["lines_read"] == 1


async def test_a_wrong_baud_rate_is_told_from_its_garbage(instrument, monkeypatch):
    monkeypatch.setattr("drivers.decoders.line_reader.GARBAGE_S", 0.3)
    noise = random.Random(1)
    async with open_device(f"serial:{instrument.port}?baud=1200") as scale:
        instrument.start((noise.randbytes(20) for _ in itertools.count()), rate_hz=100)
        with pytest.raises(DeviceUnreadableError, match=r"\d+ bytes arrived .* at 1200 baud") as caught:
            await asyncio.wait_for(take_all(scale), 5)
    assert "baud=" in caught.value.remedy


async def test_an_unknown_unit_is_told(instrument, monkeypatch):
    monkeypatch.setattr("drivers.decoders.line_reader.GARBAGE_S", 0.3)
    async with open_device(f"serial:{instrument.port}") as scale:
        instrument.start(itertools.repeat(b"ST,GS,+  61.7 ct\r\n"), rate_hz=50)
        with pytest.raises(DeviceUnreadableError, match="unit 'ct' is not one of g, kg, oz, lb") as caught:
            await asyncio.wait_for(take_all(scale), 5)
    assert caught.value.remedy == "Switch the device to grams."


async def test_no_such_port():
    with pytest.raises(DeviceNotFoundError, match="no port /dev/ttyNOSUCH"):
        async with open_device("serial:/dev/ttyNOSUCH"):
            pass


async def test_a_port_in_use(instrument):
    with (
        serial.Serial(instrument.port, exclusive=True),
        pytest.raises(DeviceDeniedError, match="in use by another program"),
    ):
        async with open_device(f"serial:{instrument.port}"):
            pass


async def test_two_of_our_own_cannot_share_a_port(instrument):
    async with open_device(f"serial:{instrument.port}"):
        with pytest.raises(DeviceDeniedError, match="in use"):
            async with open_device(f"serial:{instrument.port}"):
                pass
    async with open_device(f"serial:{instrument.port}"):  # free again
        pass


async def test_a_file_is_no_port(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(AddressError, match="no serial port"):
        async with open_device(f"serial:{tmp_path}/file"):
            pass


# Lifetime


async def test_cancelling_closes_the_port(instrument):
    async def listen():
        async with open_device(f"serial:{instrument.port}") as scale:
            async for _ in scale:
                pass

    task = asyncio.create_task(listen())
    await until(instrument.listened_to)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert not instrument.listened_to()


async def test_cancelling_a_half_open_port_closes_it(instrument):
    device = open_device(f"serial:{instrument.port}")
    task = asyncio.create_task(device.__aenter__())
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    await asyncio.sleep(0.2)
    assert not instrument.listened_to()


async def test_a_port_can_be_opened_many_times_and_leaks_nothing(instrument):
    before = open_descriptors()
    for number in range(20):
        async with open_device(f"serial:{instrument.port}") as scale:
            instrument.write(balance_line(number))
            (reading,) = await asyncio.wait_for(take(scale, 1), 5)
            assert reading.value == number
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("evencup")]
    assert open_descriptors() <= before + 1


async def test_closing_twice_is_harmless(instrument):
    device = open_device(f"serial:{instrument.port}")
    async with device:
        assert instrument.listened_to()
    await device.__aexit__(None, None, None)
    assert not instrument.listened_to()


# Other transports of the same driver


async def test_a_network_port():
    opened = asyncio.Event()

    async def serve(_, writer):
        await opened.wait()  # pyserial throws away what comes before the socket is open
        writer.writelines(balance_line(number / 10) for number in range(2000))
        await writer.drain()
        writer.close()

    async with await asyncio.start_server(serve, "127.0.0.1", 0) as server:
        host, port = server.sockets[0].getsockname()
        async with open_device(f"serial:socket://{host}:{port}") as scale:
            opened.set()
            readings, error = await asyncio.wait_for(listen_to_the_end(scale), 5)
    assert [reading.value for reading in readings] == [number / 10 for number in range(2000)]
    assert isinstance(error, DeviceLostError)
    assert "the other side closed" in error.what


async def test_nobody_listens_on_the_network_port():
    with pytest.raises(DeviceNotFoundError, match="nothing listens at"):
        async with open_device("serial:socket://127.0.0.1:9"):
            pass


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial 3.5's own
async def test_a_port_shared_by_rfc_2217():
    with NetworkPort() as shared:
        async with open_device(f"serial:{shared.url}?baud=19200") as scale:
            shared.send(balance_line(1.5) + balance_line(2.5))
            readings = await asyncio.wait_for(take(scale, 2), 5)
            assert shared.baud == 19200
    assert [reading.value for reading in readings] == [1.5, 2.5]


async def test_a_port_without_descriptor_is_polled():
    async with open_device("serial:loop://?tare=ST,GS,+ 12.5 g\\r\\n") as echo:
        await echo.tare()
        (reading,) = await asyncio.wait_for(take(echo, 1), 5)
    assert reading.value == 12.5


# Addresses


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ("speed=9600", "unknown option 'speed'"),
        ("baud=fast", "baud=fast"),
        ("parity=x", "parity=x"),
        ("lines=telegram", "lines=telegram"),
        ("lines=pattern", "do not go together"),
        ("lines=balance&pattern=weight", "do not go together"),
        ("pattern=wieght", "character 1"),
        ("tare=\\q", "is not known"),
        ("tare=T\\", "is not known"),
        ("silent_s=0", "silent_s=0"),
    ],
)
def test_wrong_options_are_refused_before_anything_is_opened(options, what):
    with pytest.raises(AddressError, match=what):
        open_device(f"serial:/dev/ttyUSB0?{options}")


@pytest.mark.parametrize("target", ["socket://host", "rfc2217://:4000", "socket://host:many"])
def test_a_network_port_needs_host_and_port(target):
    with pytest.raises(AddressError, match="host or port is missing"):
        open_device(f"serial:{target}")


async def test_a_scheme_pyserial_does_not_know():
    with pytest.raises(AddressError, match="telepathy"):
        async with open_device("serial:telepathy://x"):
            pass


# The stand-ins as programs


@pytest.mark.parametrize(
    ("program", "options"),
    [("balance.py", ""), ("microcontroller.py", "?pattern=time_ms,weight,temperature")],
)
async def test_the_stand_ins_run_as_programs(tmp_path, program, options):
    weights = tmp_path / "weights.txt"
    weights.write_text("0\n10.5\n20.5\n", encoding="utf-8")
    command = [sys.executable, str(PEERS / program), "--rate", "100", "--weights-from", str(weights)]
    peer = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
    try:
        port = (await peer.stdout.readline()).decode().strip()
        async with open_device(f"serial:{port}{options}") as device:
            readings = await asyncio.wait_for(take(device, 12), 10)
    finally:
        peer.terminate()
        await peer.communicate()
    assert [r.value for r in readings if r.channel == "scale"][:4] == [0.0, 10.5, 20.5, 20.5]
