"""A capture without what tells one device from its sisters: addresses, serial numbers.

Bytes keep their number and their place, so that what is learned from the file is what is learned from the
device; only a text or an address that is the same in every packet of its length is made unreadable.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from drivers.learn.captures.capture import Arrival, Capture

_ADDRESS = re.compile(r"(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}")
_SERIAL = re.compile(r"(?:s/?n|serial)?[\s:#=-]*\b(?=[A-Za-z0-9-]*\d{4})[A-Za-z0-9-]{6,}\b", re.IGNORECASE)
_SERIAL_BYTES = re.compile(
    rb"(?:[A-Za-z]{1,6}[-_#: ]?\d{5,}[A-Za-z0-9]*|\d{8,}|(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2})"
)
_WHOLE_PLACES = re.compile(rb"[+-]? *\d+\.\d+")


def anonymised(capture: Capture, address: str = "") -> Capture:
    """Give a capture without addresses and serial numbers.

    :param address: of the device, Bluetooth or other, to be looked for in the bytes as well
    """
    arrivals = _without_texts(capture.arrivals)
    for spelled in _spellings(address):
        arrivals = [replace(one, data=one.data.replace(spelled, b"\0" * len(spelled))) for one in arrivals]
    return replace(
        capture, arrivals=tuple(arrivals), notes=tuple(anonymous_text(note) for note in capture.notes)
    )


def anonymous_text(text: str) -> str:
    """Give words without addresses and serial numbers."""
    return _SERIAL.sub("(number removed)", _ADDRESS.sub("(address removed)", text))


def _spellings(address: str) -> list[bytes]:
    """Give the ways in which a Bluetooth address may stand among bytes."""
    match = _ADDRESS.search(address)
    if match is None:
        return []
    digits = match[0].replace(":", "").replace("-", "")
    raw = bytes.fromhex(digits)
    texts = [match[0], digits]
    written = [text.encode() for one in texts for text in (one.upper(), one.lower())]
    return [raw, raw[::-1], *written]


def _without_texts(arrivals: Sequence[Arrival]) -> list[Arrival]:
    """Blot out serial numbers: texts that are the same whenever a stream holds any such text."""
    seen: dict[int, dict[bytes, int]] = defaultdict(lambda: defaultdict(int))
    count: dict[int, int] = defaultdict(int)
    for one in arrivals:
        count[one.stream] += 1
        for match in _SERIAL_BYTES.finditer(one.data):
            seen[one.stream][match[0]] += 1
    blotted = {
        stream: [text for text, times in texts.items() if _is_constant(text, times, texts)]
        for stream, texts in seen.items()
    }
    return [replace(one, data=_blot(one.data, blotted.get(one.stream, []))) for one in arrivals]


def _is_constant(text: bytes, times: int, texts: dict[bytes, int]) -> bool:
    """Say whether a text is one of very few of its kind: a weight changes, a serial number does not."""
    alike = [
        other for other in texts if len(other) == len(text) and other[:1].isalpha() == text[:1].isalpha()
    ]
    return len(alike) <= 2 and not _WHOLE_PLACES.search(text)


def _blot(data: bytes, texts: Sequence[bytes]) -> bytes:
    for text in texts:
        data = data.replace(text, b"x" * len(text))
    return data
