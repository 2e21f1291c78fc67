"""What a made-up instrument hands over, however it was made up: bytes with their times, and the loads."""

from __future__ import annotations

from dataclasses import dataclass

OUNCE_G = 28.349523125


@dataclass
class Sent:
    """Something that an instrument has sent.

    :param shown_g: what its display showed, where these bytes hold the weight
    """

    time_s: float
    stream: int
    data: bytes
    shown_g: float | None = None
    damaged: bool = False


@dataclass
class Session:
    """What came while loads were put on one after another."""

    sent: list[Sent]
    loads: list[tuple[float, float, float]]
