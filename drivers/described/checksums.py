"""The checksum of a frame or of a line, as a description says it."""

from __future__ import annotations

from drivers.decoders.byte_orders import BYTE_ORDERS
from drivers.described.description import LONGEST_FRAME, Checksum
from drivers.described.form import DescriptionForm

CHECKSUMS = ("sum8", "sum16", "xor8", "lrc", "crc8", "crc16")
ALTERNATIVES = ("sum8", "xor8", "lrc")
"""Those of one byte and no polynomial, which may stand for each other."""


def read_checksum(form: DescriptionForm) -> Checksum:
    """Read a ``[frame.checksum]``."""
    return _checksum(form, form.choice("written", ("bytes", "hex"), "bytes") == "hex")


def read_line_checksum(form: DescriptionForm) -> Checksum:
    """Read a ``[lines.checksum]``, which is always written in characters: a byte might end the line."""
    form.choice("written", ("hex",), "hex")
    return _checksum(form, True)


def _checksum(form: DescriptionForm, is_hex: bool) -> Checksum:
    kind, *or_kinds = form.choices("kind", CHECKSUMS, "sum8")
    if or_kinds and not {kind, *or_kinds} <= set(ALTERNATIVES):
        remedy = f"Write one, or several of {', '.join(ALTERNATIVES)}."
        form.remark("kind", "only sums of one byte may stand for each other", remedy)
    at = form.whole("at", -LONGEST_FRAME, LONGEST_FRAME, required=True) or 0
    widest = 0xFFFF if kind.endswith("16") else 0xFF
    is_crc = kind.startswith("crc")
    for key in ("polynomial", "refin", "refout"):
        if key in form and not is_crc:
            form.remark(key, f"{kind} has none", 'Take it out, or write kind = "crc16".')
    if kind.endswith("16") and "order" not in form:
        remedy = 'Write order = "big" (the high byte comes first) or order = "little".'
        form.remark("order", "two bytes have an order", remedy)
    width = (2 if kind.endswith("16") else 1) * (2 if is_hex else 1)
    start = form.whole("from", -LONGEST_FRAME, LONGEST_FRAME, width if at == 0 else 0) or 0
    return Checksum(
        kind=kind,
        at=at,
        start=start,
        stop=form.whole("to", -LONGEST_FRAME, LONGEST_FRAME, None if 0 <= at < start else at),
        order=form.choice("order", BYTE_ORDERS, "big"),
        is_hex=is_hex,
        poly=(form.whole("polynomial", 1, widest, required=True) or 1) if is_crc else 0,
        init=form.whole("init", 0, widest, 0) or 0,
        refin=form.flag("refin", False),
        refout=form.flag("refout", False),
        xorout=form.whole("xorout", 0, widest, 0) or 0,
        or_kinds=tuple(or_kinds),
    )
