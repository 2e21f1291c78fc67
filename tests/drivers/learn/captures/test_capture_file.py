"""A capture on disk: nothing lost that is learned from, nothing kept that names a device."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.learn import Arrival, Capture, CaptureError, Load, Stream, Written, read_capture, write_capture

BYTES = st.binary(min_size=1, max_size=20)


@settings(max_examples=30, deadline=None)
@given(data=st.lists(st.binary(max_size=12).filter(lambda one: not one.isascii()), max_size=20))
def test_what_is_written_is_read_back(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("capture") / "one.jsonl"
    arrivals = tuple(Arrival(0.1 * number, 0, one) for number, one in enumerate(data))
    capture = Capture(
        "ble", (Stream("9f4a0002-53c1-4b2e-9d07-1c5e8a7b0000", "", ("notify",)),), arrivals,
        (Load(0.0, 0.0, 1.0), Load(100.0, 1.0, 2.0)), written=(Written(b"\1", "9f4a", 2.0),),
    )  # fmt: skip
    write_capture(path, capture)
    again = read_capture(path)
    assert [one.data for one in again.arrivals] == data
    assert (again.streams, again.loads, again.written) == (capture.streams, capture.loads, capture.written)


def test_addresses_and_serial_numbers_are_gone(tmp_path):
    address = "C0:FF:EE:12:34:56"
    arrivals = [
        Arrival(0.1, 0, b"\x01SN20231234\x02"),
        Arrival(0.2, 0, bytes.fromhex("AAC0FFEE12345655")),
        Arrival(0.3, 0, b"C0:FF:EE:12:34:56"),
        Arrival(0.4, 0, bytes.fromhex("aa563412eeffc055")),
    ]
    path = tmp_path / "one.jsonl"
    write_capture(
        path, Capture("ble", (Stream("x"),), tuple(arrivals), notes=(f"found at {address}",)), address
    )
    text = path.read_text(encoding="utf-8").lower()
    for secret in (
        "20231234",
        b"20231234".hex(),
        "c0ffee123456",
        "563412eeffc0",
        address.lower(),
        b"C0:FF".hex(),
    ):
        assert secret not in text
    assert [len(one.data) for one in read_capture(path).arrivals] == [12, 8, 17, 8]


def test_a_weight_in_digits_is_no_serial_number(tmp_path):
    arrivals = tuple(Arrival(0.1 * n, 0, f"{1000 + 7 * n:08d}\r\n".encode()) for n in range(50))
    path = tmp_path / "one.jsonl"
    write_capture(path, Capture("serial", (Stream(),), arrivals))
    assert read_capture(path).arrivals == tuple(Arrival(round(a.time_s, 6), 0, a.data) for a in arrivals)


HEAD = {"evencup_capture": 1, "link": "serial", "quantity": "weight", "streams": [{"uuid": ""}]}


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ([], "empty"),
        (["not json"], "line 1: this is no JSON"),
        (["[1]"], "line 1: this is no object"),
        ([{"link": "ble"}], "evencup_capture: it is missing"),
        ([{**HEAD, "evencup_capture": 9}], "version 9 is not known"),
        ([{**HEAD, "link": "smoke"}], "line 1, link: 'smoke' is not known"),
        ([{**HEAD, "streams": []}], "line 1, streams"),
        ([HEAD, {"t": "x", "stream": 0, "data": "00"}], "line 2, t: 'x' is no number"),
        ([HEAD, {"t": 1, "stream": 4, "data": "00"}], "line 2, stream: 4 is not from 0 to 0"),
        ([HEAD, {"t": 1, "stream": 0, "data": "0g"}], "line 2, data"),
        ([HEAD, {"load": 5, "start": 2, "end": 1}], "line 2, end"),
        ([HEAD, {"load": 5, "start": 0, "end": 2}, {"load": 6, "start": 1, "end": 3}], "overlap"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_line_and_field(tmp_path, lines, said):
    path = tmp_path / "bad.jsonl"
    text = "\n".join(line if isinstance(line, str) else json.dumps(line) for line in lines)
    path.write_text(text + "\n" * bool(text), encoding="utf-8")
    with pytest.raises(CaptureError) as told:
        read_capture(path)
    assert said in str(told.value)


@settings(max_examples=50, deadline=None)
@given(junk=st.binary(max_size=200))
def test_junk_is_told_and_never_a_traceback(tmp_path_factory, junk):
    path = tmp_path_factory.mktemp("junk") / "one.jsonl"
    path.write_bytes(junk)
    with pytest.raises(CaptureError):
        read_capture(path)


def test_a_capture_cut_off_in_its_last_line_opens(tmp_path):
    path = tmp_path / "cut.jsonl"
    whole = [HEAD, {"t": 1.0, "stream": 0, "data": "aa"}]
    path.write_text("\n".join(map(json.dumps, whole)) + '\n{"t": 1.1, "str', encoding="utf-8")
    assert len(read_capture(path).arrivals) == 1
