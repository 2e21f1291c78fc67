"""Which packets are of one kind, where frames begin, and which bytes are one number."""

from __future__ import annotations

import math
import struct

import pytest

from drivers.learn import Arrival, Capture, learn
from tests.drivers.learn.session import OUNCE_G
from tests.drivers.learn.small import LOADS, captured, learned, reads, summed, xor

PER_LOAD = 160
"""Packets of each load."""


def swung(g: float, n: int) -> float:
    """Let the pan swing far below nought when a load has been lifted off and a lighter one put on."""
    since = n - 2 * PER_LOAD
    return g - 600.0 * math.exp(-0.12 * since) * math.sin(0.5 * since) if 0 <= since < 60 else g


def lagging(sharpness: float):
    """Show a number that follows another one slowly."""
    shown = [0.0]

    def show(g: float) -> float:
        shown[0] += sharpness * (g - shown[0])
        return shown[0]

    return show


@pytest.mark.parametrize("check", [xor, lambda data: b""])
def test_a_few_packets_of_another_kind_are_told_by_the_byte_that_they_share(check):
    def packet(g: float, n: int) -> bytes:
        if n % 23 == 7:
            data = struct.pack(">BBHI", 0xDB, 0x04, 0x0302, 77_000 + 40 * n)
        else:
            data = struct.pack(">BBhI", 0xDB, 0x03, round(10 * g), 0x01000000 + n)
        return data + check(data)

    found = learned(packet)
    assert found.is_sure, found.reasons
    weight = struct.pack(">BBhI", 0xDB, 0x03, 1234, 5)
    other = struct.pack(">BBHI", 0xDB, 0x04, 0x0302, 99_000)
    assert reads(found, weight + check(weight), other + check(other)) == [pytest.approx(123.4), None]


def test_a_flag_that_is_set_while_the_load_moves_is_no_part_of_the_header():
    def frame(g: float, n: int) -> bytes:
        return struct.pack("<BBhB", 0x55, 0x04 * (n % PER_LOAD > 12), round(10 * g), 0x55)

    found = learned(frame, link="serial", noise_g=0.03)
    assert found.description is not None, found.reasons
    moving, still = (struct.pack("<BBhB", 0x55, flag, 1234, 0x55) for flag in (0, 4))
    values = reads(found, still, moving, still, moving, link="serial")
    assert [value for value in values if value is not None] == [pytest.approx(123.4)] * 4


def test_a_header_that_an_end_makes_fit_a_byte_too_early_is_longer():
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BBBBHhB", 0x55, 0x55, 0x3C, 0x02, n * 37 % 0x10000, round(10 * g), 0x55)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert "0x3C" in found.toml


def test_what_is_whole_behind_frames_cut_short_begins_them():
    def frame(g: float, n: int) -> bytes:
        data = b"\x19\x4b\xe0" + struct.pack(">h", round(10 * g)) + b"\xac"
        data += struct.pack(">H", n) + b"\x44\x01"
        return data[: 3 + n % 7] if n % 31 == 30 else data

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert "header = [0x19" in found.toml


def test_frames_that_begin_with_the_number_are_told_by_their_end():
    def frame(g: float, n: int) -> bytes:
        data = round(10 * g).to_bytes(3, "big", signed=True) + struct.pack(">H", 0x012E)
        return data + summed(data) + b"\r\n"

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    sent = (1234).to_bytes(3, "big", signed=True) + struct.pack(">H", 0x012E)
    sent += summed(sent) + b"\r\n"
    assert reads(found, sent, sent, link="serial") == [pytest.approx(123.4)] * 2


def test_frames_in_notifications_that_are_always_full_are_joined():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BBhIIB", 0xA5, 0x5A, round(10 * g), n * 50, 0x11223344, n % 256)
        return data + xor(data)

    whole = captured(frame, LOADS, 0.05, "ble")
    stream = b"".join(one.data for one in whole.arrivals)
    size = len(whole.arrivals[0].data)
    ends = range(20, len(stream), 20)
    pieces = tuple(
        Arrival(whole.arrivals[(end - 1) // size].time_s, 0, stream[end - 20 : end]) for end in ends
    )
    found = learn(Capture("ble", whole.streams, pieces, whole.loads))
    assert found.is_sure, found.reasons
    assert "joined = true" in found.toml


def test_lines_whose_end_comes_with_the_next_notification_are_joined():
    """While the load moves, the flow has two digits more, and the end of the check comes with it."""

    def line(g: float, n: int) -> bytes:
        text = b"%.1f\tU\tNET:%+05.0f g" % (120.0 * (3 < n % 160 < 10) + n % 10, g)
        return text + b"#%02X\n" % (sum(text) % 256)

    whole = captured(line, LOADS, 0.8, "ble")
    pieces = tuple(
        Arrival(one.time_s + 0.001 * at, 0, one.data[at : at + 20])
        for one in whole.arrivals
        for at in range(0, len(one.data), 20)
    )
    found = learn(Capture("ble", whole.streams, pieces, whole.loads))
    assert found.is_sure, found.reasons
    assert "joined = true" in found.toml


def test_a_message_that_is_longer_now_and_then_is_doubted():
    def packet(g: float, n: int) -> bytes:
        more = b"\x01\x02" if n % 8 == 7 else b""
        data = struct.pack(">BBhB", 0xEB, 8 + len(more), round(10 * g), n % 256) + more
        return data + xor(data)

    found = learned(packet)
    assert not found.is_sure
    assert "longer messages" in " ".join(found.reasons)


def test_a_sign_far_below_nought_is_one_where_the_number_goes_through_it():
    def packet(g: float, n: int) -> bytes:
        steps = round(100 * swung(g, n))
        data = bytes([0xEF, 0x80 * (steps < 0)]) + abs(steps).to_bytes(3, "little") + bytes([7 * n % 256])
        return data + summed(data)

    found = learned(packet, (0.0, 640.0, 20.0, 200.0), 0.0)
    assert found.is_sure, found.reasons
    data = bytes([0xEF, 0x80]) + (1_234).to_bytes(3, "little") + b"\x05"
    assert reads(found, data + summed(data)) == [pytest.approx(-12.34)]


@pytest.mark.parametrize("flags", [0x8, 0xC])
def test_bits_above_a_number_that_fill_below_zero_are_its_own(flags):
    def packet(g: float, n: int) -> bytes:
        steps = round(100 * swung(g, n)) & 0xFFFFF
        data = b"\xa1" + (flags << 20 | steps).to_bytes(3, "big") + bytes([n % 256])
        return data + summed(data)

    found = learned(packet, (0.0, 640.0, 20.0, 200.0), 0.0)
    assert found.is_sure, found.reasons
    data = b"\xa1" + (flags << 20 | -1_234 & 0xFFFFF).to_bytes(3, "big") + b"\x05"
    assert reads(found, data + summed(data)) == [pytest.approx(-12.34)]


def test_a_flag_that_is_set_at_every_small_number_is_no_sure_sign():
    def packet(g: float, n: int) -> bytes:
        steps = abs(round(10 * g)) + 1
        return struct.pack(">BHBB", 0xA7, steps, 0x11 + 0x08 * (steps < 3), n % 256)

    found = learned(packet, noise_g=0.03)
    assert not found.is_sure or "sign = " not in found.toml


def test_a_sign_before_digits_of_text_is_found_by_a_load_below_zero():
    def packet(g: float, n: int) -> bytes:
        return bytes([0xFA, 0x01 - (g < 0)]) + b"%06.1f" % abs(g) + bytes([n % 256])

    found = learned(packet, (-279.0, 205.4, 761.5, 0.0))
    assert found.description is not None
    assert reads(found, b"\xfa\x000012.5\x01") == [-12.5]


def test_text_that_goes_on_behind_its_point_is_one_number():
    found = learned(lambda g, n: b"\xa7%07.1f\x05" % max(g, 0.0), (0.0, 20.0, 1000.0, 100.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, b"\xa700123.4\x05") == [123.4]


def test_decimals_of_kg_are_no_number_of_their_own():
    found = learned(lambda g, n: b"ST W1   %+.4f kg\r" % (g / 1000), (0.0, 91.0, 177.0, 513.0), link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, *[b"ST W1   +1.2044 kg\r"] * 2, link="serial")[0] == pytest.approx(1204.4)


def test_of_two_copies_the_finer_one_is_read():
    def packet(g: float, n: int) -> bytes:
        w = max(g, 0.0)
        return b"DH%+08.5f" % (w / 1000) + round(10 * w).to_bytes(3, "little") + bytes([n % 256])

    found = learned(packet, (0.0, 244.4, 1350.1), 0.001)
    assert found.is_sure, found.reasons
    sent = b"DH+0.12345" + (1_235).to_bytes(3, "little") + b"\x01"
    assert reads(found, sent) == [pytest.approx(123.45)]


def test_a_state_that_is_no_letter_is_part_of_the_same_lines():
    def line(g: float, n: int) -> bytes:
        return b"%c,W,%+.1f g\r\n" % (b"=?"[n % PER_LOAD < 12], g)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    values = reads(found, b"=,W,+12.3 g\r\n", b"?,W,+45.6 g\r\n", link="serial")
    assert values == [12.3, 45.6]


@pytest.mark.parametrize("moving, resting", [(b"", b"?"), (b"U", b""), (b"?", b"S"), (b"", b"ST")])
def test_a_state_that_comes_and_goes_is_part_of_the_same_lines(moving, resting):
    def line(g: float, n: int) -> bytes:
        return b"%s,%+.1f g,%s,x\r\n" % (b"", g, moving if n % PER_LOAD < 12 else resting)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    values = reads(found, b",+12.3 g,%s,x\r\n" % resting, b",+45.6 g,%s,x\r\n" % moving, link="serial")
    assert values == [12.3, 45.6]


def test_lines_that_are_longer_by_a_minus_are_read_as_well():
    def line(g: float, n: int) -> bytes:
        return b"%s%07.1f g\tST\r\n" % (b"-" if g < -0.05 else b"", abs(g))

    found = learned(line, noise_g=0.1, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"-00012.3 g\tST\r\n", b"00012.3 g\tST\r\n", link="serial") == [-12.3, 12.3]


@pytest.mark.parametrize("link", ["serial", "ble"])
def test_texts_between_marks_are_lines_whose_length_may_change(link):
    def text(g: float, n: int) -> bytes:
        return b"\x02%.2f;1;+%7.1f g\x03" % (max(g, 0.0) / OUNCE_G, abs(round(g, 1)))

    found = learned(text, (0.0, 52.0, 103.0, 248.0), link=link)
    assert found.is_sure, found.reasons
    sent = b"\x0252.91;1;+ 1500.0 g\x03", b"\x020.43;1;+   12.3 g\x03"
    assert [value for value in reads(found, *sent, link=link) if value is not None] == [1500.0, 12.3]


def test_a_byte_of_a_copy_that_lags_is_none_of_the_number():
    show = lagging(0.3)

    def packet(g: float, n: int) -> bytes:
        w = max(g, 0.0)
        return struct.pack(">BHHB", 0x7E, round(10 * w), round(10 * show(w)), n % 256)

    found = learned(packet, (0.0, 394.0, 218.0, 1157.0), 0.01)
    assert found.description is not None
    assert reads(found, struct.pack(">BHHB", 0x7E, 3000, 2000, 1)) == [pytest.approx(300.0)]


def test_round_steps_that_follow_bare_counts_at_once_are_what_is_shown():
    def packet(g: float, n: int) -> bytes:
        counts = (83_256 + round(417.3 * g)).to_bytes(3, "little")
        return b"\x02\x10" + struct.pack("<h", round(10 * g)) + counts + bytes([n % 256])

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert reads(found, b"\x02\x10" + struct.pack("<h", 1234) + packet(130.0, 1)[4:]) == [123.4]


def test_bare_counts_that_whole_grams_follow_are_doubted():
    def packet(g: float, n: int) -> bytes:
        counts = (83_256 + round(417.3 * g)).to_bytes(3, "little")
        return b"\x02\x10" + struct.pack("<h", int(g)) + counts + bytes([n % 256])

    assert not learned(packet).is_sure


def test_an_exclusive_or_over_two_copies_of_the_number_is_a_check():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBiiBB", 0x5A, 0xAA, round(100 * g), round(100 * g), 0x15 + (n % 40 == 0), 0x53)
        return data + xor(data)

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert 'kind = "xor8"' in found.toml


def test_the_largest_value_so_far_makes_no_weight_late():
    peak = [0]

    def packet(g: float, n: int) -> bytes:
        since = n % PER_LOAD
        steps = round(10 * (g + (n >= PER_LOAD) * 60.0 * math.exp(-0.2 * since) * math.sin(0.6 * since)))
        peak[0] = max(peak[0], steps)
        return struct.pack(">BhiB", 0x7E, steps, peak[0], n % 256)

    found = learned(packet, (0.0, 247.1, 405.1, 827.6))
    assert found.description is not None
    assert reads(found, struct.pack(">BhiB", 0x7E, 1234, 8276, 1)) == [pytest.approx(123.4)]


def test_two_kinds_of_bare_counts_are_doubted():
    def packet(g: float, n: int) -> bytes:
        counts = (83_256 + round(417.3 * g)).to_bytes(3, "little")
        return b"\x02\x10" + struct.pack("<h", -5995 + round(7.43 * g)) + counts + bytes([n % 256])

    found = learned(packet)
    assert not found.is_sure
    assert "other counts" in " ".join(found.reasons)


def test_a_byte_before_the_number_is_none_of_it_where_there_is_room_without():
    def packet(g: float, n: int) -> bytes:
        flow = 300 if n in (200, 201, 400) else 0
        return struct.pack(">BHhB", 0xFE, flow, round(10 * g), n % 256)

    found = learned(packet, (0.0, 123.0, 319.0, 1691.0))
    assert found.description is not None
    assert reads(found, struct.pack(">BHhB", 0xFE, 511, 1234, 1)) == [pytest.approx(123.4)]


def test_digits_of_which_the_last_is_always_nought_are_taken_whole():
    def packet(g: float, n: int) -> bytes:
        return b"\xfe\x8a" + bytes.fromhex(f"{10 * max(round(100 * g), 0):08d}") + bytes([n % 256])

    found = learned(packet, (0.0, 92.0, 293.0, 1139.0), 0.008)
    assert found.is_sure, found.reasons
    assert reads(found, b"\xfe\x8a" + bytes.fromhex("00123450") + b"\x01") == [pytest.approx(123.45)]


def test_bits_below_flags_that_fill_below_nought_make_the_number_wider():
    def packet(g: float, n: int) -> bytes:
        flags = 0x1 + 0x2 * (n % PER_LOAD > 20)
        return b"\x55\x03" + (flags << 20 | round(20 * g) & 0xFFFFF).to_bytes(3, "big") + bytes([n % 256])

    found = learned(packet, (0.0, 700.0, 100.0, -84.0), 0.03)
    assert found.is_sure, found.reasons
    sent = b"\x55\x03" + (0x3 << 20 | 20 * 1900).to_bytes(3, "big") + b"\x01"
    assert reads(found, sent) == [pytest.approx(1900.0)]
