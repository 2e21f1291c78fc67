"""Pieces of a stream, what a description refuses of it, and checks that tell what is meant."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from drivers.decoders.checksums import crc8, crc16
from drivers.described.reading import described_by
from drivers.learn import Arrival, Capture, Stream, learn
from drivers.learn.checks.check_search import find_check
from drivers.learn.checks.cyclic import Sums, tables
from drivers.learn.doubts.refused import doubt_of_refused
from tests.drivers.learn.small import LOADS, captured, learned, reads, xor

OTHER = "0000fff2-0000-1000-8000-00805f9b34fb"


def in_pieces_of(capture: Capture, sizes: Sequence[int]) -> Capture:
    """Cut all packets, put one behind the other, into pieces; each comes with the packet that it ends in."""
    stream = b"".join(one.data for one in capture.arrivals)
    times = [one.time_s for one in capture.arrivals for _ in one.data]
    pieces, start = [], 0
    while start < len(stream):
        end = min(start + sizes[len(pieces) % len(sizes)], len(stream))
        pieces.append(Arrival(times[end - 1], 0, stream[start:end]))
        start = end
    return replace(capture, arrivals=tuple(pieces))


def beside(main: Capture, other: Capture) -> Capture:
    """Let two captures be characteristics of one device."""
    moved = [replace(one, stream=1) for one in other.arrivals]
    arrivals = sorted([*main.arrivals, *moved], key=lambda one: one.time_s)
    return replace(main, streams=(*main.streams, Stream(OTHER)), arrivals=tuple(arrivals))


def crc_packet(g: float, n: int) -> bytes:
    data = struct.pack(">BBhHB", 0xA5, 0x5A, round(10 * g), 40 * n % 0x10000, n % 256)
    return data + crc16(data, poly=0x1021, init=0, refin=False, refout=False, xorout=0).to_bytes(2, "big")


def test_pieces_are_joined_also_where_some_are_whole_messages_with_a_check():
    found = learn(in_pieces_of(captured(crc_packet, LOADS, 0.05, "ble"), (9, 9, 9, 4, 14, 9, 5)))
    assert found.is_sure, found.reasons
    assert "joined = true" in found.toml
    assert found.proof is not None
    assert found.proof.readings > 630


def test_pieces_are_joined_where_most_messages_come_whole():
    pieces = in_pieces_of(captured(crc_packet, LOADS, 0.05, "ble"), (*([9] * 13), 13, 5))
    found = learn(pieces)
    assert found.is_sure, found.reasons
    assert "joined = true" in found.toml
    assert found.proof is not None
    assert found.proof.readings > 630


def test_notifications_that_hold_two_messages_now_and_then_are_taken_for_a_stream():
    whole = captured(crc_packet, LOADS, 0.05, "ble")
    arrivals = []
    for n, one in enumerate(whole.arrivals):
        body = struct.pack(">BBBHH", 0xA5, 0x5B, 88, 31 * n % 999, n)
        flow = body + crc16(body, poly=0x1021, init=0, refin=False, refout=False, xorout=0).to_bytes(2, "big")
        if n % 8:
            arrivals += [one, replace(one, time_s=one.time_s + 0.03, data=flow)]
        else:
            arrivals.append(replace(one, data=one.data + flow))
    found = learn(replace(whole, arrivals=tuple(arrivals)))
    assert found.is_sure, found.reasons
    assert "joined = true" in found.toml
    assert found.proof is not None
    assert found.proof.readings == len(whole.arrivals)


def test_messages_of_several_lengths_that_come_whole_are_not_joined():
    def packet(g: float, n: int) -> bytes:
        data = crc_packet(g, n)
        return data + data[:4] if n % 15 == 0 else data  # a longer message now and then, which begins alike

    found = learn(captured(packet, LOADS, 0.05, "ble"))
    assert "joined = true" not in found.toml


def test_pieces_with_a_check_are_meant_where_a_copy_comes_whole_on_another_characteristic():
    def copy(g: float, n: int) -> bytes:
        return struct.pack(">BhH", 0xC1, round(10 * g), n)

    main = in_pieces_of(captured(crc_packet, LOADS, 0.05, "ble"), (7, 3, 11, 5))
    found = learn(beside(main, captured(copy, LOADS, 0.05, "ble")))
    assert found.is_sure, found.reasons
    assert "joined = true" in found.toml
    assert "checksum" in found.toml


def test_a_description_that_refuses_what_is_no_other_kind_is_doubted():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBhB", 0xA5, 0x5A, round(10 * g), n % 256)
        rng = random.Random(n)
        return data + xor(data) if n % 3 else bytes(rng.randrange(256) for _ in range(rng.randrange(1, 12)))

    found = learned(packet)
    assert not found.is_sure
    assert "refused" in " ".join(found.reasons)


def test_messages_of_another_kind_are_no_reason_to_doubt():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBhB", 0xA5, 0x5A, round(10 * g), n % 256)
        other = bytes([0xA5, 0x77, n % 256, 0x3C, n // 7 % 256, 0x01, 0x02])
        return data + xor(data) if n % 2 else other + xor(other)

    found = learned(packet)
    assert found.is_sure, found.reasons


def test_what_is_refused_only_while_the_load_changes_is_doubted():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBhB", 0xA5, 0x5A, round(10 * g), n % 256)
        moving = struct.pack(">BBH", 0xA5, 0x77, round(900 * g) % 0x10000)
        return moving + xor(moving) if n % 160 < 40 else data + xor(data)

    found = learned(packet)
    assert not found.is_sure
    assert "while the load changes" in " ".join(found.reasons)


def test_of_several_messages_that_come_in_turn_that_one_is_a_frame_that_has_the_number():
    def frames(g: float, n: int) -> bytes:
        weight = struct.pack(">BBBhI", 0x7E, 0x90, 0x2E, round(10 * g), 100 * n)
        other = struct.pack(">BBBHB", 0x7E, 0x90, 0x59, 7 * n % 0x10000, n // 9 % 256)
        return weight + xor(weight) + (other + xor(other) if n % 2 else b"")

    found = learned(frames, link="serial")
    assert found.is_sure, found.reasons
    weight = struct.pack(">BBBhI", 0x7E, 0x90, 0x2E, 1234, 100)
    alone = weight + xor(weight)
    assert reads(found, alone, alone, alone, link="serial") == [pytest.approx(123.4)] * 3


def test_a_weight_with_a_check_is_meant_though_a_copy_with_none_is_finer():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BhBB", 0x5A, round(2 * g), n % 256, 0x20)
        return data + crc8(data, poly=0x9B, init=0, refin=False, refout=False, xorout=0).to_bytes(1, "big")

    def copy(g: float, n: int) -> bytes:
        return struct.pack(">hH", round(g / 0.28349523125), 3 * n)

    main, other = captured(packet, LOADS, 0.1, "ble"), captured(copy, LOADS, 0.1, "ble")
    found = learn(beside(main, other))
    assert found.is_sure, found.reasons
    assert "checksum" in found.toml


@pytest.mark.parametrize(("bits", "is_reflected"), [(8, False), (8, True), (16, False), (16, True)])
def test_cyclic_checks_over_any_range_are_found_as_when_each_is_worked_out(bits: int, is_reflected: bool):
    rng = np.random.default_rng(bits + is_reflected)
    polys, _ = tables(bits, is_reflected)
    for _ in range(12):
        frames = rng.integers(0, 256, (56, 14), dtype=np.uint8)
        which, start = int(rng.integers(len(polys))), int(rng.integers(0, 6))
        stop = int(rng.integers(start + 2, 12))
        crc: Callable[..., int] = crc8 if bits == 8 else crc16
        checks = np.array([
            crc(row[start:stop].tobytes(), poly=polys[which], init=0x5A, refin=is_reflected,
                refout=is_reflected, xorout=0x11)
            for row in frames
        ])  # fmt: skip
        sums = Sums(frames[:28] ^ frames[28:], bits, is_reflected)
        found = sums.hits(checks[:28] ^ checks[28:], np.arange(12), 12, 1, 0.8).tolist()
        assert found == [[start, stop, which]]


def test_the_check_of_a_long_frame_is_found_among_all_ranges():
    rng = np.random.default_rng(3)
    frames = rng.integers(0, 256, (300, 60), dtype=np.uint8)
    for row in frames:
        row[58] = crc8(row[11:58].tobytes(), poly=0x1D, init=0xFD, refin=False, refout=False, xorout=0)
    check = find_check(frames, frozenset({20, 21}), 0)
    assert check is not None
    assert (check.kind, check.at, check.start, check.stop, check.poly) == ("crc8", 58, 11, 58, 0x1D)


@pytest.mark.parametrize("flag", [b"$", b" "], ids=["a flag of motion", "none"])
def test_what_is_like_what_is_read_is_no_other_kind_though_such_are_refused_as_well(flag: bytes):
    def packet(g: float, n: int, flag: bytes = b" ") -> bytes:
        body = b"\x03" + (flag if n % 160 < 24 else b" ") + b"%05d" % round(10 * abs(g))
        other = b"\x07\x00" + bytes([96 - n // 200, n % 256])
        return other + xor(other) if n % 8 == 3 else body + xor(body)

    found = learned(packet, noise_g=0.0)
    assert found.description is not None
    assert found.choice.best is not None
    assert found.outside is not None
    text = found.toml.replace("offset = 2", "offset = 1").replace("width = 5", "width = 6")
    wide = described_by(text, "a test")  # it reads the flag as a blank before the digits
    heard = captured(lambda g, n: packet(g, n, flag), LOADS, 0.0, "ble")
    doubt = doubt_of_refused(wide, heard, found.choice.best, found.outside, None)
    assert ("while the load changes" in doubt) == (flag == b"$")
