"""Lines with columns that change their length: a check that moves along, and a counter behind a comma."""

from __future__ import annotations

from tests.drivers.learn.small import learned, reads


def test_lines_of_another_length_with_the_same_check_are_not_passed_over():
    def line(g: float, n: int) -> bytes:
        weight = round(88.65 * g)
        flow = b"%.1f" % (-0.04 if 1 < n % 160 < 6 else 0.0)
        data = b"K%07.2f\t%s\t%s\t=\t19" % (abs(weight) / 100, flow, b"+" if weight >= 0 else b"-")
        return data + b"%04X\r\n" % (sum(data) % 65536)

    found = learned(line, (0.0, 100.0, 250.0, 500.0), noise_g=0.05, link="serial")
    if found.is_sure:
        assert reads(found, line(123.4, 3), line(123.4, 9), link="serial").count(None) == 0


def test_a_counter_behind_a_comma_is_no_decimals():
    def line(g: float, n: int) -> bytes:
        data = b"%8d,%d,%d," % (2 * round(max(g, 0.0) / 2), 304 + n, n % 160 < 9)
        check = 0
        for byte in data:
            check ^= byte
        return data + b"%02X\r\n" % check

    found = learned(line, (0.0, 100.0, 800.0, 256.0), noise_g=0.3, link="serial")
    assert found.description is not None
    assert reads(found, line(123.9, 2), line(800.0, 1700), link="serial") == [124.0, 800.0]


def test_a_number_behind_a_clock_and_a_comma_is_no_decimals_of_it():
    def line(g: float, n: int) -> bytes:
        data = b"%02d:%02d,%05dg" % (n // 600, n // 10 % 60, 2 * round(max(g, 0.0) / 2))
        return data + b"*%02X\r\n" % (sum(data) % 256)

    found = learned(line, (814.4, 412.0, 392.0, 366.1), noise_g=0.7, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(1124.1, 12), line(90.0, 1700), link="serial") == [1124.0, 90.0]
