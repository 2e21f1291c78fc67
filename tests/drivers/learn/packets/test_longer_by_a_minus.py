"""Lines that are longer by a minus: of the weight, which is written where it is needed, or of a column."""

from __future__ import annotations

from tests.drivers.learn.small import learned, reads

LOADS = (0.0, 20.0, 448.8, 1210.0)


def test_a_minus_that_makes_lines_longer_is_read_though_hardly_any_load_shows_it():
    """From their end backwards, longer lines are as long as the others, and above nought."""

    def line(g: float, n: int) -> bytes:
        text = b"%010.2f" % (-0.01 if n in (5, 30, 60, 90, 120) else g)
        return b"\x02" + (text if text[:1] == b"-" else text[1:]) + b"\x03"

    found = learned(line, LOADS, 0.0, "serial")
    assert reads(found, b"\x02000012.34\x03", b"\x02-000012.34\x03", link="serial") == [12.34, -12.34]


def test_another_column_may_come_to_have_a_minus_that_makes_lines_longer():
    """What is filtered goes below nought while the weight does not."""

    def line(g: float, n: int) -> bytes:
        return b"%09.1f,U,%09.1f\r\n" % (max(g, 0.0), max(g, 0.0) + 0.1 * (n % 3))

    found = learned(line, LOADS, 0.0, "serial")
    assert reads(found, b"0000012.5,U,-0000002.5\r\n", link="serial") == [12.5]
