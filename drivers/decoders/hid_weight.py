"""Weights of USB HID scales: the scale data report of usage page 0x8D (USB-IF, point of sale usage tables).

::

    04 04 02 FF 4D 01
    |  |  |  |  `---- weight, u16: 333
    |  |  |  `------- scaling, s8: power of ten, -1  -> 33.3 g
    |  |  `---------- unit: 1 mg, 2 g, 3 kg ... 11 oz, 12 lb
    |  `------------- status: 3 moving, 4 stable, 5 under zero ...
    `---------------- report id

That is the common order; a device's own descriptor may say another one (see ``hid_descriptor``). The weight
has no sign: status 5 says that it is below zero.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from drivers.decoders.measurement import Measurement, Rejected
from drivers.reading import GRAM, Status

WEIGHING_PAGE = 0x8D
WEIGHT, SCALING = 0x40, 0x41
UNIT_CLASS, STATUS_CLASS = 0x50, 0x70
"""Usages of the page: two fields, and two classes whose members are the usages after them."""

UNIT_COUNT, STATUS_COUNT = 12, 8


@dataclass(frozen=True, slots=True)
class Field:
    """Where a number stands in a report.

    :param bit: the first bit, counted from the first byte read, the report id included
    """

    bit: int
    bits: int
    signed: bool = False

    @property
    def end(self) -> int:
        """The bit after the last."""
        return self.bit + self.bits

    def read(self, report: int) -> int:
        """Read the number out of a report taken as one little-endian number."""
        value = report >> self.bit & ((1 << self.bits) - 1)
        return value - (1 << self.bits) if self.signed and value >> (self.bits - 1) else value


def _in_order(usage_class: int, count: int) -> Mapping[int, int]:
    return MappingProxyType({index: usage_class + index for index in range(1, count + 1)})


UNITS_IN_ORDER = _in_order(UNIT_CLASS, UNIT_COUNT)
STATUSES_IN_ORDER = _in_order(STATUS_CLASS, STATUS_COUNT)


@dataclass(frozen=True, slots=True)
class ReportLayout:
    """Where the fields of a scale's report are, and what their codes mean.

    :param report_id: of the report that holds the weight; None where any will do
    :param scaling: None where the device never scales
    :param units: code as sent -> usage; a descriptor that lists them in another order changes it
    :param statuses: the same for the status
    """

    report_id: int | None
    status: Field
    unit: Field
    weight: Field
    scaling: Field | None
    units: Mapping[int, int] = field(default_factory=lambda: UNITS_IN_ORDER)
    statuses: Mapping[int, int] = field(default_factory=lambda: STATUSES_IN_ORDER)

    @property
    def length(self) -> int:
        """Bytes that a report needs to have."""
        fields = (self.status, self.unit, self.weight, self.scaling)
        return -(-max(one.end for one in fields if one) // 8)


COMMON_LAYOUT = ReportLayout(None, Field(8, 8), Field(16, 8), Field(32, 16), Field(24, 8, signed=True))

# Grams as exact fractions (NIST SP 811 (2008), B.8): a grain is 64.798 91 mg, a pennyweight 24 of them, a
# troy ounce 480, a pound 7000, an ounce its sixteenth; the carat is the metric one of 200 mg.
_GRAMS = {
    0x51: (1, 1000),
    0x52: (1, 1),
    0x53: (1000, 1),
    0x54: (1, 5),
    0x56: (6479891, 10**8),
    0x57: (155517384, 10**8),
    0x58: (10**6, 1),
    0x5A: (311034768, 10**7),
    0x5B: (28349523125, 10**9),
    0x5C: (45359237, 10**5),
}
_AMBIGUOUS = {
    0x55: ("tael", "a tael is between 30 and 50 g, by country"),
    0x59: ("ton", "a ton is 2000 or 2240 lb, and the standard does not say which"),
}

_STATUS = {
    0x71: Status.ERROR,  # fault
    0x72: Status.STABLE,  # stable at the centre of zero
    0x73: Status.MOVING,
    0x74: Status.STABLE,
    0x75: Status.UNKNOWN,  # under zero; whether it moves is not told
    0x76: Status.OVERLOAD,
    0x77: Status.ERROR,  # requires calibration
    0x78: Status.ERROR,  # requires zeroing again
}
_UNDER_ZERO = 0x75


def decode_scale_report(report: bytes, layout: ReportLayout = COMMON_LAYOUT) -> Measurement | Rejected:
    """Decode one report as read from the device, its id first where the device numbers its reports."""
    if why := _unreadable(report, layout):
        return Rejected(report.hex(" "), why)
    word = int.from_bytes(report[: layout.length], "little")
    code = layout.status.read(word)
    usage = layout.statuses.get(code, 0)
    status = _STATUS.get(usage)
    if status is None:
        return Rejected(report.hex(" "), f"status {code} is not in the standard")
    if not status.has_value:
        return Measurement(None, math.nan, GRAM, status)
    count_g = _count_g(word, layout)
    if isinstance(count_g, _UnknownUnit):
        return Rejected(report.hex(" "), count_g.why, count_g.name)
    above, below = count_g
    value = layout.weight.read(word) * above / below
    return Measurement(None, 0.0 - abs(value) if usage == _UNDER_ZERO else value, GRAM, status)


def scale_step_g(report: bytes, layout: ReportLayout = COMMON_LAYOUT) -> float | None:
    """Give the step of the weight in a report, g; None where it holds no weight that can be read."""
    if _unreadable(report, layout):
        return None
    count_g = _count_g(int.from_bytes(report[: layout.length], "little"), layout)
    return None if isinstance(count_g, _UnknownUnit) else count_g[0] / count_g[1]


@dataclass(frozen=True, slots=True)
class _UnknownUnit:
    name: str
    why: str


def _unreadable(report: bytes, layout: ReportLayout) -> str:
    if len(report) < layout.length:
        return f"it has {len(report)} bytes and a weighing report {layout.length}"
    if layout.report_id is not None and report[0] != layout.report_id:
        return f"it is report {report[0]}, and the weight is in report {layout.report_id}"
    return ""


def _count_g(word: int, layout: ReportLayout) -> tuple[int, int] | _UnknownUnit:
    """Give what one count of the weight is in g, as an exact fraction."""
    code = layout.unit.read(word)
    usage = layout.units.get(code, 0)
    if usage in _AMBIGUOUS:
        return _UnknownUnit(*_AMBIGUOUS[usage])
    if usage not in _GRAMS:
        return _UnknownUnit(f"code {code}", f"unit code {code} is not in the standard")
    above, below = _GRAMS[usage]
    power = 0 if layout.scaling is None else layout.scaling.read(word)
    return (above * 10**power, below) if power >= 0 else (above, below * 10**-power)
