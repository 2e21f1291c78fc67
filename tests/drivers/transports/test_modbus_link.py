"""The frames of a serial line, byte by byte."""

from __future__ import annotations

import asyncio

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import open_device
from drivers.transports.modbus_link import ModbusLink
from drivers.transports.modbus_settings import LinkSettings
from drivers.transports.serial_port import PortSettings
from tests.drivers.listening import take

rtu_line = pytest.importorskip("tests.peers.rtu_line", reason="pseudo-terminals need POSIX")
answer, crc, frame = rtu_line.answer, rtu_line.crc, rtu_line.frame

QUICK = "timeout_s=0.25&every_ms=10"
FIRST, SECOND = bytes.fromhex("01 03 00 00 00 01 84 0A"), bytes.fromhex("01 03 00 01 00 01 D5 CA")


def listen(line, options: str):
    return open_device(f"modbus:{line.port}?{QUICK}&{options}")


# Check values: CRC catalogue, CRC-16/MODBUS, check("123456789") = 0x4B37; `02 07` gives 41 12 on the line
# (MODBUS over Serial Line V1.02, CRC appendix; place from memory); the others published with their frames.
@pytest.mark.parametrize(
    ("data", "check"),
    [
        (b"123456789", "37 4B"),
        (bytes.fromhex("02 07"), "41 12"),
        (bytes.fromhex("01 03 00 85 00 01"), "95 E3"),
        (bytes.fromhex("01 03 00 00 00 66"), "C5 E0"),
        (bytes.fromhex("11 03 00 6B 00 03"), "76 87"),
    ],
)
def test_the_stand_in_checks_as_published(data, check):
    assert crc(data) == bytes.fromhex(check)


@pytest.mark.parametrize(
    ("options", "request_on_the_line", "words"),
    [
        ("weight=holding:0:int32", "01 03 00 00 00 02 C4 0B", (0, 7)),
        ("weight=holding:133:int16", "01 03 00 85 00 01 95 E3", (7,)),
        ("unit=17&weight=holding:107:int16", "11 03 00 6B 00 01", (7,)),
    ],
)
async def test_requests_are_those_of_the_standard(options, request_on_the_line, words):
    expected = bytes.fromhex(request_on_the_line)
    with rtu_line.RtuLine(lambda request: [answer(*words, unit=request[0])]) as line:
        async with listen(line, options) as device:
            (reading,) = await asyncio.wait_for(take(device, 1), 5)
    assert reading.value == 7
    assert line.requests[0][: len(expected)] == expected


async def test_an_answer_in_pieces_is_one_answer():
    whole = answer(1234)
    with rtu_line.RtuLine(lambda _: [whole[:2], 0.02, whole[2:6], 0.02, whole[6:]]) as line:
        async with listen(line, "weight=holding:0:int16:0.1") as device:
            (reading,) = await asyncio.wait_for(take(device, 1), 5)
    assert reading.value == 123.4


@pytest.mark.parametrize(
    "damaged",
    [
        answer(1111)[:-1] + bytes([answer(1111)[-1] ^ 1]),  # a wrong check
        answer(1111)[:-2],  # cut off
        answer(1111, unit=2),  # from another unit
        answer(1111, 2222),  # longer than what was asked for
        answer(1111, function=4),  # to another question
        frame(bytes([1, 0x2B, 0x0E, 1])),  # makes no sense, though its check is right
        b"\x00\xff" * 40,
    ],
)
async def test_a_damaged_answer_gives_no_reading_and_the_next_one_does(damaged, caplog):
    replies = iter([damaged])
    with rtu_line.RtuLine(lambda _: [next(replies, answer(42))]) as line:
        async with listen(line, "weight=holding:0:int16") as device:
            readings = await asyncio.wait_for(take(device, 2), 5)
    assert [reading.value for reading in readings] == [42, 42]
    assert device.facts()["requests_failed"] == 1
    assert not [record for record in caplog.records if record.name == "asyncio"]


async def test_a_late_answer_is_not_taken_for_the_next_one():
    """The first register's answer comes after its time is over, just when the second would be asked for."""
    late = iter([0.3])

    def reply(request: bytes):
        if request == FIRST:
            return [next(late, 0.0), answer(1)]
        return [answer(2)]

    with rtu_line.RtuLine(reply) as line:
        async with listen(line, "weight=a@holding:0:int16&weight2=b@holding:1:int16") as device:
            readings = await asyncio.wait_for(take(device, 5), 5)
    assert {(reading.channel, reading.value) for reading in readings} == {("a", 1), ("b", 2)}
    assert readings[0].channel == "b"
    assert line.requests[:2] == [FIRST, SECOND]


SETTINGS = LinkSettings("rtu+tcp://h:1", "h", 1, True, PortSettings(), 1, 1.0)


@given(
    st.lists(st.binary(max_size=12), max_size=6),
    st.sampled_from([b"", b"\x01\x03\x02", b"\x01\x83", b"\x01\x2b\x0e"]),
    st.booleans(),
)
@settings(max_examples=200)
def test_no_bytes_whatever_raise_and_none_without_its_check_is_an_answer(pieces, start, checked):
    data = start + b"".join(pieces)
    pieces = [start, *pieces, crc(data)] if checked else [start, *pieces]

    async def receive() -> bool:
        link = ModbusLink("modbus:", SETTINGS)
        context = link._make_client().ctx
        context.request_dev_id = 1
        context.response_future = asyncio.Future()
        for piece in pieces:
            context.data_received(piece)
        return context.response_future.done()

    line = b"".join(pieces)
    windows = (line[i:j] for i in range(len(line)) for j in range(i + 4, len(line) + 1))
    assert not asyncio.run(receive()) or any(crc(part[:-2]) == part[-2:] for part in windows)
