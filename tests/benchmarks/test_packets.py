"""Frames per second, beside the least that any decoder of frames must do: cut them, unpack a number.

``pytest tests/benchmarks --benchmark-only``
"""

import struct

import pytest

from drivers.decoders.packets import PacketDecoder
from drivers.described import read_description
from tests.peers import framed_scale

FRAMES = 20_000
STREAM = b"".join(framed_scale.frame(number / 100) for number in range(FRAMES))
LONG = len(framed_scale.frame(0.0))
CHUNK = 4096


def cut_and_unpack() -> int:
    unpack = struct.Struct("<i").unpack
    frames = (STREAM[start : start + LONG] for start in range(0, len(STREAM), LONG))
    return len([unpack(frame[2:6])[0] / 100 for frame in frames])


def in_chunks(decoder: PacketDecoder) -> int:
    frames, kept = 0, b""
    for start in range(0, len(STREAM), CHUNK):
        kept += STREAM[start : start + CHUNK]
        decoded = decoder.decode(kept)
        kept = kept[decoded.used :]
        frames += decoded.lines
    return frames


@pytest.mark.benchmark(group="frames")
def test_reference_cut_and_unpack(benchmark):
    assert benchmark(cut_and_unpack) == FRAMES


@pytest.mark.benchmark(group="frames")
def test_described_frames(benchmark, tmp_path):
    path = tmp_path / "scale.toml"
    path.write_text(framed_scale.DESCRIPTION, encoding="utf-8")
    assert benchmark(in_chunks, PacketDecoder(read_description(path))) == FRAMES
