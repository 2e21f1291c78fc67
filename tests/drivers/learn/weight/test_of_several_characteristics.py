"""One weight on several characteristics, or twice in a packet: which is prompt, and which may be shown."""

from __future__ import annotations

import struct
from dataclasses import replace

from drivers.learn import Capture, Stream, learn
from tests.drivers.learn.small import captured, heard_together, learned, reads, summed, xor

THIRD = "0000fff3-0000-1000-8000-00805f9b34fb"
LOADS = (0.0, 346.0, 915.1, 446.1)


def counts(factor: float, nought: int, g: float) -> bytes:
    return (round(factor * g) + nought).to_bytes(3, "big")


def test_bare_counts_of_another_factor_on_another_characteristic_leave_open_which_are_shown():
    raw = captured(lambda g, n: counts(431.7, 84211, g), LOADS, 0.06, "ble")

    def line(g: float, n: int) -> bytes:
        return b"#%d\r\n" % (round(339.44 * g) + 126201)

    found = learn(heard_together(raw, captured(line, LOADS, 0.01, "ble")))
    assert not found.is_sure
    assert any("in other counts" in reason for reason in found.reasons), found.reasons


def _lagging(capture: Capture, lag: float) -> Capture:
    """Filter tenths of grams, as first order does from packet to packet."""
    says, arrivals = 0.0, []
    for each in capture.arrivals:
        says += lag * (int.from_bytes(each.data[1:4], "big") / 10.0 - says)
        arrivals.append(replace(each, data=b"\xb4" + round(10 * says).to_bytes(3, "big")))
    return replace(capture, arrivals=tuple(arrivals))


def _seldom(capture: Capture, every: int) -> Capture:
    return replace(capture, arrivals=capture.arrivals[::every])


def test_a_filtered_copy_on_another_characteristic_is_told_by_how_it_goes_where_few_packets_come():
    """Three packets a second time a change by a third of a second; all of the way tells more."""

    def packet(g: float, n: int) -> bytes:
        empty = n % 160 < 8 and n > 160  # one load is taken off before the next is put on
        return b"\xa7" + round(10 * (0.0 if empty else max(g, 0.0))).to_bytes(3, "big")

    prompt = captured(packet, LOADS, 0.0, "ble")
    late = _lagging(prompt, 0.22)
    for one, other in ((prompt, late), (late, prompt)):
        found = learn(heard_together(_seldom(one, 4), _seldom(other, 4)))
        assert found.choice.best is not None
        assert found.choice.best.kind.stream == (0 if one is prompt else 1)


def test_what_is_silent_at_rest_is_sent_as_often_as_it_is_while_the_load_moves():
    """Once a second at rest, and each time while it moves, is more than once a second always."""

    def grams(g: float, n: int) -> bytes:
        return struct.pack(">h", 5 * round(2 * (0.0 if n > 160 and 2 < n % 160 < 12 else g)))

    full = captured(lambda g, n: grams(g, n) + bytes([n % 160]), LOADS, 0.0, "ble")
    raw = captured(lambda g, n: counts(55.0, 8374, g), LOADS, 0.06, "ble")
    says = tuple(replace(each, data=b"\x10" + each.data[:2]) for each in full.arrivals)
    moving = tuple(
        replace(each, data=each.data + xor(each.data))
        for each, n in zip(says, (each.data[2] for each in full.arrivals), strict=True)
        if n % 13 == 0 or n < 20
    )
    once = tuple(
        replace(each, data=each.data[:2] + b"\x07\x3e" + summed(each.data[:2] + b"\x07\x3e"))
        for each in full.arrivals
        if each.data[2] % 13 == 0
    )
    both = heard_together(replace(full, arrivals=once), replace(full, arrivals=moving))
    third = tuple(replace(each, stream=2) for each in raw.arrivals)
    arrivals = tuple(sorted((*both.arrivals, *third), key=lambda each: each.time_s))
    found = learn(replace(both, streams=(*both.streams, Stream(THIRD)), arrivals=arrivals))
    assert found.choice.best is not None
    assert found.choice.best.kind.stream == 1


def test_two_samples_in_one_packet_are_two_numbers_and_none_between_them():
    """Half of each makes one in the other order, which says the same at rest."""
    loads = (0.0, 80.8, 92.3, 124.8)

    def packet(g: float, n: int) -> bytes:
        load, before = loads[n // 160], loads[max(n // 160 - 1, 0)]
        samples = (load + (before - load) * 0.87 ** max(n % 160 - late, 0) for late in (2, 0))
        data = b"\x7e\xaa" + bytes([n % 256]) + struct.pack(">HH", *(round(10 * each) for each in samples))
        return data + xor(data)

    found = learn(_seldom(captured(packet, loads, 0.0, "ble"), 7))
    assert found.choice.best is not None
    assert found.choice.best.number.order == "big"


def test_tens_of_grams_are_no_steps_of_a_display_and_round_loads_show_no_digits_below_them():
    def packet(g: float, n: int) -> bytes:
        before = (0.0, 0.0, 300.0, 700.0)[n // 160]
        lagging = (0.0, 300.0, 700.0, 200.0)[n // 160] * (1 - 0.9 ** (n % 160)) + before * 0.9 ** (n % 160)
        data = b"\x1c\x01" + bytes.fromhex(f"{round(max(g, 0.0)):04d}") + struct.pack(">H", round(lagging))
        return data + xor(data)

    found = learned(packet, (0.0, 300.0, 700.0, 200.0), 0.0)
    data = b"\x1c\x01\x02\x34\x00\xe0"
    assert reads(found, data + xor(data)) == [234.0]
