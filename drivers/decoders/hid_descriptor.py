"""Where a USB scale's weight is in its reports, as its own report descriptor says (USB-IF HID 1.11, 6.2.2).

A descriptor is a run of items: a prefix byte (bits 0-1 size, 2-3 type, 4-7 tag) and 0, 1, 2 or 4 bytes.
Global items hold until changed, local ones until the next main item; an input item lays down
``report count`` fields of ``report size`` bits. Read here is only what finds four fields of the weighing
page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from drivers.decoders.hid_weight import (
    SCALING,
    STATUS_CLASS,
    STATUS_COUNT,
    STATUSES_IN_ORDER,
    UNIT_CLASS,
    UNIT_COUNT,
    UNITS_IN_ORDER,
    WEIGHING_PAGE,
    WEIGHT,
    Field,
    ReportLayout,
)
from drivers.decoders.measurement import Rejected

_LONG_ITEM = 0xFE
_MAIN, _GLOBAL, _LOCAL = 0, 1, 2
_INPUT = 8
_USAGE_PAGE, _LOGICAL_MINIMUM, _REPORT_SIZE, _REPORT_ID, _REPORT_COUNT, _PUSH, _POP = 0, 1, 7, 8, 9, 10, 11
_USAGE, _USAGE_MINIMUM, _USAGE_MAXIMUM = 0, 1, 2
_CONSTANT, _VARIABLE = 1, 2

_MOST_FIELDS = 256
"""Of one item: a scale has four, and a damaged descriptor may claim billions."""


def read_weighing_layout(descriptor: bytes) -> ReportLayout | Rejected:
    """Find the weighing report in a descriptor."""
    reports = _Reports()
    for kind, tag, data in _items(descriptor):
        reports.take(kind, tag, data)
    for report_id, found in reports.found.items():
        fields = found.fields
        if {WEIGHT, UNIT_CLASS, STATUS_CLASS} <= fields.keys():
            scaling = fields.get(SCALING)
            return ReportLayout(
                report_id,
                status=fields[STATUS_CLASS],
                unit=fields[UNIT_CLASS],
                weight=fields[WEIGHT],
                scaling=None if scaling is None else replace(scaling, signed=True),
                units=found.members.get(UNIT_CLASS, UNITS_IN_ORDER),
                statuses=found.members.get(STATUS_CLASS, STATUSES_IN_ORDER),
            )
    return Rejected(
        descriptor[:32].hex(" "), "no input report of its descriptor holds a weight, its unit and its status"
    )


def _items(descriptor: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Give type, tag and data of the whole items; long ones are left out, there are none in use."""
    at = 0
    while at < len(descriptor):
        prefix = descriptor[at]
        if prefix == _LONG_ITEM:
            at += 3 + (descriptor[at + 1] if at + 1 < len(descriptor) else 0)
            continue
        end = at + 1 + (0, 1, 2, 4)[prefix & 3]
        if end > len(descriptor):
            return
        yield prefix >> 2 & 3, prefix >> 4, descriptor[at + 1 : end]
        at = end


@dataclass(slots=True)
class _Global:
    usage_page: int = 0
    logical_minimum: int = 0
    report_size: int = 0
    report_count: int = 0
    report_id: int | None = None


@dataclass(frozen=True, slots=True)
class _Usage:
    """A usage as its item gives it: with its page, or completed by the one in force at the main item."""

    value: int
    has_page: bool

    def on_weighing_page(self, page: int) -> int:
        """Give the usage within the weighing page; 0 for one of another page."""
        page = self.value >> 16 if self.has_page else page
        return self.value & 0xFFFF if page == WEIGHING_PAGE else 0


@dataclass(slots=True)
class _Report:
    """One report: bits so far, fields by usage, and what the codes of a class mean."""

    bits: int
    fields: dict[int, Field] = field(default_factory=dict)
    members: dict[int, dict[int, int]] = field(default_factory=dict)


class _Reports:
    """The input reports of a descriptor, built up item by item."""

    def __init__(self) -> None:
        self.found: dict[int | None, _Report] = {}
        self._global, self._stack = _Global(), list[_Global]()
        self._usages: list[_Usage] = []
        self._range_from = 0

    def take(self, kind: int, tag: int, data: bytes) -> None:
        if kind == _GLOBAL:
            self._take_global(tag, data)
        elif kind == _LOCAL:
            self._take_local(tag, data)
        elif kind == _MAIN:
            if tag == _INPUT:
                self._take_input(int.from_bytes(data, "little"))
            self._usages, self._range_from = [], 0

    def _take_global(self, tag: int, data: bytes) -> None:
        value = int.from_bytes(data, "little")
        if tag == _USAGE_PAGE:
            self._global.usage_page = value
        elif tag == _LOGICAL_MINIMUM:
            self._global.logical_minimum = int.from_bytes(data, "little", signed=True)
        elif tag == _REPORT_SIZE:
            self._global.report_size = value
        elif tag == _REPORT_COUNT:
            self._global.report_count = value
        elif tag == _REPORT_ID:
            self._global.report_id = value
        elif tag == _PUSH:
            self._stack.append(replace(self._global))
        elif tag == _POP and self._stack:
            self._global = self._stack.pop()

    def _take_local(self, tag: int, data: bytes) -> None:
        value, has_page = int.from_bytes(data, "little"), len(data) == 4
        if tag == _USAGE:
            self._usages.append(_Usage(value, has_page))
        elif tag == _USAGE_MINIMUM:
            self._range_from = value
        elif tag == _USAGE_MAXIMUM:
            members = range(self._range_from, min(value + 1, self._range_from + _MOST_FIELDS))
            self._usages += [_Usage(number, has_page) for number in members]

    def _take_input(self, flags: int) -> None:
        now = self._global
        # Numbered reports begin with their number.
        report = self.found.setdefault(now.report_id, _Report(0 if now.report_id is None else 8))
        start = report.bits
        report.bits += now.report_size * now.report_count
        usages = [usage.on_weighing_page(now.usage_page) for usage in self._usages[:_MOST_FIELDS]]
        if flags & _CONSTANT or not usages or not now.report_size:
            return
        signed = now.logical_minimum < 0
        if not flags & _VARIABLE:
            self._add_class(report, Field(start, now.report_size), usages)
            return
        for number in range(min(now.report_count, _MOST_FIELDS)):
            usage = usages[min(number, len(usages) - 1)]
            place = Field(start + number * now.report_size, now.report_size, signed)
            report.fields.setdefault(usage, place)

    def _add_class(self, report: _Report, place: Field, usages: list[int]) -> None:
        """Note an array: the code sent is the place of one of its usages, counted from the least code."""
        for usage_class, count in ((UNIT_CLASS, UNIT_COUNT), (STATUS_CLASS, STATUS_COUNT)):
            if any(usage_class < usage <= usage_class + count for usage in usages):
                report.fields.setdefault(usage_class, place)
                codes = enumerate(usages, self._global.logical_minimum)
                report.members.setdefault(usage_class, dict(codes))
