"""Described devices and devices that answer, at the far end of real pseudo-terminals."""

from __future__ import annotations

import asyncio
import itertools
import math
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from drivers import (
    AddressError,
    ChannelNames,
    DeviceError,
    DeviceLostError,
    DeviceSilentError,
    DeviceUnreadableError,
    Status,
    open_device,
)
from drivers.described import DescriptionError
from drivers.supervised import Patience, Supervised
from tests.drivers.listening import take, until
from tests.peers import counter_scale, framed_scale
from tests.peers.framed_scale import FramedScale, frame
from tests.peers.polled import NOT_A_NUMBER, PolledPort, PolledThermometer, number

pty_instrument = pytest.importorskip("tests.peers.pty_instrument", reason="pseudo-terminals need POSIX")
PEERS = Path(__file__).parents[1] / "peers"


@pytest.fixture
def description(tmp_path) -> Path:
    path = tmp_path / "scale.toml"
    path.write_text(framed_scale.DESCRIPTION, encoding="utf-8")
    return path


@contextmanager
def thermometer(answer, delay_s: float = 0.0):
    with PolledPort(PolledThermometer(answer), delay_s) as port:
        yield port


# Frames


async def test_every_frame_of_a_described_scale_arrives_once_and_in_order(instrument, description):
    weights = [round(step * 0.01, 2) for step in range(-100, 300)]
    async with open_device(f"serial:{instrument.port}?described={description}") as device:
        assert instrument.received() == framed_scale.START
        instrument.start((frame(weight, 93.4) for weight in weights), rate_hz=1000)
        readings = await asyncio.wait_for(take(device, 800), 10)
    assert [r.value for r in readings if r.channel == "scale"] == weights
    assert {(r.channel, r.value) for r in readings if r.unit == "°C"} == {("thermometer", 93.4)}
    facts = device.facts()
    assert (facts["lines"], facts["lines_read"], facts["lines_rejected"]) == ("frames", 400, 0)
    assert facts["described"] == "a scale with frames"
    assert device.steps == {"scale": 0.01, "thermometer": 0.1}


async def test_lines_with_a_check_are_read_and_damaged_ones_are_not(instrument, tmp_path):
    path = tmp_path / "scale.toml"
    path.write_text(counter_scale.DESCRIPTION, encoding="utf-8")
    sent = [counter_scale.line(step * 0.1) for step in range(100)]
    sent[20:30] = [line.replace(b".", b"9") for line in sent[20:30]]
    async with open_device(f"serial:{instrument.port}?described={path}") as device:
        instrument.start(sent, rate_hz=500)
        readings = await asyncio.wait_for(take(device, 90), 10)
    assert [r.value for r in readings] == [round(step * 0.1, 1) for step in (*range(20), *range(30, 100))]
    facts = device.facts()
    assert (facts["lines"], facts["lines_read"], facts["lines_rejected"]) == ("pattern", 90, 10)
    assert "checksum" in facts["last_rejected"]


async def test_a_described_scale_is_started_kept_awake_and_tared(instrument, description, monkeypatch):
    monkeypatch.setattr(framed_scale, "AWAKE_S", 0.8)
    scale = FramedScale()
    sending = asyncio.get_running_loop().run_in_executor(
        None, lambda: instrument.send_lines(scale.frames([50.0] * 150), 100, 0.0, scale.take_command)
    )
    async with open_device(f"serial:{instrument.port}?described={description}") as device:
        assert device.can_tare
        first = await asyncio.wait_for(take(device, 2), 5)
        await device.tare()
        rest = await asyncio.wait_for(take(device, 240), 10)
    await sending
    assert first[0].value == 50.0
    assert rest[-2].value == 0.0
    assert scale.commands[0] == framed_scale.START
    assert framed_scale.AWAKE in scale.commands
    assert framed_scale.TARE in scale.commands


async def test_damaged_frames_are_dropped_and_counted(instrument, description):
    async with open_device(f"serial:{instrument.port}?described={description}") as device:
        instrument.write(frame(1.0)[3:] + frame(2.0) + frame(3.0)[:-1] + b"\x00" + b"noise" + frame(4.0))
        readings = await asyncio.wait_for(take(device, 4), 5)
    assert [r.value for r in readings if r.channel == "scale"] == [2.0, 4.0]
    assert device.facts()["lines_rejected"] == 2
    assert "its checksum is wrong" in device.facts()["last_rejected"]


async def test_the_address_goes_before_the_description(instrument, description):
    async with open_device(f"serial:{instrument.port}?described={description}&baud=115200") as device:
        assert device.facts()["baud"] == 115200


async def test_nothing_but_garbage_names_the_description(instrument, description, monkeypatch):
    monkeypatch.setattr("drivers.decoders.line_reader.GARBAGE_S", 0.3)
    async with open_device(f"serial:{instrument.port}?described={description}") as device:
        instrument.start(itertools.repeat(b"ST,GS,+  61.7 g\r\n" * 3), rate_hz=50)
        with pytest.raises(DeviceUnreadableError, match="no frame could be read") as caught:
            await asyncio.wait_for(take(device, 1), 5)
    assert "correct the description" in caught.value.remedy


async def test_a_start_command_that_cannot_be_sent_is_named_and_the_port_closed(instrument, tmp_path):
    path = tmp_path / "scale.toml"
    path.write_text(framed_scale.DESCRIPTION.replace("[0x01]", '"WAKE\\r\\n"'), encoding="utf-8")
    device = open_device(f"serial:{instrument.port}?described={path}")

    async def refuse(_: bytes) -> None:
        raise DeviceLostError(device.address, "it takes no bytes", "Check the cable.")

    device._port.write = refuse
    with pytest.raises(DeviceLostError, match=r"it takes no bytes, at the start command 'WAKE\\r\\n'"):
        async with device:
            pass
    await until(lambda: not instrument.listened_to())


# Unplugging


async def test_unplugging_and_plugging_in_behind_the_same_name(tmp_path, description):
    link = tmp_path / "by-id"
    first, second = pty_instrument.PtyInstrument(), pty_instrument.PtyInstrument()
    with first, second:
        link.symlink_to(first.port)
        readings = []
        patience = Patience(first_s=0.05, longest_s=0.2)
        async with Supervised(f"serial:{link}?described={description}", patience=patience) as device:
            first.write(frame(1.0))
            async with asyncio.timeout(10):
                async for reading in device:
                    readings.append(reading)
                    if len(readings) == 2:
                        first.unplug()
                        link.unlink()
                    elif reading.status is Status.LOST and not link.is_symlink():
                        link.symlink_to(second.port)
                        second.start([frame(2.0)], 10, settle_s=0.2)
                    elif reading.value == 2.0:
                        break
    assert [r.value for r in readings if r.channel == "scale" and r.status.has_value] == [1.0, 2.0]
    assert {r.channel for r in readings if r.status is Status.LOST} == {"scale", "thermometer"}


async def test_a_device_can_be_opened_a_second_time(tmp_path, description):
    link = tmp_path / "by-id"
    first, second = pty_instrument.PtyInstrument(), pty_instrument.PtyInstrument()
    with first, second:
        link.symlink_to(first.port)
        device = open_device(f"serial:{link}?described={description}")
        async with device:
            first.write(frame(1.0) + frame(2.0)[:5])
            assert [r.value for r in await take(device, 2)] == [1.0, 21.5]
            first.unplug()
            with pytest.raises(DeviceLostError):
                await asyncio.wait_for(take(device, 1), 5)
        link.unlink()
        link.symlink_to(second.port)
        async with device:
            assert second.received() == framed_scale.START
            second.write(frame(3.0))
            assert [r.value for r in await take(device, 2)] == [3.0, 21.5]
        assert device.facts()["lines_read"] == 2


# Asking and answering


async def test_a_thermometer_is_asked_and_answers():
    temperatures = [90.0 + tenth / 10 for tenth in range(1, 9)]
    with thermometer(lambda n: number(temperatures[(n - 1) % 8])) as peer:
        address = f"serial:{peer.port}?lines=scpi&poll=MEAS:TEMP?\\n&every_ms=50"
        async with open_device(address, ChannelNames(temperature="kettle")) as device:
            start_s = time.monotonic()
            readings = await asyncio.wait_for(take(device, 8), 10)
    assert [(r.channel, r.value, r.unit) for r in readings] == [("kettle", t, "°C") for t in temperatures]
    assert readings[-1].time_s - start_s >= 0.34
    asked_s = peer.thermometer.requests
    assert all(later - earlier > 0.02 for earlier, later in itertools.pairwise(asked_s))
    assert device.facts()["requests"] >= 8


async def test_a_slow_thermometer_is_not_asked_twice_before_it_answers():
    with thermometer(lambda _: number(93.4), delay_s=0.15) as peer:
        async with open_device(f"serial:{peer.port}?lines=scpi&poll=MEAS:TEMP?\\n&every_ms=20") as device:
            await asyncio.wait_for(take(device, 4), 10)
    assert peer.thermometer.overlapped == 0
    assert len(peer.thermometer.requests) <= 5


async def test_an_answer_that_stays_out_is_counted_and_asked_for_again(monkeypatch):
    monkeypatch.setattr("drivers.polling.ANSWER_S", 0.2)
    with thermometer(lambda n: None if n in (2, 3) else number(93.4)) as peer:
        async with open_device(f"serial:{peer.port}?lines=scpi&poll=MEAS:TEMP?\\n&every_ms=50") as device:
            readings = await asyncio.wait_for(take(device, 3), 10)
            assert device.facts()["unanswered"] == 2
    assert len(readings) == 3


async def test_several_probes_and_one_that_is_not_there():
    with thermometer(lambda _: f"{number(93.4)},{NOT_A_NUMBER}") as peer:
        async with open_device(f"serial:{peer.port}?lines=scpi&poll=MEAS:TEMP?\\n&unit=F") as device:
            one, two = await asyncio.wait_for(take(device, 2), 10)
    assert (one.channel, two.channel) == ("thermometer", "thermometer2")
    assert one.value == pytest.approx((93.4 - 32) / 1.8)
    assert math.isnan(two.value)
    assert two.status is Status.ERROR


async def test_a_request_that_the_device_does_not_know():
    with thermometer(lambda _: number(93.4)) as peer:
        address = f"serial:{peer.port}?lines=scpi&poll=READ?\\n&every_ms=50&silent_s=0.5"
        async with open_device(address) as device:
            with pytest.raises(DeviceSilentError, match=r"no answer to 'READ\?\\n' for 0\.5 s"):
                await asyncio.wait_for(take(device, 1), 5)
    assert peer.thermometer.unknown[0] == b"READ?"


async def test_an_answer_that_is_no_number_is_told_with_its_request(monkeypatch):
    monkeypatch.setattr("drivers.decoders.line_reader.GARBAGE_S", 0.2)
    with thermometer(lambda _: number(93.4)) as peer:
        async with open_device(f"serial:{peer.port}?lines=scpi&poll=*IDN?\\n&every_ms=50") as device:
            with pytest.raises(
                DeviceUnreadableError, match=r"it answers 'BENCH,THERMOMETER,0,1' to '\*IDN\?"
            ):
                await asyncio.wait_for(take(device, 1), 5)


async def test_the_first_answer_is_believed_at_once():
    with thermometer(lambda _: "3.4") as peer:
        async with open_device(
            f"serial:{peer.port}?pattern=temperature&poll=MEAS:TEMP?\\n&every_ms=60000"
        ) as it:
            start_s = time.monotonic()
            (reading,) = await asyncio.wait_for(take(it, 1), 5)
    assert reading.value == 3.4
    assert time.monotonic() - start_s < 1.5  # no second line was waited for


async def test_a_described_thermometer_is_asked_too(tmp_path):
    path = tmp_path / "thermometer.toml"
    path.write_text(
        'name = "bench thermometer"\nkind = "serial-lines"\nstart = "*RST\\n"\n'
        'poll = { send = "MEAS:TEMP?\\n", every_ms = 50 }\n'
        '[lines]\nscpi = "temperature"\nunit = "K"\n',
        encoding="utf-8",
    )
    with thermometer(lambda _: "366.55") as peer:
        async with open_device(f"serial:{peer.port}?described={path}") as device:
            (reading,) = await asyncio.wait_for(take(device, 1), 5)
    assert reading.value == pytest.approx(93.4)
    assert peer.thermometer.unknown == [b"*RST"]


async def test_raw_counts_over_a_port(instrument):
    address = f"serial:{instrument.port}?pattern=counts&zero=8400&counts_per_g=421.3"
    async with open_device(address) as device:
        instrument.write(b"8400\r\n8400\r\n92660\r\n")
        readings = await asyncio.wait_for(take(device, 3), 5)
    assert [r.value for r in readings] == [0.0, 0.0, pytest.approx(200.0)]
    assert device.steps == {"scale": 1 / 421.3}


async def test_the_keep_alive_of_a_description_is_written_while_data_arrive(instrument, description):
    async with open_device(f"serial:{instrument.port}?described={description}") as device:
        assert instrument.received() == framed_scale.START
        heard = []
        frames = [frame(0.0)] * 130
        sending = asyncio.get_running_loop().run_in_executor(
            None, instrument.send_lines, frames, 100, 0.0, heard.append
        )
        await asyncio.wait_for(take(device, 260), 10)
    await sending
    assert len(b"".join(heard)) >= 2
    assert set(heard) == {framed_scale.AWAKE}


async def test_without_a_description_nothing_is_written(instrument):
    async with open_device(f"serial:{instrument.port}?pattern=weight") as device:
        instrument.start((b" 1.0\r\n" for _ in range(50)), rate_hz=100)
        await asyncio.wait_for(take(device, 40), 5)
        assert instrument.received(0.2) == b""


# Addresses


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ("every_ms=500", "nothing says what to send"),
        ("poll=R&every_ms=1", "every_ms=1 is not a number from 10"),
        ("poll=R\\q", r"'\\q' in poll= is not known"),
        ("lines=scpi&unit=g", "unit=g is no unit of a temperature"),
        ("lines=scpi&quantity=weight&unit=C", "unit=C is no unit of a weight"),
        ("lines=scpi&quantity=mass", "quantity=mass is not known"),
        ("lines=balance&unit=g", "unit= and lines=balance do not go together"),
        ("lines=scpi&pattern=weight", "do not go together"),
        ("zero=8400", "zero= and lines=balance do not go together"),
        ("pattern=counts", "how many counts one gram makes"),
        ("pattern=counts&counts_per_g=0", "counts_per_g=0 is no calibration"),
        ("pattern=counts&counts_per_g=many", "counts_per_g=many is no calibration"),
        ("pattern=counts&counts_per_g=1&zero=inf", "zero=inf is no calibration"),
        ("pattern=rtd_ohm&rtd=pt50", "rtd=pt50 is not known"),
        ("pattern=thermocouple_mv&thermocouple=J", "thermocouple=J is not known"),
        ("pattern=thermocouple_mv&thermocouple=K&cold_c=900", "cold_c=900"),
        ("pattern=thermistor_ohm&thermistor=1,2", "are not the three coefficients"),
        ("described=none.toml", "the description cannot be read"),
        ("described=none.toml&pattern=weight", "pattern= and described= do not go together"),
    ],
)
def test_wrong_options_are_refused_before_anything_is_opened(options, what):
    with pytest.raises(AddressError, match=what):
        open_device(f"serial:/dev/ttyUSB0?{options}")


def test_a_mistake_in_the_description_names_its_line(description):
    description.write_text(framed_scale.DESCRIPTION.replace("0.01", '"0.01"'), encoding="utf-8")
    with pytest.raises(
        DescriptionError, match=rf"{description}, line 25, frame 1, field 1, scale: '0\.01' in"
    ):
        open_device(f"serial:/dev/ttyUSB0?described={description}")


def test_a_description_of_a_bluetooth_device(tmp_path):
    path = tmp_path / "radio.toml"
    path.write_text(
        'name = "x"\nkind = "ble"\nble.notify = "2a9d"\n[[frame]]\n[[frame.field]]\n'
        'holds = "weight"\noffset = 0\nunit = "g"\n',
        encoding="utf-8",
    )
    with pytest.raises(AddressError, match="describes a Bluetooth device"):
        open_device(f"serial:/dev/ttyUSB0?described={path}")


# The stand-ins as programs


@pytest.mark.parametrize(
    ("program", "arguments", "options", "value"),
    [
        ("framed_scale.py", ["--rate", "100"], "?described={description}", 0.0),
        ("polled.py", ["--temperature", "93.4"], "?lines=scpi&poll=MEAS:TEMP?\\n&every_ms=100", 93.4),
    ],
)
async def test_the_stand_ins_run_as_programs(description, program, arguments, options, value):
    command = [sys.executable, str(PEERS / program), *arguments]
    peer = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
    try:
        port = (await peer.stdout.readline()).decode().strip()
        async with open_device(f"serial:{port}{options.format(description=description)}") as device:
            readings = await asyncio.wait_for(take(device, 4), 10)
    except DeviceError as error:
        raise AssertionError(str(error)) from error
    finally:
        peer.terminate()
        await peer.communicate()
    assert readings[0].value == value
