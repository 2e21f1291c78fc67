"""What may mark a frame in a stream, and what may be something else that has not changed so far."""

from __future__ import annotations

import math
import struct
from dataclasses import replace

import pytest

from drivers.learn import Arrival, Capture, learn
from tests.drivers.learn.small import LOADS, captured, learned, reads, xor

PER_LOAD = 160


def read_in_blocks(whole: Capture, size: int = 25) -> tuple[Arrival, ...]:
    """Read a line in blocks of so many bytes, as a computer does that is slow to look."""
    stream = b"".join(one.data for one in whole.arrivals)
    length = len(whole.arrivals[0].data)
    return tuple(
        Arrival(whole.arrivals[(end - 1) // length].time_s, 0, stream[end - size : end])
        for end in range(size, len(stream), size)
    )


def test_a_charge_that_stands_first_is_no_header_where_frames_have_an_end_and_a_check():
    def frame(g: float, n: int, charge: int = 43) -> bytes:
        data = bytes([charge]) + struct.pack("<HiH", n % 256, round(100 * g), n)
        return data + xor(data) + b"\r\n"

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    later = frame(123.4, 1, charge=39)
    assert reads(found, later, later, link="serial")[-1] == pytest.approx(123.4)


def test_a_charge_that_stands_last_is_no_end():
    def frame(g: float, n: int, charge: int = 83) -> bytes:
        return b"\x7e\x06" + struct.pack(">iBB", round(10 * g), n % 256, charge)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    later = frame(123.4, 1, charge=71)
    assert reads(found, later, later, link="serial") == [pytest.approx(123.4)] * 2


def test_a_single_first_byte_that_the_number_ends_with_at_some_loads_is_weak():
    def frame(g: float, n: int) -> bytes:
        return struct.pack("<BH", 0x02, 7 * n) + round(620.6 * g).to_bytes(3, "little", signed=True)

    found = learned(frame, (0.0, 50.0, 87.4, 640.0), link="serial")
    assert not found.is_sure
    assert "begins" in " ".join(found.reasons)


def test_a_first_byte_of_7f_is_clear_where_no_number_has_its_nought_in_the_middle():
    def frame(g: float, n: int) -> bytes:
        return bytes([0x7F, 0x5E + (n % 160 > 20), 0x00]) + struct.pack("<iB", round(10 * g), n % 3 == 1)

    found = learned(frame, (0.0, 50.0, 87.4, 640.0), link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.4, 3), frame(123.4, 4), link="serial")[0] == pytest.approx(123.4)


def test_a_first_byte_of_80_may_be_the_upper_one_of_a_number_whose_nought_is_the_middle():
    def frame(g: float, n: int) -> bytes:
        other = 0x800000 + round(3 * g) + n % 2
        return other.to_bytes(3, "big") + struct.pack(">HB", round(10 * max(g, 0.0)), n % 3)

    found = learned(frame, (0.0, 50.0, 87.4, 640.0), link="serial")
    assert not found.is_sure or found.outside.header[:1] != (0x80,)


def test_messages_that_begin_alike_tell_what_a_frame_begins_with():
    def frame(g: float, n: int) -> bytes:
        other = b"\x12\x6e\x02\x58" + bytes([n % 7]) if n % 5 == 2 else b""
        return other + b"\x12\x6e\x01\xa6\x4d\x00" + struct.pack(">hB", round(10 * g), n % PER_LOAD > 20)

    found = learned(frame, link="serial")
    assert found.description is not None, found.reasons
    assert found.description.frames[0].header[:3] == (0x12, 0x6E, 0x01)
    assert 0x4D not in found.description.frames[0].header


@pytest.mark.parametrize("step_g", [1.0, 0.5])
def test_a_fine_copy_that_rises_slowly_is_seen_to_lag(step_g):
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow[0] += (g - slow[0]) * (1.0 - math.exp(-0.075 / 0.6))
        text = f"{round(g / step_g) * step_g:6.1f}".encode()
        return b"\xdd" + text + round(100 * slow[0]).to_bytes(3, "little", signed=True) + bytes([n % 256])

    found = learned(packet, (0.0, 20.0, 50.0, 87.0), 0.0)
    assert found.description is not None, found.reasons
    assert reads(found, b"\xdd  33.0" + (2000).to_bytes(3, "little") + b"\x01") == [pytest.approx(33.0)]


def test_a_charge_behind_the_first_byte_is_none_of_the_header_where_frames_have_an_end():
    def frame(g: float, n: int, charge: int = 57) -> bytes:
        return bytes([0x09, charge]) + b"%+06d" % round(g) + struct.pack(">HB", n, 0x55)

    found = learned(frame, link="serial", noise_g=0.4)
    assert found.description is not None, found.reasons
    later = frame(123.0, 1, charge=51)
    assert reads(found, later, later, link="serial") == [pytest.approx(123.0)] * 2


def test_the_byte_that_names_a_message_stands_before_one_that_hardly_moves():
    def frame(g: float, n: int, volts: int = 0x0FC3) -> bytes:
        other = b"\xc7\x43\x02\x52" + bytes([n % 7]) if n % 5 == 2 else b""
        data = b"\xc7\x43\x01" + struct.pack("<HhBB", volts, round(10 * g), n % 256, 0xB2)
        return other + data

    found = learned(frame, link="serial")
    assert found.description is not None, found.reasons
    later = frame(123.4, 1, volts=0x0E90)  # of another session
    assert reads(found, later, later, link="serial") == [pytest.approx(123.4)] * 2


def test_a_copy_that_lags_is_late_though_no_load_was_lighter_than_the_one_before():
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow[0] += (g - slow[0]) * (1.0 - math.exp(-0.075 / 0.9))
        tenths, hundredths = round(10 * g), round(100 * slow[0])
        return struct.pack(">BhiB", 0x7E, tenths, hundredths, n % 256)

    found = learned(packet, (0.0, 87.4, 100.0, 640.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BhiB", 0x7E, 1234, 20_000, 1)) == [pytest.approx(123.4)]


def test_a_sum_makes_a_check_of_a_counter_where_frames_are_cut_elsewhere():
    def frame(g: float, n: int) -> bytes:
        is_still = n % 160 > 12 or n < 160
        data = struct.pack(">BBI", n % 256, 0x7D + 2 * is_still, 0x80000000 + round(10 * g))
        return b"\x2a\xb5" + data + bytes([-sum(data) % 256])

    whole = captured(frame, LOADS, 0.05, "serial")
    found = learn(replace(whole, arrivals=read_in_blocks(whole)))
    assert found.is_sure, found.reasons
    sent = b"".join(frame(123.4, n) for n in (161, 162, 163, 164))
    values = [value for value in reads(found, sent, link="serial") if value is not None]
    assert values == [pytest.approx(123.4)] * 4


def test_pauses_show_that_a_frame_begins_with_a_byte_of_no_particular_kind():
    def frame(g: float, n: int) -> bytes:
        return struct.pack("<BfB", 0x47, round(g, 1), n % 256)

    whole = captured(frame, LOADS, 0.05, "serial")
    found = learn(whole)
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.4, 1), frame(-20.5, 2), link="serial") == [
        pytest.approx(123.4), pytest.approx(-20.5)
    ]  # fmt: skip
    assert not learn(replace(whole, arrivals=read_in_blocks(whole))).is_sure


def test_frames_that_are_alike_are_not_read_where_they_are_turned():
    def frame(g: float, n: int) -> bytes:
        data = bytes([0x54, 0x6C, 0x55 if n < 480 else 0x54]) + round(100 * g).to_bytes(3, "big", signed=True)
        data += bytes([0x60 + (n % PER_LOAD > 20)])
        return data + bytes([-sum(data) % 256])

    found = learned(frame, (0.0, 191.7, 1254.0, 101.3), 0.0, link="serial")
    assert found.is_sure, found.reasons
    last = frame(101.3, 600)
    assert reads(found, last[1:] + last * 4, link="serial") == [None, *[pytest.approx(101.3)] * 4]


def test_two_numbers_that_begin_alike_are_no_two_messages():
    def frame(g: float, n: int) -> bytes:
        before_g = g - 0.6 * (g % 7.0)
        slow, prompt = (0x80000000 + round(10 * each) for each in (before_g, g))
        body = bytes([0x92, 0x7A, 0x3B, 0x0D, 0x6F - n // 300, n % 256, 0x33])
        body += struct.pack(">IHI", slow, 75 * n % 65536, prompt)
        return body + (sum(body[9:]) % 65536).to_bytes(2, "little")

    found = learned(frame, link="serial")
    assert found.description is not None, found.reasons
    assert reads(found, frame(123.4, 1), frame(-20.5, 2), link="serial") == [
        pytest.approx(123.4), pytest.approx(-20.5)
    ]  # fmt: skip


def test_a_number_is_not_picked_out_by_its_own_upper_byte():
    def frame(g: float, n: int) -> bytes:
        lifted_g = -140.0 if PER_LOAD + 5 <= n < PER_LOAD + 60 else 0.0
        return b"\xc1" + struct.pack(">iHB", round(10 * (g + lifted_g)), 75 * n % 65536, 0x0D)

    found = learned(frame, noise_g=0.0, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.4, 1), frame(-38.8, 2), link="serial") == [
        pytest.approx(123.4), pytest.approx(-38.8)
    ]  # fmt: skip
