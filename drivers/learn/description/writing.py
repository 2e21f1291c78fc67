"""What has been learned, written as the description of a device."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from drivers.described.description import Checksum
from drivers.learn.captures.capture import UNIT_OF, Capture
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.numbers.scales import shown
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import Header


def toml_of(
    name: str, capture: Capture, one: Fit, outside: Outside, extra: Sequence[str], *, is_joined: bool
) -> str:
    """Write a description.

    :param extra: further fields, each the lines of a ``[[frame.field]]``
    :param is_joined: whether notifications are pieces of one stream
    """
    parts = [
        *opening(name, capture, one, "serial-frames", is_joined=is_joined),
    ]
    field = weight_field(capture, one, with_plus=one.kind.is_cut and outside.is_told_by_check)
    for header in outside.headers:
        parts += [_frame(header, outside), field, *extra]
    return "\n\n".join(filter(None, parts)) + "\n"


def opening(name: str, capture: Capture, one: Fit, serial_kind: str, *, is_joined: bool) -> tuple[str, str]:
    """Write what a description begins with: what is written to the device, and how it is reached.

    :param serial_kind: the kind of description, where the device is at a serial line
    :param is_joined: whether notifications are pieces of one stream
    """
    kind = "ble" if capture.link == "ble" else serial_kind
    return _top(name, capture, kind), _link(capture, one, is_joined)


def _top(name: str, capture: Capture, kind: str) -> str:
    lines = [f'name = "{name}"', f'kind = "{kind}"']
    starts = [one for one in capture.written if one.every_s is None]
    repeated = [one for one in capture.written if one.every_s is not None]
    if starts:
        lines.append(f"start = [{', '.join(bytes_text(one.data) for one in starts)}]")
    lines += [
        f"keep_alive = {{ send = {bytes_text(one.data)}, every_s = {one.every_s:g} }}" for one in repeated[:1]
    ]
    return "\n".join(lines)


def _link(capture: Capture, one: Fit, is_joined: bool) -> str:
    if capture.link == "serial":
        return _serial_table(capture)
    lines = ["[ble]", f'notify = ["{capture.streams[one.kind.stream].uuid}"]']
    writes = {each.uuid for each in capture.written if each.uuid}
    lines += [f'write = "{uuid}"' for uuid in sorted(writes)[:1]]
    if is_joined:
        lines.append("joined = true")
    return "\n".join(lines)


def _serial_table(capture: Capture) -> str:
    """Write how the line is set."""
    lines = ["[serial]", f"baud = {capture.baud}"]
    if capture.bytesize != 8:
        lines.append(f"bytesize = {capture.bytesize}")
    if capture.parity != "none":
        lines.append(f'parity = "{capture.parity}"')
    return "\n".join(lines)


def _frame(header: Header, outside: Outside) -> str:
    lines = ["[[frame]]"]
    if header:
        solid = ", ".join('"?"' if byte is None else f"0x{byte:02X}" for byte in header)
        lines.append(f"header = [{solid}]")
    lines.append(f"length = {outside.length}")
    if outside.terminator:
        lines.append(f"terminator = {bytes_text(outside.terminator)}")
    if outside.check is not None:
        lines += ["", *checksum_lines("frame", outside.check.checksum)]
    return "\n".join(lines)


def checksum_lines(of: str, check: Checksum) -> list[str]:
    """Write a check.

    :param of: ``frame`` or ``lines``, which it stands in
    """
    names = [f'"{kind}"' for kind in (check.kind, *check.or_kinds)]
    kind = names[0] if len(names) == 1 else f"[{', '.join(names)}]"
    lines = [f"[{of}.checksum]", f"kind = {kind}", f"at = {check.at}"]
    lines += [f"from = {check.start}", f"to = {check.stop}"]
    if check.kind.endswith("16"):
        lines.append(f'order = "{check.order}"')
    if check.is_hex and of == "frame":
        lines.append('written = "hex"')
    if check.poly:
        digits = 4 if check.kind == "crc16" else 2
        lines.append(f"polynomial = 0x{check.poly:0{digits}X}")
        if check.refin:
            lines += ["refin = true", "refout = true"]
    lines += [f"init = 0x{check.init:02X}"] if check.init else []
    lines += [f"xorout = 0x{check.xorout:02X}"] if check.xorout else []
    return lines


def weight_field(capture: Capture, one: Fit, *, with_plus: bool = False) -> str:
    """Write the field that holds the measured value.

    :param with_plus: whether a sign that is neither minus nor plus refuses the frame
    """
    lines = ["[[frame.field]]", f'holds = "{capture.quantity}"', *place_lines(one.number)]
    number = one.number
    zero = Fraction(one.zero).limit_denominator(1000) if one.scale is None else Fraction(one.zero)
    if one.zero_kind == "half":
        lines.append('signed = "offset-binary"')
        zero = Fraction(0)
    elif number.signed:
        lines.append(f'signed = "{number.signed}"')
    if number.sign is not None:
        lines.append(sign_text(number.sign, with_plus=with_plus))
    scale, unit, zero = meaning_of(capture, one, zero)
    lines.append(f"scale = {_decimal(scale)}")
    if zero:
        lines.append(f"zero = {_decimal(zero)}")
    if number.decimals_at >= 0:
        lines.append(f"decimals = {{ offset = {number.decimals_at} }}")
    lines.append(f'unit = "{unit}"')
    if number.encoding in ("float", "ascii") or number.decimals_at >= 0 or one.scale is None:
        step = one.step if one.step > 0 else 0.0
        if step > 0:
            lines.append(f"step = {step:.4g}")
    return "\n".join(lines)


def place_lines(number: Number) -> list[str]:
    """Write where a number stands and how its digits are read."""
    lines = [f"offset = {number.offset}"]
    if number.width > 1:
        lines.append(f"width = {number.width}")
        if number.encoding not in ("ascii", "hex"):
            lines.append(f'order = "{number.order}"')
    if number.mask:
        lines.append(f"mask = 0x{number.mask:X}")
    if number.encoding != "integer":
        lines.append(f'encoding = "{number.encoding}"')
    if number.swapped:
        lines.append('nibbles = "low-first"')
    return lines


def meaning_of(capture: Capture, one: Fit, zero: Fraction) -> tuple[Fraction, str, Fraction]:
    """Give scale, unit and zero as descriptions want them: (number - zero) * scale, in the unit."""
    unit = UNIT_OF[capture.quantity]
    if one.scale is None:
        return shown(1.0 / one.slope, abs(one.slope_error / one.slope**2)), unit, zero
    # The reader adds the unit's own nought (32 °F) itself.
    return (
        one.scale.scale,
        one.scale.unit,
        zero - Fraction(repr(one.scale.offset)) if one.scale.offset else zero,
    )


def sign_text(sign: SignPlace, *, with_plus: bool = False) -> str:
    """Write a sign that stands apart.

    :param with_plus: whether to say what means plus as well, where it is known
    """
    parts = [f"offset = {sign.offset}"]
    if sign.mask != 0xFF:
        parts.append(f"mask = 0x{sign.mask:02X}")
    parts.append(f"negative = {_codes(sign.negative)}")
    if with_plus and sign.positive:
        parts.append(f"positive = {_codes(sign.positive)}")
    return f"sign = {{ {', '.join(parts)} }}"


def _codes(codes: Sequence[int]) -> str:
    texts = [f"0x{code:02X}" for code in codes]
    return texts[0] if len(texts) == 1 else f"[{', '.join(texts)}]"


def _decimal(value: Fraction) -> str:
    """Write a number so that TOML reads the same."""
    if value.denominator == 1:
        return str(value.numerator)
    return repr(float(value))


def bytes_text(data: bytes) -> str:
    """Write bytes as descriptions do."""
    return f"[{', '.join(f'0x{byte:02X}' for byte in data)}]"
