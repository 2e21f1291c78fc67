"""One table of a description file, read field by field: whole numbers, bytes, codes, choices."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Collection, Mapping
from typing import ClassVar, TypeVar
from uuid import UUID

from drivers.decoders.byte_orders import BYTE_ORDERS, WORD_ORDERS, Order, highest_first
from drivers.described.description import Bits
from drivers.toml_form import TomlForm, kind_of, shown

_Choice = TypeVar("_Choice", bound=str)
_Meaning = TypeVar("_Meaning")

_BITS = ("offset", "width", "order", "mask")

FIELDS: dict[str, tuple[str, ...]] = {
    "": (
        "name", "kind", "start", "tare",
        "ble", "serial", "frame", "lines", "sensor", "keep_alive", "poll",
    ),
    "ble": ("service", "notify", "write", "response", "joined"),
    "serial": ("baud", "bytesize", "parity", "stopbits"),
    "frame": (
        "name", "characteristic", "header", "length", "length_field", "terminator", "longest",
        "checksum", "field",
    ),
    "length_field": (*_BITS, "adds"),
    "checksum": (
        "kind", "at", "from", "to", "order", "written", "polynomial", "init", "refin", "refout", "xorout",
    ),
    "field": (
        "holds", *_BITS, "encoding", "nibbles", "signed", "sign", "scale", "zero", "decimals", "unit",
        "channel", "step", "no_value", "values", "when",
    ),
    "sign": (*_BITS, "negative", "positive"),
    "unit": (*_BITS, "values"),
    "decimals": _BITS,
    "lines": ("pattern", "scpi", "unit", "checksum", "encoding", "width", "signed", "minus"),
    "sensor": (
        "channel", "zero", "counts_per_g", "converter_bits", "thermocouple", "cold_c", "rtd", "thermistor",
    ),
    "keep_alive": ("send", "every_s"),
    "poll": ("send", "every_ms"),
}  # fmt: skip

_BYTES_REMEDY = 'as [0xAA, 0x55], or as text in quotes, "R\\r\\n"'
_BASE_UUID = "0000{}-0000-1000-8000-00805f9b34fb"
"""What a Bluetooth UUID of four digits is short for (Bluetooth Core Specification, vol. 3, part B, 2.5.1)."""


class DescriptionForm(TomlForm):
    """A table of a description and the remarks about it. None stands for what is absent or cannot be read."""

    fields: ClassVar[Mapping[str, tuple[str, ...]]] = FIELDS
    homes: ClassVar[Mapping[str, str]] = {
        "": "above the first line in square brackets",
        "ble": "under [ble]",
        "serial": "under [serial]",
        "frame": "under its [[frame]]",
        "checksum": "under [frame.checksum] or [lines.checksum]",
        "field": "under its [[frame.field]]",
        "lines": "under [lines]",
        "sensor": "under a [[sensor]]",
        "poll": "under [poll]",
        "keep_alive": "under [keep_alive]",
    }

    def value(self, key: str) -> object:
        """Give a field as the TOML reader gave it; None where it is absent."""
        return self._table.get(key)

    def whole(
        self, key: str, low: int, high: int, default: int | None = None, *, required: bool = False
    ) -> int | None:
        """Read a whole number within its limits."""
        value = self._table.get(key)
        example = low if default is None else default
        remedy = f"Write {key} = {example}, for instance: a whole number from {low} to {high}."
        if value is None:
            self._missing(key, required, remedy)
            return default
        if isinstance(value, bool) or not isinstance(value, int):
            self.remark(key, f"{kind_of(value)} where a whole number belongs", remedy)
            return default
        if not low <= value <= high:
            self.remark(key, f"{shown(value)} is not from {low} to {high}", remedy)
            return default
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Read ``true`` or ``false``."""
        value = self._table.get(key, default)
        if not isinstance(value, bool):
            self.remark(key, f"{kind_of(value)} where true or false belongs", f"Write {key} = true.")
            return default
        return value

    def choice(
        self, key: str, among: Collection[_Choice], default: _Choice, *, required: bool = False
    ) -> _Choice:
        """Read one of a few words."""
        words = list(among)
        said = self.text(key, required=required, example=words[0])
        if said.strip() and said not in words:
            near = difflib.get_close_matches(said.lower(), words, n=1)
            names = " or ".join(f'"{word}"' for word in near or words if word)
            self.remark(key, f"{shown(said)} is not known here", f"Write {names}.")
        return next((word for word in words if word == said), default)

    def choices(self, key: str, among: Collection[_Choice], default: _Choice) -> list[_Choice]:
        """Read one of a few words, or a list of them; never empty."""
        value = self._table.get(key)
        if not isinstance(value, list) or not value:
            return [self.choice(key, among, default, required=True)]
        found = [word for said in value for word in among if word == said]
        if len(found) < len(value):
            remedy = f"Write some of {', '.join(among)}."
            self.remark(key, f"not all of {shown(value)} are known here", remedy)
        return found or [default]

    def bytes_of(self, key: str, *, required: bool = False) -> bytes:
        """Read bytes: a list of numbers, or text; empty where absent."""
        value = self._table.get(key)
        if value is None:
            self._missing(key, required, f"Write {key} {_BYTES_REMEDY}.")
            return b""
        data = _as_bytes(value)
        if not data:
            self.remark(key, f"{kind_of(value)} where bytes belong", f"Write them {_BYTES_REMEDY}.")
        return data or b""

    def commands(self, key: str) -> tuple[bytes, ...]:
        """Read one command or a list of them."""
        value = self._table.get(key)
        if isinstance(value, list) and value and not all(_is_byte(each) for each in value):
            commands = [_as_bytes(each) for each in value]
            if not all(commands):
                remedy = f"Write each {_BYTES_REMEDY}."
                self.remark(key, "not every command in this list is bytes", remedy)
            return tuple(command for command in commands if command)
        data = self.bytes_of(key)
        return (data,) if data else ()

    def header(self, key: str) -> tuple[int | None, ...]:
        """Read what a frame begins with; ``"?"`` in the list is a byte that may be anything."""
        value = self._table.get(key)
        if isinstance(value, list) and value and all(_is_byte(each) or each == "?" for each in value):
            return tuple(None if each == "?" else each for each in value)
        return tuple(self.bytes_of(key))

    def codes(self, key: str, *, required: bool = False) -> frozenset[int]:
        """Read a code or a list of codes."""
        value = self._table.get(key)
        remedy = f"Write {key} = 0x01, or several as [0x01, 0x02]."
        if value is None:
            self._missing(key, required, remedy)
            return frozenset()
        listed = value if isinstance(value, list) else [value]
        if not all(isinstance(each, int) and not isinstance(each, bool) and each >= 0 for each in listed):
            self.remark(key, f"{kind_of(value)} where codes belong", remedy)
            return frozenset()
        return frozenset(listed)

    def mapping(
        self,
        key: str,
        bits: Bits | None,
        understood: Callable[[str], _Meaning | None],
        among: Collection[str],
    ) -> dict[int, _Meaning]:
        """Read what codes mean: ``{ 0x01 = "g", "oz" = "oz" }``.

        :param bits: where the codes come from: a code may be written as the text that stands there
        :param understood: gives what a word stands for; None where it stands for nothing
        :param among: the words, for the remedy
        """
        table = self._table.get(key)
        remedy = (
            f'Write {key} = {{ 0x01 = "{next(iter(among))}" }}: each code with one of {", ".join(among)}.'
        )
        if not isinstance(table, dict) or not table:
            what = "it is missing" if table is None else f"{kind_of(table)} where codes and meanings belong"
            self.remark(key, what, remedy)
            return {}
        meanings: dict[int, _Meaning] = {}
        for written, word in table.items():
            meaning = understood(word) if isinstance(word, str) else None
            code = _code(written, bits)
            if meaning is None:
                self.remark(key, f"{shown(word)} is not known here", remedy)
            elif code is None:
                what = f"{written!r} is neither a number nor text of the field's width"
                self.remark(key, what, remedy)
            else:
                meanings[code] = meaning
        return meanings

    def bits(self, widest: int, *, ordered: bool = True) -> Bits | None:
        """Read where some bytes stand.

        :param widest: how many there may be
        :param ordered: whether their order matters
        """
        offset = self.whole("offset", -1024, 1024, required=True)
        width = self.whole("width", 1, widest, 1)
        order: Order = self.choice("order", (*BYTE_ORDERS, *WORD_ORDERS), "big")
        mask = self.whole("mask", 1, (1 << 63) - 1)
        if offset is None or width is None:
            return None
        if width > 1 and ordered and "order" not in self:
            remedy = 'Write order = "big" (the highest byte comes first) or order = "little".'
            self.remark("order", f"{width} bytes have an order", remedy)
        if order in WORD_ORDERS and (width < 4 or width % 2):
            what = f"{order} is an order of words of two bytes"
            self.remark("order", what, 'Write order = "big" or order = "little", or width = 4.')
            return None
        if mask is not None and mask >> 8 * width:
            self.remark("mask", f"{mask:#x} has more bits than {width} bytes", "Widen the field.")
            return None
        return Bits(offset, width, order, mask or 0)

    def uuid(self, key: str, *, required: bool = False) -> str:
        """Read a Bluetooth UUID in full length; empty where it is absent."""
        return self.as_uuid(key, self.text(key, required=required, example="9f4a0001-..."))

    def uuids(self, key: str) -> tuple[str, ...]:
        """Read one or several Bluetooth UUIDs."""
        value = self._table.get(key)
        listed = value if isinstance(value, list) else [value]
        texts = [each for each in listed if isinstance(each, str)]
        if not listed or len(texts) < len(listed):
            what = "it is missing" if value is None else f"{kind_of(value)} where UUIDs belong"
            self.remark(key, what, f'Write {key} = "..." or {key} = ["...", "..."].')
            return ()
        return tuple(self.as_uuid(key, each) for each in texts)

    def as_uuid(self, key: str, text: str) -> str:
        """Give a UUID in full length."""
        if not text:
            return ""
        full = _BASE_UUID.format(text) if re.fullmatch(r"[0-9A-Fa-f]{4}", text) else text
        try:
            return str(UUID(full))
        except ValueError:
            remedy = "A UUID has 4 or 32 digits, 0 to f, the 32 in groups of 8-4-4-4-12."
            self.remark(key, f"{shown(text)} is no UUID", remedy)
            return ""


def _is_byte(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 255


def _as_bytes(value: object) -> bytes | None:
    if isinstance(value, str):
        return value.encode("utf-8") or None
    if isinstance(value, list) and all(_is_byte(each) for each in value):
        return bytes(value) or None
    return None


def _code(written: str, bits: Bits | None) -> int | None:
    """Understand a code: a number, or the text that stands in the frame."""
    try:
        return int(written, 0)
    except ValueError:
        pass
    data = written.encode("utf-8")
    if bits is None or len(data) != bits.width:
        return None
    return int.from_bytes(highest_first(data, bits.order))
